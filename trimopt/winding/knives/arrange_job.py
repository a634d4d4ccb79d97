"""What `arrange` works on, in whole numbers, and how its answer is written in millimetres."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import ceil

from trimopt.mill.model import Winder
from trimopt.winding.knives.integer_lot import Shape, shape_of
from trimopt.winding.knives.knife_moves import Beam, clear_beams, park_beams, starting_beams, to_mm
from trimopt.winding.knives.layout_dp import Laid
from trimopt.winding.knives.layouts import layout_of, run_unit_mm
from trimopt.winding.knives.order_costs import Running
from trimopt.winding.knives.order_search import Tour
from trimopt.winding.model import Arrangement, LaidBlock, Layout, Lot, Strip

__all__ = ["Job", "prepare", "result"]


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
    shapes: tuple[Shape, ...]
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
        at = laid.offset
        row = [at]
        for kind in laid.kinds:
            at += self.shapes[lot].kinds[kind][0]
            row.append(at)
        return tuple(row)

    def beams(self, rows: Sequence[tuple[int, ...]]) -> tuple[Beam, ...]:
        """How the knives stand at each block, after how they stood before the first."""
        if self.parked:
            beams = park_beams(rows, self.winder.knives, self.starts)
        else:
            beams = clear_beams(rows, self.winder.knives, self.spacing, self.starts)
        opening = min(self.starts, key=lambda start: _differ(start, beams[0]), default=beams[0])
        return (opening, *beams)

    def layout(self, lot: int, laid: Laid) -> Layout:
        """The layout in mm."""
        return layout_of(
            self.shapes[lot],
            self.strips[lot],
            offset=laid.offset,
            kinds=laid.kinds,
            web_mm=self.web_mm,
            unit_mm=self.unit_mm,
        )


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
    same: dict[Shape, Shape] = {}
    starts = starting_beams(knives_at_mm, winder, web_mm) if knives_at_mm else ()
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


def _differ(a: Beam, b: Beam) -> int:
    return sum(x != y for x, y in zip(a, b, strict=True))


def result(
    job: Job,
    tour: Tour,
    beams: Sequence[Beam],
    *,
    running: Running,
    bound: int,
    bound_simple: int,
    clock_stopped: bool,
) -> Arrangement:
    """The arrangement in mm; `beams` begin with how the knives stand before the first block."""
    blocks = []
    before_it: tuple[int, Counter[Fraction]] | None = None
    for t, (lot, (before, after)) in enumerate(zip(tour.order, pairwise(beams), strict=True)):
        layout = job.layout(lot, tour.laid[lot])
        row = job.row(lot, tour.laid[lot])
        now = job.lots[lot].setting, Counter(strip.width_mm for strip in layout.strips)
        told = t > 0 or bool(job.starts)
        moves = _differ(before, after) if told else 0
        blocks.append(
            LaidBlock(
                lot=job.lots[lot].number,
                layout=layout,
                sets=job.lots[lot].sets,
                set_up=now != before_it if t else moves > 0 or not told,
                moves=moves,
                moves_simple=len(set(row).difference(before)) if told else 0,
                moved=tuple(told and before[after.index(place)] != place for place in row),
                beam_mm=to_mm(after, job.unit_mm),
            )
        )
        before_it = now
    moves = sum(block.moves for block in blocks)
    return Arrangement(
        blocks=tuple(blocks),
        set_ups=sum(block.set_up for block in blocks[1:]),
        moves=moves,
        moves_simple=sum(block.moves_simple for block in blocks),
        moves_bound=bound,
        proven=moves <= bound,
        max_open_orders=running.max_open(tour.order),
        moves_simple_bound=bound_simple,
        class_changes=running.class_changes(tour.order),
        less_urgent_before=running.less_urgent_before(tour.order),
        clock_stopped=clock_stopped,
    )
