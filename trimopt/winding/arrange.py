"""`arrange`: lots in, blocks in running order with their layouts out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from time import monotonic

from trimopt.mill.model import Winder
from trimopt.winding.between import AnyKnife, Count, Laid, OrderKept
from trimopt.winding.bounds import pair_bounds, path_bound
from trimopt.winding.knives import (
    Beam,
    clear_beams,
    moves_simple,
    park_beams,
    starting_beams,
    to_mm,
)
from trimopt.winding.layout import layout_of, run_unit_mm
from trimopt.winding.model import Arrangement, LaidBlock, Layout, Lot, Strip
from trimopt.winding.running import Prices, Running
from trimopt.winding.search import Clock, Search, Tour
from trimopt.winding.shape import Shape, shape_of

__all__ = ["arrange"]

_WORK = 3_000  # where neither seconds nor work are given: a second or two


@dataclass(frozen=True)
class _Job:
    lots: tuple[Lot, ...]
    winder: Winder
    web_mm: Fraction
    unit_mm: Fraction
    shapes: tuple[Shape, ...]
    strips: tuple[tuple[Strip, ...], ...]
    starts: tuple[Beam, ...]  # in units; more than one where the ends hold knives nobody told of

    @property
    def parked(self) -> bool:
        return self.winder.idle_knives == "parked"


def arrange(
    lots: tuple[Lot, ...],
    winder: Winder,
    web_mm: Fraction,
    *,
    seconds: float | None = None,
    work: int | None = None,
    seed: int = 0,
    knives_at_mm: tuple[Fraction | None, ...] = (),
    prices: Prices | None = None,
    simple_count: bool = False,
    observer: Callable[[int], None] | None = None,
) -> Arrangement:
    """Running order and layouts, chosen together for fewest knife moves.

    Parameters
    ----------
    lots
        Each becomes one block.
    winder
        Limits, number of knives, idle ones lifted or parked (`trimopt.winding.knives`).
    web_mm
        Width of the jumbo.
    seconds, work
        When to stop: by the clock, or by work, which is repeatable (1,000 is about half a second).
        Neither: work for a second or two.
    seed
        The same lots, seed and work give the same arrangement.
    knives_at_mm
        How the knives stand before the first block, from the front side: all of them, None for
        one at its end of the beam, or only those that cut. Empty: nobody knows, and the first
        block's moves are not counted.
    prices
        What an urgent lot's waiting and a change of core or set length are worth in moves.
    simple_count
        Choose for the simple count, positions that no knife holds, in place of the winder's.
    observer
        Told the fewest moves so far; an exception it raises, KeyboardInterrupt too, ends the search
        with the best so far.

    Returns
    -------
    Arrangement
        Whole, whatever ended the search. Its bounds hold for these lots over all orders and
        layouts.

    Raises
    ------
    InfeasibleError
        Where a lot cannot be laid out on the winder.
    PlanError
        Where `knives_at_mm` cannot be.
    """
    begun = monotonic()
    if not lots:
        return Arrangement(
            blocks=(), set_ups=0, moves=0, moves_simple=0, moves_bound=0, proven=True
        )
    if seconds is None and work is None:
        work = _WORK
    job = _prepare(lots, winder, web_mm, knives_at_mm)
    running = Running(lots, prices or Prices())
    clock = Clock(ends=None if seconds is None else begun + seconds, work=work)
    least_kept = pair_bounds(job.shapes, winder, simple=False)
    least_any = pair_bounds(job.shapes, winder, simple=True)
    kept, kept_order = path_bound(least_kept)
    any_, any_order = path_bound(least_any)
    if simple_count:
        count: Count = AnyKnife()
        least, goal, order = least_any, any_, any_order
    else:
        count = OrderKept(winder.knives)
        least, goal, order = least_kept, kept, kept_order
    tour = _search(
        job,
        count,
        least=least,
        goal=goal,
        running=running,
        order=order,
        clock=clock,
        seed=seed,
        observer=observer,
    )
    return _result(job, tour, running=running, clock=clock, bound=kept, bound_simple=any_)


def _prepare(
    lots: tuple[Lot, ...],
    winder: Winder,
    web_mm: Fraction,
    knives_at_mm: tuple[Fraction | None, ...],
) -> _Job:
    standing = [place for place in knives_at_mm if place is not None]
    unit = run_unit_mm(lots, winder, web_mm, standing)
    made: list[tuple[Shape, tuple[Strip, ...]]] = [
        shape_of(lot, winder, web_mm, unit) for lot in lots
    ]
    same: dict[Shape, Shape] = {}
    starts = starting_beams(knives_at_mm, winder, web_mm) if knives_at_mm else ()
    return _Job(
        lots=lots,
        winder=winder,
        web_mm=web_mm,
        unit_mm=unit,
        shapes=tuple(same.setdefault(shape, shape) for shape, _ in made),
        strips=tuple(strips for _, strips in made),
        starts=tuple(_in_units(beam, unit) for beam in starts),
    )


def _in_units(beam: Beam, unit_mm: Fraction) -> Beam:
    return tuple(int(place / unit_mm) if isinstance(place, Fraction) else place for place in beam)


def _search(
    job: _Job,
    count: Count,
    *,
    least: Sequence[Sequence[int]],
    goal: int,
    running: Running,
    order: list[int],
    clock: Clock,
    seed: int,
    observer: Callable[[int], None] | None,
) -> Tour:
    start: tuple[int, ...] | None = None
    if job.starts:
        beam = job.starts[len(job.starts) // 2]
        start = tuple(int(place) for place in beam)
    search = Search(
        job.shapes,
        count,
        running,
        least=least,
        start=start,
        goal=goal,
        clock=clock,
        seed=seed,
    )
    return search.run([order] if running.allowed(order) else [], observer)


def _result(
    job: _Job,
    tour: Tour,
    *,
    running: Running,
    clock: Clock,
    bound: int,
    bound_simple: int,
) -> Arrangement:
    rows = [_row(job.shapes[lot], tour.laid[lot]) for lot in tour.order]
    knives = job.winder.knives
    if job.parked:
        beams = park_beams(rows, knives, job.starts)
    else:
        spacing = ceil(job.winder.knife_spacing_least_mm / job.unit_mm)
        beams = clear_beams(rows, knives, spacing, job.starts)
    layouts = [
        layout_of(
            job.shapes[lot],
            job.strips[lot],
            offset=tour.laid[lot].offset,
            kinds=tour.laid[lot].kinds,
            web_mm=job.web_mm,
            unit_mm=job.unit_mm,
        )
        for lot in tour.order
    ]
    before: tuple[Fraction | None, ...] | None = None
    if job.starts:
        opening = min(job.starts, key=lambda b: _differ(b, beams[0]))
        before = to_mm(opening, job.unit_mm)
    blocks = []
    widths_before: Counter[Fraction] | None = None
    for lot, layout, beam in zip(tour.order, layouts, beams, strict=True):
        after = to_mm(beam, job.unit_mm)
        block = _block(job.lots[lot], layout, before, after, widths_before)
        blocks.append(block)
        before = after
        widths_before = Counter(strip.width_mm for strip in layout.strips)
    moves = sum(block.moves for block in blocks)
    simple = sum(block.moves_simple for block in blocks)
    return Arrangement(
        blocks=tuple(blocks),
        set_ups=sum(block.set_up for block in blocks[1:]),
        moves=moves,
        moves_simple=simple,
        moves_bound=bound,
        proven=moves <= bound,
        open_orders_most=running.open_most(tour.order),
        moves_simple_bound=bound_simple,
        class_changes=running.class_changes(tour.order),
        less_urgent_before=running.less_urgent_before(tour.order),
        clock_stopped=clock.stopped,
    )


def _row(shape: Shape, laid: Laid) -> tuple[int, ...]:
    at = laid.offset
    row = [at]
    for kind in laid.kinds:
        at += shape.kinds[kind][0]
        row.append(at)
    return tuple(row)


def _differ(a: Beam, b: Beam) -> int:
    return sum(x != y for x, y in zip(a, b, strict=True))


def _block(
    lot: Lot,
    layout: Layout,
    before: tuple[Fraction | None, ...] | None,
    after: tuple[Fraction | None, ...],
    widths_before: Counter[Fraction] | None,
) -> LaidBlock:
    cutting = {place: i for i, place in enumerate(after) if place is not None}
    if before is None:
        moves = simple = 0
        moved = (False,) * len(layout.knives_mm)
        set_up = True
    else:
        moves = sum(a != b for a, b in zip(before, after, strict=True))
        simple = moves_simple(before, layout)
        moved = tuple(before[cutting[knife]] != knife for knife in layout.knives_mm)
        set_up = (
            moves > 0
            if widths_before is None
            else Counter(strip.width_mm for strip in layout.strips) != widths_before
        )
    return LaidBlock(
        lot=lot.number,
        layout=layout,
        sets=lot.sets,
        set_up=set_up,
        moves=moves,
        moves_simple=simple,
        moved=moved,
        beam_mm=after,
    )
