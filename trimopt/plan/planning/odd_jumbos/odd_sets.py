"""Which sets lie on the jumbos that are unlike the others, and how long these are.

The sets of the whole run are chosen together, in one integer program over two pools of patterns
(`trimopt.cutting.search.stretch_program`): for the odd jumbos those that a plan of the whole run on
jumbos of their width would have, and for the others those of a plan on nominal ones. Of a small
run the pools hold all patterns. Only the sets on odd jumbos are kept of the answer: the rest of the
run is then planned for itself, by the whole engine.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from trimopt.book.model import Product, Unit
from trimopt.budget import Budget
from trimopt.cutting import Cut, Instance, Outcome, Pattern, pattern_faults
from trimopt.cutting.search.pool_column import PoolColumn
from trimopt.cutting.search.stretch_sets import JoinColumn, PaperStretch, StretchColumn
from trimopt.making import PreparedRun
from trimopt.making.odd_classes import part_of, with_odd_classes
from trimopt.making.reel_patterns import ReelPatterns
from trimopt.mill.model import Mill
from trimopt.plan.planning.odd_jumbos.odd_stretch import OddStretch, joined_stretch
from trimopt.plan.planning.schedule.run_lots import lengths_of, lots_of
from trimopt.winding.knives.band_layout import layout_round_bands

MAX_LOSS = Fraction(1, 5)
"""Of an odd jumbo's paper: where more would be lost it is not used."""

_MAX_BANDED = 120  # patterns that are laid out round the bands of a stretch
_FEW = 1_500  # patterns that are all listed
_POOL_SHARE = 0.6  # of the time left, for the patterns of a width
_NODES = 500  # of the tree of the integer program
_FEW_COLUMNS = 60  # of it, where a plan of the run is known
_GAP = 0.002  # between loss and bound: patterns of such a plan are good enough for a pool


@dataclass(frozen=True, slots=True, kw_only=True)
class OddSet:
    """A set on an odd jumbo, its metres by stretch; with more than one it is joined between them.

    Its pattern is of a class of that jumbo's width.
    """

    pattern: Pattern
    on: tuple[tuple[int, int], ...]

    @property
    def length_m(self) -> int:
        return sum(metres for _, metres in self.on)

    @property
    def place(self) -> int:
        """Sorts sets along a jumbo: even on one stretch, odd between that and the next."""
        return 2 * self.on[0][0] + (len(self.on) > 1)


def choose_odd_sets(
    making: PreparedRun,
    mill: Mill,
    stretches: Sequence[OddStretch],
    *,
    others_m: int | None,
    search: Callable[..., Outcome],
    budget: Budget,
    join_cost: int,
    issued: Sequence[Pattern] = (),
) -> tuple[OddSet, ...]:
    """Choose the sets on odd jumbos; none where those would lose too much.

    Parameters
    ----------
    making
        The run, with classes of the stretches' widths behind its own (`with_odd_classes`).
    others_m
        Metres of other jumbos than the odd ones; None: as many as are needed.
    search
        `solve`, with its seed and numbers.
    join_cost
        What a join over a defect is taken to cost, area units.
    issued
        Patterns of a plan of the run, in its own classes: where there are more than can be listed,
        they are in the pool.
    """
    # Slow to import, and few runs have odd jumbos.
    from trimopt.cutting.search.stretch_program import sets_on_stretches  # noqa: PLC0415

    own = [c for c, winding in enumerate(making.classes) if winding.jumbo_width_mm is None]
    pool = partial(_pool, search=search, budget=budget, known={})
    others = pool(making, own, issued=issued) if others_m != 0 else []
    found, joins = _columns(making, mill, stretches, others, pool=pool)
    joins = [
        (pattern, replace(each, each_set=replace(each.each_set, cost=join_cost * each.joins)))
        for pattern, each in joins
    ]
    chosen = sets_on_stretches(
        making.instance,
        [_paper(making, each) for each in stretches],
        [column for _, column in found],
        others,
        others_m=others_m,
        length_m=[each.length_m for each in making.classes],
        budget=budget,
        nodes=_NODES,
        joins=[column for _, column in joins],
        max_columns=_FEW_COLUMNS if issued else None,
    )
    if chosen is None:
        return ()
    placed: list[tuple[Pattern, tuple[tuple[int, int], ...]]] = []
    for (pattern, column), many, metres in zip(found, chosen.sets, chosen.metres, strict=True):
        for number in range(many):
            length_m = metres // many + (number < metres % many)
            placed.append((pattern, ((column.stretch, length_m),)))
    placed += [(joins[number][0], on) for number, on in chosen.joined]
    return tuple(
        OddSet(pattern=_nearest_class(making, pattern, sum(metres for _, metres in on)), on=on)
        for pattern, on in placed
    )


def _paper(making: PreparedRun, stretch: OddStretch) -> PaperStretch:
    """A stretch as the program sees it."""
    wide = int(stretch.jumbo.width_mm / making.unit_mm)
    return PaperStretch(
        jumbo=stretch.jumbo.name,
        length_m=stretch.length_m,
        cost_per_m=wide,
        reward=int(MAX_LOSS * wide * stretch.length_m),
        clear_m={bands: stretch.clear_m(bands) for bands in stretch.avoidable if bands},
        begun=stretch.jumbo.started,
    )


def _pool(
    making: PreparedRun,
    classes: Sequence[int],
    *,
    search: Callable[..., Outcome],
    budget: Budget,
    known: dict[Instance, list[Pattern]],
    issued: Sequence[Pattern] = (),
) -> list[Pattern]:
    """Patterns that a good plan in these classes has, in the terms of the whole.

    Those of a jumbo with defects and of the others are the same where it is as wide: `known`.
    """
    from trimopt.cutting.search.pattern_enumeration import all_patterns  # noqa: PLC0415

    part, places = part_of(making.instance, classes)
    patterns = known.get(part) or all_patterns(part, max_looked=10 * _FEW, max_found=_FEW)
    if patterns is None:
        given = tuple(Cut(_in_part(each, classes, places), 1) for each in issued)
        outcome = search(part, budget=budget.share(_POOL_SHARE), gap=_GAP, start=given)
        patterns = list(dict.fromkeys(cut.pattern for cut in (*given, *outcome.cuts)))
    known[part] = patterns
    number = sorted(classes)
    return [
        Pattern(number[each.winding_class], tuple((places[k], n) for k, n in each.pieces))
        for each in patterns
    ]


def _in_part(pattern: Pattern, classes: Sequence[int], places: Sequence[int]) -> Pattern:
    """The pattern in the terms of a part of these classes, with its options in these places."""
    there = {k: place for place, k in enumerate(places)}
    pieces = tuple(sorted((there[k], count) for k, count in pattern.pieces))
    return Pattern(sorted(classes).index(pattern.winding_class), pieces)


def _columns(
    making: PreparedRun,
    mill: Mill,
    stretches: Sequence[OddStretch],
    others: Sequence[Pattern],
    *,
    pool: Callable[..., list[Pattern]],
) -> tuple[list[tuple[Pattern, StretchColumn]], list[tuple[Pattern, JoinColumn]]]:
    """What each stretch can hold, and what can be joined between some."""
    from trimopt.cutting.search.stretch_program import best_first  # noqa: PLC0415

    odd = ReelPatterns(making)
    columns: list[tuple[Pattern, StretchColumn]] = []
    joins: list[tuple[Pattern, JoinColumn]] = []
    for width_mm in dict.fromkeys(each.jumbo.width_mm for each in stretches):
        theirs = [c for c, each in enumerate(making.classes) if each.jumbo_width_mm == width_mm]
        patterns = [on for each in others if (on := odd.on(each, width_mm)) is not None]
        patterns = [each for each in patterns if not pattern_faults(making.instance, each)]
        patterns += pool(making, theirs)
        wide = mill.with_jumbos_of(width_mm)
        for s, stretch in enumerate(stretches):
            if stretch.jumbo.width_mm != width_mm:
                continue
            here = list(_once(making, wide, patterns))
            if stretch.bands:
                beside = _once(making, wide, _beside_edges(making, mill, stretch, pool))
                best = [best_first(making.instance, each) for each in (list(beside), here)]
                few = best[0][: _MAX_BANDED // 2]
                here = list(_once(making, wide, [*few, *best[1]]))[:_MAX_BANDED]
            for pattern in here:
                span = _span(making, wide, pattern)
                if span[0] > stretch.length_m:
                    continue
                for avoided, left in _by_avoided(making, wide, stretch, pattern):
                    column = _column(making, left, stretch=s, span=span, room_m=stretch.length_m)
                    columns.append((pattern, replace(column, avoids=avoided)))
            joins += _joins(making, wide, stretches, s, here)
    return columns, joins


def _joins(
    making: PreparedRun,
    mill: Mill,
    stretches: Sequence[OddStretch],
    first: int,
    patterns: Sequence[Pattern],
) -> Iterator[tuple[Pattern, JoinColumn]]:
    """Sets that begin on a stretch and are joined over what is cut out behind it."""
    least = mill.winder.min_join_part_m
    for pattern in patterns if mill.winder.joins_allowed else ():
        joins = min(making.options[k].order.joins_allowed for k, _ in pattern.pieces)
        min_m, max_m = _span(making, mill, pattern)
        for last in range(first + 1, min(first + joins, len(stretches) - 1) + 1):
            over = stretches[first : last + 1]
            inner_m = [each.length_m for each in over[1:-1]]
            room_m = sum(each.length_m for each in over)
            if over[-1].jumbo.name != over[0].jumbo.name or min([least, *inner_m]) < least:
                break
            if not (min_m <= room_m and sum(inner_m) + 2 * least <= max_m):
                continue
            met = joined_stretch(over, max_m - least, max_m - least)
            left = _without_lost(making, mill, met, pattern) if met.bands else pattern
            column = _column(making, left, stretch=first, span=(min_m, max_m), room_m=room_m)
            yield (
                pattern,
                JoinColumn(
                    first=first,
                    last=last,
                    min_m=min_m,
                    max_m=min(max_m, room_m),
                    min_part_m=least,
                    each_set=replace(column.each_set, max_count=1),
                    each_metre=column.each_metre,
                ),
            )


def lost_to_bands(making: PreparedRun) -> dict[str, int]:
    """What a band in a reel costs, by the key of its strip: next to nothing where seconds go."""
    return {
        str(k): 1 if option.order.takes_seconds else int(option.width_mm / making.unit_mm)
        for k, option in enumerate(making.options)
    }


def _without_lost(
    making: PreparedRun, mill: Mill, stretch: OddStretch, pattern: Pattern
) -> Pattern:
    """What a set gives that meets every band of a stretch, laid out as well as can be."""
    (lot,) = lots_of(making, [Cut(pattern, 1)])
    bands = [(band.from_mm, band.to_mm) for band in stretch.bands]
    found = layout_round_bands(lot, mill.winder, mill.jumbo.width_mm, bands, lost_to_bands(making))
    left = Counter(dict(pattern.pieces))
    for number in found.hit:
        k = int(found.layout.strips[number - 1].key)
        left[k] -= not making.options[k].order.takes_seconds
    pieces = tuple((k, count) for k, count in sorted(left.items()) if count)
    return Pattern(pattern.winding_class, pieces)


def _by_avoided(
    making: PreparedRun, mill: Mill, stretch: OddStretch, pattern: Pattern
) -> Iterator[tuple[frozenset[int], Pattern]]:
    """What a set gives that keeps clear of some bands, from those that meet all of them on."""
    least = _without_lost(making, mill, stretch, pattern) if stretch.bands else pattern
    yield frozenset(), least
    for avoided in stretch.avoidable if least != pattern else ():
        met = tuple(band for b, band in enumerate(stretch.bands) if b not in avoided)
        left = pattern
        if met:
            left = _without_lost(making, mill, replace(stretch, bands=met), pattern)
        if avoided and left != least:
            yield avoided, left


def _beside_edges(
    making: PreparedRun, mill: Mill, stretch: OddStretch, pool: Callable[..., list[Pattern]]
) -> list[Pattern]:
    """Patterns that leave bands along the edges to the edge strips: those of a narrower jumbo."""
    wide, least = stretch.jumbo.width_mm, mill.winder.min_edge_trim_mm
    bad = [band.to_mm for band in stretch.bands if band.from_mm <= 0]
    bad += [wide - band.from_mm for band in stretch.bands if band.to_mm >= wide]
    less = sum((max(Fraction(0), each - least) for each in bad), Fraction(0))
    narrow = (wide - less) // making.unit_mm * making.unit_mm
    if not less or narrow <= 2 * least:
        return []
    own = [c for c, winding in enumerate(making.classes) if winding.jumbo_width_mm is None]
    instance, places = part_of(making.instance, own)
    plain = replace(
        making,
        classes=tuple(making.classes[c] for c in own),
        options=tuple(making.options[k] for k in places),
        instance=instance,
    )
    there = with_odd_classes(plain, mill, [narrow])
    classes = [c for c, winding in enumerate(there.classes) if winding.jumbo_width_mm is not None]
    odd = ReelPatterns(making)
    found = (odd.on(each, wide, there) for each in pool(there, classes))
    return [each for each in found if each and not pattern_faults(making.instance, each)]


def _sheeted(making: PreparedRun, pattern: Pattern) -> bool:
    return any(making.options[k].sheeter for k, _ in pattern.pieces)


def _span(making: PreparedRun, mill: Mill, pattern: Pattern) -> tuple[int, int]:
    """Lengths that a set may have; where chops are counted, none for which fewer are left."""
    length_m = making.classes[pattern.winding_class].length_m
    if mill.winder.length_change_is_set_up:
        return length_m, length_m
    min_m, max_m = lengths_of(making, mill, pattern)
    return (length_m if _sheeted(making, pattern) else min_m), max_m


def _once(making: PreparedRun, mill: Mill, patterns: Iterable[Pattern]) -> Iterator[Pattern]:
    """Patterns of different reels; of sheeter reels in each class: chops are counted there."""
    seen = set()
    for pattern in patterns:
        winding = making.classes[pattern.winding_class]
        own = _sheeted(making, pattern) or mill.winder.length_change_is_set_up
        reels = tuple(
            sorted(
                (making.options[k].order.number, str(making.options[k].width_mm), count)
                for k, count in pattern.pieces
            )
        )
        key = winding.core_mm, winding.length_m if own else 0, reels
        if key not in seen:
            seen.add(key)
            yield pattern


def _column(
    making: PreparedRun, pattern: Pattern, *, stretch: int, span: tuple[int, int], room_m: int
) -> StretchColumn:
    """A pattern as the program sees it; of reels that are lost it gives nothing."""
    a_set: dict[int, tuple[int, int]] = {}
    a_metre: dict[int, tuple[int, int]] = {}
    for k, count in pattern.pieces:
        option, own = making.options[k], making.instance.options[k]
        wide = int(option.width_mm / making.unit_mm) * count
        if option.order.product is Product.SHEET:
            _give(a_set, own.demand, own.gain * count, own.worth * count)
        elif option.order.unit is Unit.REELS:
            _give(a_set, own.demand, count, 0)
            _give(a_metre, own.demand, 0, wide)
        else:
            gain = count if option.order.unit is Unit.METRES else wide
            _give(a_metre, own.demand, gain, wide)
    return StretchColumn(
        stretch=stretch,
        min_m=span[0],
        max_m=span[1],
        each_set=PoolColumn(cost=0, yields=a_set, max_count=room_m // span[0]),
        each_metre=PoolColumn(cost=0, yields=a_metre, max_count=room_m),
    )


def _give(yields: dict[int, tuple[int, int]], demand: int, gain: int, worth: int) -> None:
    had = yields.get(demand, (0, 0))
    yields[demand] = had[0] + gain, had[1] + worth


def _nearest_class(making: PreparedRun, pattern: Pattern, length_m: int) -> Pattern:
    """The pattern in the class of that core and width whose length is nearest, if it may be there.

    Chops are counted in a class, so sheeter reels stay in theirs.
    """
    if _sheeted(making, pattern):
        return pattern
    own = making.classes[pattern.winding_class]
    moved = ReelPatterns(making)
    alike = [
        c
        for c, each in enumerate(making.classes)
        if (each.core_mm, each.jumbo_width_mm) == (own.core_mm, own.jumbo_width_mm)
    ]
    for c in sorted(alike, key=lambda c: abs(making.classes[c].length_m - length_m)):
        there = moved.in_class(pattern, c)
        if there is not None and not pattern_faults(making.instance, there):
            return there
    return pattern
