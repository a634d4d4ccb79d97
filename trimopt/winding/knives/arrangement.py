"""`arrange`: lots in, blocks in running order with their layouts out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.mill.model import Winder
from trimopt.winding.knives.arrange_job import Job, prepare, result
from trimopt.winding.knives.knife_moves import BACK, FRONT, Beam, improved_beams
from trimopt.winding.knives.layout_dp import AnyKnife, OrderKept
from trimopt.winding.knives.lifted_search import LiftedSearch
from trimopt.winding.knives.move_bounds import order_bound, pair_bounds
from trimopt.winding.knives.order_costs import Prices, Running
from trimopt.winding.knives.order_path import Steps, path_bound
from trimopt.winding.knives.order_search import Search, Tour
from trimopt.winding.model import Arrangement, Lot

__all__ = ["arrange"]

_WORK = 2_000  # where no budget is given: a second or two
_BOUND_EFFORT = 0.5  # deterministic seconds of the solver for a bound
_BOUND_SHARE = 0.2  # of the time that is left
_SIMPLE_SHARE = 0.4  # of the work, for the simple count, where knives are lifted


def arrange(
    lots: tuple[Lot, ...],
    winder: Winder,
    web_mm: Fraction,
    *,
    budget: Budget | None = None,
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
        Limits, number of knives, idle ones lifted or parked (`trimopt.winding.knives.knife_moves`).
    web_mm
        Width of the jumbo.
    budget
        When to stop; of its work 1,000 is about half a second. None: work for a second or two.
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
        Told the fewest moves so far.

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
    if not lots:
        return Arrangement(
            blocks=(), set_ups=0, moves=0, moves_simple=0, moves_bound=0, proven=True
        )
    budget = budget or Budget(max_work=_WORK)
    job = prepare(lots, winder, web_mm, knives_at_mm)
    running = Running(lots, prices or Prices())
    known = {
        count: order_bound(
            job.shapes,
            winder,
            job.starts,
            budget.share(_BOUND_SHARE),
            simple=count,
            work=_BOUND_EFFORT,
        )
        for count in (False, True)
    }
    planner = _Planner(job, running, budget.share(1, budget.max_work), seed, observer)
    simple = simple_count or not job.parked
    goal, order, steps = known[simple]
    if not job.parked:  # the steps of lifted knives are all alike; these say more
        parked = replace(winder, idle_knives="parked")
        ahead = budget.share(_BOUND_SHARE)
        least = pair_bounds(job.shapes, parked, ahead, simple=True)
        steps = Steps(least=least, firsts=[0] * len(lots))
        goal, order = path_bound(steps, ahead, work=_BOUND_EFFORT / 2)
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
        clock_stopped=budget.stopped,
    )


class _Planner:
    """The searches for one job."""

    def __init__(
        self,
        job: Job,
        running: Running,
        budget: Budget,
        seed: int,
        observer: Callable[[int], None] | None,
    ) -> None:
        self.job = job
        self.running = running
        self.budget = budget
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
            budget=self.budget,
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
        job, whole = self.job, self.budget
        self.budget = whole.share(_SIMPLE_SHARE, whole.max_work * _SIMPLE_SHARE)
        tour = self.tour(steps, goal, order, simple=True)
        search = LiftedSearch(
            job.shapes,
            self.running,
            near=self.near,
            knives=job.winder.knives,
            spacing=job.spacing,
            starts=job.starts,
            goal=goal_kept,
            budget=whole,
            work=self.work,
            seed=self.seed,
        )
        found = search.run(tour, self.observer)
        rows = [found.laid[lot].places for lot in found.order]
        beams = improved_beams(found.beams, rows, job.spacing, free_start=not job.starts)
        return Tour(found.order, found.laid, found.moves, found.cost), beams
