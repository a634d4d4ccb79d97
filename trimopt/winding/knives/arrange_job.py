"""What `arrange` works on, in whole numbers, and how its answer is written in millimetres."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import ceil

from trimopt.mill.model import Winder
from trimopt.paper import common_step
from trimopt.winding.knives.integer_lot import LotShape, shape_of
from trimopt.winding.knives.knife_moves import Beam, moves, park_beams, starting_beams, to_mm
from trimopt.winding.knives.layout_dp import Laid, positions
from trimopt.winding.knives.order_search import Tour
from trimopt.winding.model import Arrangement, LaidBlock, Layout, Lot, Strip, set_up_where_needed


@dataclass(frozen=True)
class Job:
    """Lots on a winder, in units. Equal shapes are one object.

    `starts` are the ways in which the knives may stand before the first block: several where some
    are at an end and nobody says at which; none where nobody knows.
    """

    lots: tuple[Lot, ...]
    winder: Winder
    web_mm: Fraction
    unit_mm: Fraction
    shapes: tuple[LotShape, ...]
    strips: tuple[tuple[Strip, ...], ...]
    starts: tuple[Beam, ...]

    @property
    def parked(self) -> bool:
        """Whether idle knives are parked; else they are lifted."""
        return self.winder.idle_knives == "parked"

    @property
    def spacing(self) -> int:
        """Least knife spacing, units, rounded up: positions are whole units."""
        return ceil(self.winder.min_knife_spacing_mm / self.unit_mm)

    def row(self, lot: int, laid: Laid) -> tuple[int, ...]:
        """Positions at which a lot cuts, units."""
        return positions(self.shapes[lot], laid.offset, laid.kinds)

    def beams(self, tour: Tour) -> tuple[Beam, ...]:
        """How parked knives stand at each block of a tour, after how they stood before it."""
        rows = [self.row(lot, tour.laid[lot]) for lot in tour.order]
        beams = park_beams(rows, self.winder.knives, self.starts)
        opening = min(self.starts, key=lambda start: moves(start, beams[0]), default=beams[0])
        return (opening, *beams)

    def layout(self, lot: int, laid: Laid) -> Layout:
        """The layout in mm; reels of one width go to their places in the order of their keys."""
        waiting: dict[tuple[int, bool, bool], list[Strip]] = defaultdict(list)
        for strip in sorted(self.strips[lot], key=lambda strip: strip.key, reverse=True):
            kind = int(strip.width_mm / self.unit_mm), strip.no_edge, strip.broke
            waiting[kind].append(strip)
        kinds = self.shapes[lot].kinds
        knives_mm = tuple(place * self.unit_mm for place in self.row(lot, laid))
        return Layout(
            strips=tuple(waiting[kinds[kind]].pop() for kind in laid.kinds),
            edge_front_mm=knives_mm[0],
            edge_back_mm=self.web_mm - knives_mm[-1],
            knives_mm=knives_mm,
        )


def run_unit_mm(
    lots: Iterable[Lot], winder: Winder, web_mm: Fraction, knives_mm: Iterable[Fraction] = ()
) -> Fraction:
    """The unit, mm, of which all positions of these lots are whole multiples."""
    lots = tuple(lots)
    values = [web_mm, winder.min_edge_trim_mm, *knives_mm]
    if winder.max_edge_trim_mm is not None:
        values.append(winder.max_edge_trim_mm)
    values += [strip.width_mm for lot in lots for strip in lot.strips]
    if any(lot.broke_reels for lot in lots):
        values += [winder.narrowest_broke_mm, winder.max_reel_width_mm]
    unit = common_step(values)
    return unit if winder.web_shift else unit / 2


def prepare(
    lots: tuple[Lot, ...],
    winder: Winder,
    web_mm: Fraction,
    knives_at_mm: tuple[Fraction | None, ...],
) -> Job:
    """Lots in units.

    Raises
    ------
    InfeasibleError
        Where a lot cannot be laid out on the winder.
    PlanError
        Where knives cannot stand at `knives_at_mm`.
    """
    standing = [place for place in knives_at_mm if place is not None]
    unit = run_unit_mm(lots, winder, web_mm, standing)
    made = [shape_of(lot, winder, web_mm, unit) for lot in lots]
    same: dict[LotShape, LotShape] = {}
    starts = starting_beams(knives_at_mm, winder) if knives_at_mm else ()
    return Job(
        lots=lots,
        winder=winder,
        web_mm=web_mm,
        unit_mm=unit,
        shapes=tuple(same.setdefault(shape, shape) for shape, _ in made),
        strips=tuple(strips for _, strips in made),
        starts=tuple(
            tuple(int(place / unit) if isinstance(place, Fraction) else place for place in beam)
            for beam in starts
        ),
    )


def result(job: Job, tour: Tour, beams: Sequence[Beam], bound: int) -> Arrangement:
    """The arrangement in mm.

    Parameters
    ----------
    beams
        How the knives stand before the first block, then at each.
    """
    blocks = []
    for t, (lot, (before, after)) in enumerate(zip(tour.order, pairwise(beams), strict=True)):
        row = job.row(lot, tour.laid[lot])
        counted = t > 0 or bool(job.starts)
        moved = moves(before, after) if counted else 0
        blocks.append(
            LaidBlock(
                lot=job.lots[lot].number,
                layout=job.layout(lot, tour.laid[lot]),
                set_up=moved > 0 or not counted,
                moves=moved,
                moved=tuple(counted and before[after.index(place)] != place for place in row),
                beam_mm=to_mm(after, job.unit_mm),
            )
        )
    return Arrangement(blocks=set_up_where_needed(blocks, job.lots), moves_bound=bound)
