"""Sets on a stretch with bands of defects: in which order they lie along it, and how across.

Of the sets that were chosen for the stretch, a dynamic program over how many of each pattern lie
before finds the order of least cost; what a set costs at its place is that of its best layout
round the bands that it meets there (`trimopt.winding.knives.band_layout`). Both are exact for
these sets and lengths. A reel with a band in it is lost, unless its order takes seconds.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

from trimopt.cutting import Cut, Pattern
from trimopt.making import PreparedRun
from trimopt.mill.model import Mill
from trimopt.plan.planning.odd_jumbos.odd_sets import OddSet, lost_to_bands
from trimopt.plan.planning.odd_jumbos.odd_stretch import OddStretch
from trimopt.plan.planning.schedule.run_lots import lots_of
from trimopt.winding import Layout, Lot
from trimopt.winding.knives.band_layout import RoundBands, layout_round_bands

_MAX_ORDERS = 20_000  # states of the order along the jumbo; with more the sets stay as they come


@dataclass(frozen=True, slots=True, kw_only=True)
class BandedSet:
    """A set at its place along the stretch, with its layout and the positions that a band hits."""

    each: OddSet
    lot: Lot
    layout: Layout
    spoiled: tuple[int, ...]
    seconds: tuple[int, ...]


def round_bands(
    making: PreparedRun, mill: Mill, stretch: OddStretch, sets: Sequence[OddSet]
) -> list[BandedSet]:
    """The sets of a stretch in the order of least cost.

    Parameters
    ----------
    mill
        With jumbos of the stretch's width.
    """
    waiting: dict[Pattern, list[OddSet]] = defaultdict(list)
    for each in sets:
        waiting[each.pattern].append(each)
    patterns = list(waiting)
    lots = dict(
        zip(patterns, lots_of(making, [Cut(p, len(waiting[p])) for p in patterns]), strict=True)
    )
    costs = lost_to_bands(making)

    @cache
    def laid(pattern: Pattern, hit: tuple[int, ...]) -> RoundBands:
        bands = [(stretch.bands[b].from_mm, stretch.bands[b].to_mm) for b in hit]
        return layout_round_bands(lots[pattern], mill.winder, mill.jumbo.width_mm, bands, costs)

    def at(each: OddSet, from_m: int) -> RoundBands:
        to_m = from_m + each.length_m
        hit = (
            b for b, band in enumerate(stretch.bands) if band.from_m < to_m and from_m < band.to_m
        )
        return laid(each.pattern, tuple(hit))

    placed, from_m = [], stretch.from_m
    for each in _in_order(stretch, patterns, waiting, at):
        found = at(each, from_m)
        takes = {
            number
            for number in found.hit
            if making.options[int(found.layout.strips[number - 1].key)].order.takes_seconds
        }
        placed.append(
            BandedSet(
                each=each,
                lot=replace(lots[each.pattern], sets=1),
                layout=found.layout,
                spoiled=tuple(n for n in found.hit if n not in takes),
                seconds=tuple(sorted(takes)),
            )
        )
        from_m += each.length_m
    return placed


def _in_order(
    stretch: OddStretch,
    patterns: Sequence[Pattern],
    waiting: Mapping[Pattern, Sequence[OddSet]],
    at: Callable[[OddSet, int], RoundBands],
) -> list[OddSet]:
    """The sets in the order of least cost; a change of pattern decides between orders alike."""
    counts = [len(waiting[pattern]) for pattern in patterns]
    states = 1
    for count in counts:
        states *= count + 1
    if states > _MAX_ORDERS:
        return [each for pattern in patterns for each in waiting[pattern]]
    start = (0,) * len(patterns)
    best: dict[tuple[int, ...], tuple[int, int, list[OddSet]]] = {start: (0, 0, [])}
    for state in sorted(product(*(range(count + 1) for count in counts)), key=sum):
        cost, changes, order = best[state]
        from_m = stretch.from_m + sum(each.length_m for each in order)
        for k, pattern in enumerate(patterns):
            if state[k] == counts[k]:
                continue
            each = waiting[pattern][state[k]]
            after = (*state[:k], state[k] + 1, *state[k + 1 :])
            changed = changes + bool(order and order[-1].pattern != pattern)
            total = cost + at(each, from_m).cost * each.length_m, changed
            if after not in best or total < best[after][:2]:
                best[after] = (*total, [*order, each])
    return best[tuple(counts)][2]
