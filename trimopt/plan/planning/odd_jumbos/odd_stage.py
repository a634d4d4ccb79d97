"""The odd jumbos of a run on the winder: wound one after another, ahead of all others."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from trimopt.budget import Budget
from trimopt.cutting import Cut, Pattern
from trimopt.making import PreparedRun, piece_of
from trimopt.mill.model import Mill
from trimopt.plan.planning.odd_jumbos.odd_sets import OddSet, OddStretch
from trimopt.plan.planning.schedule.run_lots import lots_of
from trimopt.winding import (
    Butt,
    JumboSegment,
    LaidBlock,
    LaidSet,
    Lot,
    arrange,
)

__all__ = ["OddStage", "odd_stage"]

_KNIFE_WORK = 1_000
_SHARE = 0.1  # of the time that is left, for the layouts of a width


@dataclass(frozen=True, slots=True, kw_only=True)
class OddStage:
    """Sets on the odd jumbos, laid out. A block's lot is the place of its cut."""

    cuts: tuple[Cut, ...]  # one a block, in classes of their own width
    lots: tuple[Lot, ...]
    blocks: tuple[LaidBlock, ...]
    sets: tuple[LaidSet, ...]
    butts: tuple[Butt, ...]
    made: dict[str, tuple[int, int]]  # yield and area of each order, at the sets' own lengths

    @property
    def beam_mm(self) -> tuple[Fraction | None, ...]:
        """Where the knives stand after it."""
        return self.blocks[-1].beam_mm

    def butts_before(self, *, others: bool) -> tuple[Butt, ...]:
        """What is left of each jumbo; of the last it is carried forward where no set follows."""
        last = len(self.butts) - 1
        return tuple(
            replace(butt, carried_forward=place == last and butt.left_m > 0 and not others)
            for place, butt in enumerate(self.butts)
        )


def odd_stage(
    making: PreparedRun,
    mill: Mill,
    stretches: Sequence[OddStretch],
    sets: Sequence[OddSet],
    *,
    budget: Budget,
    seed: int,
) -> OddStage:
    """Lay sets on odd jumbos out, jumbo by jumbo.

    Parameters
    ----------
    sets
        One at the least.
    """
    rows: list[_Row] = []
    knives_at: tuple[Fraction | None, ...] = mill.winder.knives_at_mm
    used = sorted({each.stretch for each in sets})
    for width_mm, alike in groupby(used, key=lambda s: stretches[s].jumbo.width_mm):
        own = [each for s in alike for each in sets if each.stretch == s]
        wide = mill.with_jumbos_of(width_mm)
        laid = _laid_out(making, wide, own, knives_at, budget=budget.share(_SHARE), seed=seed)
        rows += laid
        knives_at = laid[-1][0].beam_mm
    return _stage(making, mill, stretches, list(_together(rows)))


_Row = tuple[LaidBlock, Lot, list[OddSet]]


def _laid_out(
    making: PreparedRun,
    mill: Mill,
    sets: Sequence[OddSet],
    knives_at: tuple[Fraction | None, ...],
    *,
    budget: Budget,
    seed: int,
) -> list[_Row]:
    """Blocks of the stretches of one width, stretch after stretch."""
    of: dict[tuple[int, Pattern], list[OddSet]] = defaultdict(list)
    for each in sets:
        of[each.stretch, each.pattern].append(each)
    lots = tuple(
        replace(lot, precedence=stretch)
        for lot, (stretch, _) in zip(
            lots_of(making, [Cut(pattern, len(own)) for (_, pattern), own in of.items()]),
            of,
            strict=True,
        )
    )
    arrangement = arrange(
        lots,
        mill.winder,
        mill.jumbo.width_mm,
        budget=budget.share(1, _KNIFE_WORK),
        seed=seed,
        knives_at_mm=knives_at,
    )
    own = list(of.values())
    return [(block, lots[block.lot], own[block.lot]) for block in arrangement.blocks]


def _together(rows: Sequence[_Row]) -> Iterator[_Row]:
    """Neighbours of one pattern and layout as one block."""
    held: _Row | None = None
    for block, lot, sets in rows:
        if held is not None and (
            held[2][0].pattern == sets[0].pattern and held[0].layout == block.layout
        ):
            held = held[0], held[1], [*held[2], *sets]
            continue
        if held is not None:
            yield held
        held = block, lot, list(sets)
    if held is not None:
        yield held


def _stage(
    making: PreparedRun, mill: Mill, stretches: Sequence[OddStretch], rows: Sequence[_Row]
) -> OddStage:
    reached = {s: stretch.from_m for s, stretch in enumerate(stretches)}
    wound: Counter[str] = Counter()
    laid: list[LaidSet] = []
    for at, (_, _, sets) in enumerate(rows):
        for each in sets:
            jumbo, start = stretches[each.stretch].jumbo, reached[each.stretch]
            reached[each.stretch] = start + each.length_m
            wound[jumbo.name] += each.length_m
            part = JumboSegment(jumbo=jumbo.name, from_m=start, to_m=start + each.length_m)
            laid.append(LaidSet(block=at, length_m=each.length_m, segments=(part,)))
    jumbos = {stretch.jumbo.name: stretch.jumbo for stretch in stretches}
    return OddStage(
        cuts=tuple(Cut(sets[0].pattern, len(sets)) for _, _, sets in rows),
        lots=tuple(
            replace(lot, number=at, sets=len(sets)) for at, (_, lot, sets) in enumerate(rows)
        ),
        blocks=tuple(
            replace(block, lot=at, sets=len(sets)) for at, (block, _, sets) in enumerate(rows)
        ),
        sets=tuple(laid),
        butts=tuple(
            Butt(
                jumbo=jumbos[name],
                wound_m=metres,
                left_m=jumbos[name].usable_m - metres,
                carried_forward=False,
            )
            for name, metres in wound.items()
        ),
        made=_made(making, mill, [each for _, _, sets in rows for each in sets]),
    )


def _made(making: PreparedRun, mill: Mill, sets: Sequence[OddSet]) -> dict[str, tuple[int, int]]:
    sheeters = {sheeter.name: sheeter for sheeter in mill.sheeters}
    made: dict[str, tuple[int, int]] = {}
    for each in sets:
        for k, count in each.pattern.pieces:
            option = making.options[k]
            piece = piece_of(
                option.order,
                width_mm=option.width_mm,
                ups=option.ups,
                sheeter=sheeters.get(option.sheeter),
                length_m=each.length_m,
                unit_mm=making.unit_mm,
            )
            gain, area = made.get(option.order.number, (0, 0))
            made[option.order.number] = gain + piece.gain * count, area + piece.area * count
    return made
