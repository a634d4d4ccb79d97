"""`arrange`: lots in, blocks in running order with their layouts out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.mill.model import Winder
from trimopt.winding.knives.arrange_job import Job, prepare, result
from trimopt.winding.knives.knife_moves import BACK, FRONT
from trimopt.winding.knives.layout_dp import AnyKnife, OrderKept
from trimopt.winding.knives.lifted_search import LiftedSearch
from trimopt.winding.knives.move_bounds import Moves, order_bound, pair_bounds, path_bound
from trimopt.winding.knives.order_costs import MovePrices, Running
from trimopt.winding.knives.order_search import OrderSearch
from trimopt.winding.model import Arrangement, Lot

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
    prices: MovePrices | None = None,
    bounded: bool = True,
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
        What an urgent lot's waiting and a set-up more are worth in moves.
    bounded
        Whether to prove a bound on the moves of all orders; else it is 0, and the order given is
        among those that the search begins from.

    Returns
    -------
    Arrangement
        Whole, whatever ended the search. Its bound holds for these lots over all orders and
        layouts.

    Raises
    ------
    InfeasibleError
        Where a lot cannot be laid out on the winder.
    PlanError
        Where `knives_at_mm` cannot be.
    """
    if not lots:
        return Arrangement(blocks=())
    budget = budget or Budget(max_work=_WORK)
    job = prepare(lots, winder, web_mm, knives_at_mm)
    running = Running(lots, prices or MovePrices())
    if bounded:
        bound, goal, order, least = _bounds(job, budget)
    else:
        bound, goal, order, least = 0, 0, list(range(len(lots))), _parked_moves(job, budget)
    lifted, whole = not job.parked, budget.share(1, budget.max_work)
    starts = [tuple(int(place) for place in beam) for beam in job.starts]
    if lifted:  # knives at the ends hold no position
        starts = [tuple(p for p in start if p not in {FRONT, BACK}) for start in starts[:1]]
    search = OrderSearch(
        job.shapes,
        AnyKnife() if lifted else OrderKept(winder.knives),
        running,
        least=least,
        starts=starts,
        goal=goal,
        budget=whole.share(_SIMPLE_SHARE, whole.max_work * _SIMPLE_SHARE) if lifted else whole,
        seed=seed,
    )
    tour = search.run([order] if running.allowed(order) else [])
    if not lifted:
        return result(job, tour, job.beams(tour), bound)
    set_up = LiftedSearch(
        job.shapes,
        running,
        near=search.near,
        knives=winder.knives,
        spacing=job.spacing,
        starts=job.starts,
        goal=bound,
        budget=whole,
        work=search.work(),
        seed=seed,
    ).run(tour)
    return result(job, set_up, set_up.beams, bound)


def _bounds(job: Job, budget: Budget) -> tuple[int, int, list[int], Moves]:
    """The bound on the moves, the goal of the search over orders, an order of few, least moves."""
    bound, order, least = order_bound(
        job.shapes, job.winder, job.starts, budget.share(_BOUND_SHARE), effort=_BOUND_EFFORT
    )
    if job.parked:
        return bound, bound, order, least
    ahead = budget.share(_BOUND_SHARE)
    least = _parked_moves(job, ahead)
    goal, order = path_bound(least, [0] * len(job.lots), ahead, effort=_BOUND_EFFORT / 2)
    return bound, goal, order, least


def _parked_moves(job: Job, budget: Budget) -> Moves:
    """What tells orders apart: the least moves of parked knives.

    Lifted knives may idle wherever they are needed next, so that theirs are bounded by next to
    nothing, all alike.
    """
    parked = replace(job.winder, idle_knives="parked")
    return pair_bounds(job.shapes, parked, budget, simple=not job.parked)
