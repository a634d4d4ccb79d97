"""`arrange`: lots in, blocks in running order with their layouts out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from time import monotonic

from trimopt.mill.model import Winder
from trimopt.winding.between import AnyKnife, OrderKept
from trimopt.winding.bounds import order_bound, pair_bounds
from trimopt.winding.job import Job, prepare, result
from trimopt.winding.knives import BACK, FRONT, Beam, improved_beams
from trimopt.winding.lifted import LiftedSearch
from trimopt.winding.model import Arrangement, Lot
from trimopt.winding.path import Steps, path_bound
from trimopt.winding.running import Prices, Running
from trimopt.winding.search import Clock, Search, Tour

__all__ = ["arrange"]

_WORK = 2_000  # where neither seconds nor work are given: a second or two
_SIMPLE_SHARE = 0.4  # of the work, for the simple count, where knives are lifted


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
        Told the fewest moves so far. Ctrl-C, in it too, ends the search with the best so far.

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
    job = prepare(lots, winder, web_mm, knives_at_mm)
    running = Running(lots, prices or Prices())
    clock = Clock(ends=None if seconds is None else begun + seconds, work=work)
    effort = 0.5 if seconds is None else min(0.5, seconds / 10)
    none = [[0] * len(lots) for _ in lots]
    nothing = Steps(least=none, firsts=[0] * len(lots))
    known = dict.fromkeys((False, True), (0, list(range(len(lots))), nothing))
    try:
        for count in (False, True):
            known[count] = order_bound(job.shapes, winder, job.starts, simple=count, work=effort)
    except KeyboardInterrupt:
        clock.interrupted = True
    planner = _Planner(job, running, clock, seed, observer)
    simple = simple_count or not job.parked
    goal, order, steps = known[simple]
    if not job.parked:  # the steps of lifted knives are all alike; these say more
        parked = replace(winder, idle_knives="parked")
        least = pair_bounds(job.shapes, parked, simple=True)
        steps = Steps(least=least, firsts=[0] * len(lots))
        goal, order = path_bound(steps, work=effort / 2)
    if simple_count or job.parked:
        tour = planner.tour(steps, goal, order, simple=simple)
        beams = planner.beams(tour)
    else:
        tour, beams = planner.lifted(steps, goal, order, known[False][0])
    return result(
        job,
        tour,
        beams,
        running=running,
        bound=known[False][0],
        bound_simple=known[True][0],
        clock_stopped=clock.stopped,
    )


class _Planner:
    """The searches for one job."""

    def __init__(
        self,
        job: Job,
        running: Running,
        clock: Clock,
        seed: int,
        observer: Callable[[int], None] | None,
    ) -> None:
        self.job = job
        self.running = running
        self.clock = clock
        self.seed = seed
        self.observer = observer
        self.work = 0.0

    def tour(self, steps: Steps, goal: int, order: list[int], *, simple: bool) -> Tour:
        """Order and layouts for the simple count, or for the winder's with knives parked."""
        starts = [tuple(int(place) for place in beam) for beam in self.job.starts]
        if simple:  # knives at the ends hold no position
            starts = [tuple(p for p in start if p not in {FRONT, BACK}) for start in starts[:1]]
        search = Search(
            self.job.shapes,
            AnyKnife() if simple else OrderKept(self.job.winder.knives),
            self.running,
            steps=steps,
            starts=starts,
            goal=goal,
            clock=self.clock,
            seed=self.seed,
        )
        found = search.run([order] if self.running.allowed(order) else [], self.observer)
        self.work += search.work()
        self.near = search.near
        return found

    def beams(self, tour: Tour) -> tuple[Beam, ...]:
        """How the knives stand at each block of a tour, the opening first."""
        rows = [self.job.row(lot, tour.laid[lot]) for lot in tour.order]
        return self.job.beams(rows)

    def lifted(
        self, steps: Steps, goal: int, order: list[int], goal_kept: int
    ) -> tuple[Tour, tuple[Beam, ...]]:
        """Order, layouts and beams where idle knives stay where they are."""
        job, whole = self.job, self.clock
        begun = monotonic()
        share = None if whole.work is None else int(whole.work * _SIMPLE_SHARE)
        ends = None if whole.ends is None else begun + (whole.ends - begun) * _SIMPLE_SHARE
        self.clock = Clock(ends=ends, work=share, interrupted=whole.interrupted)
        tour = self.tour(steps, goal, order, simple=True)
        whole.interrupted = self.clock.interrupted
        search = LiftedSearch(
            job.shapes,
            self.running,
            near=self.near,
            knives=job.winder.knives,
            spacing=job.spacing,
            starts=job.starts,
            goal=goal_kept,
            clock=whole,
            work=self.work,
            seed=self.seed,
        )
        found = search.run(tour, self.observer)
        rows = [found.laid[lot].places for lot in found.order]
        beams = improved_beams(found.beams, rows, job.spacing, free_start=not job.starts)
        return Tour(found.order, found.laid, found.moves, found.cost), beams
