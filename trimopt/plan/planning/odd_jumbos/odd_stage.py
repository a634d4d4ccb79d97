"""The odd jumbos of a run on the winder: wound one after another, ahead of all others."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from trimopt.book.model import Stretch
from trimopt.budget import Budget
from trimopt.cutting import Cut, Pattern
from trimopt.making import PreparedRun
from trimopt.mill.model import Mill
from trimopt.plan.planning.odd_jumbos.odd_sets import OddSet
from trimopt.plan.planning.odd_jumbos.odd_stretch import OddStretch, joined_stretch
from trimopt.plan.planning.odd_jumbos.round_bands import round_bands
from trimopt.plan.planning.order_tally import RunTally
from trimopt.plan.planning.schedule.run_lots import lots_of
from trimopt.winding import Butt, LaidBlock, LaidSet, Lot, arrange
from trimopt.winding.jumbos.laying import butts_of
from trimopt.winding.knives.idle_knives import beams_from
from trimopt.winding.knives.knife_moves import park_options, starting_beams, stated_knives

_KNIFE_WORK = 1_000
_SHARE = 0.1  # of the time that is left, for the layouts of a width


@dataclass(frozen=True, slots=True, kw_only=True)
class OddStage:
    """Sets on the odd jumbos, laid out. A block's lot is the place of its cut."""

    cuts: tuple[Cut, ...]  # one a block, in classes of their own width, lost reels left out
    wound: tuple[Cut, ...]  # the same with them
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
        return tuple(
            replace(butt, carried_forward=butt.carried_forward and not others)
            for butt in self.butts
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
    rows: list[_OddRow] = []
    knives_at: tuple[Fraction | None, ...] = stated_knives(mill.winder, mill.jumbo.width_mm)
    places: dict[int, list[OddSet]] = defaultdict(list)
    for each in sets:
        places[each.place].append(each)
    paper = {place: _paper_of(own, sets, stretches) for place, own in places.items()}
    for (width_mm, banded), alike in groupby(
        sorted(places), key=lambda at: (paper[at].jumbo.width_mm, at if paper[at].bands else -1)
    ):
        own = [each for place in alike for each in places[place]]
        wide = mill.with_jumbos_of(width_mm)
        if banded < 0:
            laid = _laid_out(making, wide, own, knives_at, budget=budget.share(_SHARE), seed=seed)
        else:
            laid = _round_bands(making, wide, paper[banded], own, knives_at)
        rows += laid
        knives_at = laid[-1].block.beam_mm
    return _stage(making, mill, stretches, list(_together(rows)))


def _paper_of(
    own: Sequence[OddSet], sets: Sequence[OddSet], stretches: Sequence[OddStretch]
) -> OddStretch:
    """What sets at a place lie on: a stretch less what joined sets take of it, or a joined one's.

    Of a joined set bands are as long as it is: where it lies is known.
    """
    (first, first_m), (last, last_m) = own[0].on[0], own[0].on[-1]
    whole = stretches[first]
    if first != last:
        met = joined_stretch(stretches[first : last + 1], first_m, last_m)
        to_m = met.from_m + own[0].length_m
        bands = tuple(replace(band, from_m=met.from_m, to_m=to_m) for band in met.bands)
        return replace(met, to_m=to_m, bands=bands)
    joined = [each.on for each in sets if len(each.on) > 1]
    from_m = whole.from_m + sum(m for on in joined for s, m in on[1:] if s == first)
    to_m = whole.to_m - sum(on[0][1] for on in joined if on[0][0] == first)
    bands = tuple(band for band in whole.bands if band.from_m < to_m and from_m < band.to_m)
    return replace(whole, from_m=from_m, to_m=to_m, bands=bands)


@dataclass(frozen=True, slots=True, kw_only=True)
class _OddRow:
    """Sets in running order, alike in all but their metres."""

    block: LaidBlock
    lot: Lot
    sets: tuple[OddSet, ...]
    spoiled: tuple[int, ...] = ()
    seconds: tuple[int, ...] = ()

    @property
    def alike(self) -> tuple[object, ...]:
        """Equal for rows that are one block."""
        return self.sets[0].pattern, self.block.layout, self.spoiled, self.seconds

    @property
    def cut(self) -> Cut:
        """What is delivered of it, as the engine counts."""
        counts: Counter[int] = Counter()
        for number, strip in enumerate(self.block.layout.strips, start=1):
            if not strip.broke and number not in self.spoiled:
                counts[int(strip.key)] += 1
        winding_class = self.sets[0].pattern.winding_class
        return Cut(Pattern(winding_class, tuple(sorted(counts.items()))), len(self.sets))


def _laid_out(
    making: PreparedRun,
    mill: Mill,
    sets: Sequence[OddSet],
    knives_at: tuple[Fraction | None, ...],
    *,
    budget: Budget,
    seed: int,
) -> list[_OddRow]:
    """Blocks of the stretches of one width, stretch after stretch, joined sets in between."""
    of: dict[tuple[int, Pattern], list[OddSet]] = defaultdict(list)
    for each in sets:
        of[each.place, each.pattern].append(each)
    lots = tuple(
        replace(lot, precedence=place)
        for lot, (place, _) in zip(
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
    return [
        _OddRow(block=block, lot=lots[block.lot], sets=tuple(own[block.lot]))
        for block in arrangement.blocks
    ]


def _round_bands(
    making: PreparedRun,
    mill: Mill,
    stretch: OddStretch,
    sets: Sequence[OddSet],
    knives_at: tuple[Fraction | None, ...],
) -> list[_OddRow]:
    """Blocks of a stretch with bands of defects, laid out round them."""
    placed = round_bands(making, mill, stretch, sets)
    winder = mill.winder
    rows = [each.layout.knives_mm for each in placed]
    ends = [(*row, *[None] * (winder.knives - len(row))) for row in rows]
    starts = tuple(park_options(rows[0], winder.knives))
    if knives_at:
        starts = starting_beams(knives_at, winder)
    steps = beams_from(starts, rows, ends, winder)
    return [
        _OddRow(
            block=LaidBlock(
                lot=0,
                layout=each.layout,
                set_up=not knives_at or step.moves > 0,
                moves=step.moves,
                moved=step.moved,
                beam_mm=step.beam_mm,
            ),
            lot=each.lot,
            sets=(each.each,),
            spoiled=each.spoiled,
            seconds=each.seconds,
        )
        for each, step in zip(placed, steps, strict=True)
    ]


def _together(rows: Sequence[_OddRow]) -> Iterator[_OddRow]:
    """Neighbours that are alike as one block."""
    for _, alike in groupby(rows, key=lambda row: row.alike):
        first, *others = alike
        yield replace(first, sets=(*first.sets, *(e for row in others for e in row.sets)))


def _stage(
    making: PreparedRun, mill: Mill, stretches: Sequence[OddStretch], rows: Sequence[_OddRow]
) -> OddStage:
    reached = {s: stretch.from_m for s, stretch in enumerate(stretches)}
    wound: Counter[str] = Counter()
    laid: list[LaidSet] = []
    for at, row in enumerate(rows):
        for each in row.sets:
            parts = []
            for stretch, metres in each.on:
                jumbo, start = stretches[stretch].jumbo, reached[stretch]
                reached[stretch] = start + metres
                wound[jumbo.name] += metres
                parts.append(Stretch(jumbo=jumbo.name, from_m=start, to_m=start + metres))
            laid.append(
                LaidSet(
                    block=at,
                    length_m=each.length_m,
                    stretches=tuple(parts),
                    spoiled=row.spoiled,
                    seconds=row.seconds,
                )
            )
    jumbos = {stretch.jumbo.name: stretch.jumbo for stretch in stretches}
    return OddStage(
        cuts=tuple(row.cut for row in rows),
        wound=tuple(Cut(row.sets[0].pattern, len(row.sets)) for row in rows),
        lots=tuple(replace(row.lot, number=at, sets=len(row.sets)) for at, row in enumerate(rows)),
        blocks=tuple(replace(row.block, lot=at) for at, row in enumerate(rows)),
        sets=tuple(laid),
        butts=butts_of([(jumbos[name], metres) for name, metres in wound.items()]),
        made=_made(making, mill, rows),
    )


def _made(making: PreparedRun, mill: Mill, rows: Sequence[_OddRow]) -> dict[str, tuple[int, int]]:
    tally = RunTally(making, mill)
    for pieces, each in ((row.cut.pattern.pieces, each) for row in rows for each in row.sets):
        for k, count in pieces:
            option = making.options[k]
            for _ in range(count):
                tally.add(option, option.order.number, each.length_m)
    return {order: (made.gain, made.area) for order, made in tally.of.items() if made.reels}
