"""Runs whose widths have so fine a common step that no table over the width would be small.

A deckle in millimetres and widths in sixteenths of an inch have a common step of 1/80 mm: 374,400
steps in 4,680 mm. Every table of the engine has a place for each step, so such a run would take
gigabytes. It is solved twice, over a coarser grid of equal steps, as many as memory allows. With
widths rounded up every pattern holds in the run itself, which gives the plan; with widths rounded
down every pattern of the run holds, which gives the bound. A pattern of K pieces is lost to the
plan only where it wastes less than K steps of the grid. Classes with few enough steps of their own
stay exact. Where the plan over the grid does not hold in the run, the run itself is solved.

The numbers of steps are divisible by every number up to 12, so equal reels that fill a set still
do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from math import gcd

from trimopt.budget import Budget
from trimopt.cutting.lp.bound_certificate import price_bound
from trimopt.cutting.model.cuts import Cut, faults_of, loss_of
from trimopt.cutting.model.instance import Instance, Option, WindingClass
from trimopt.cutting.model.outcome import Observer, Outcome, Progress, Status
from trimopt.cutting.params import EngineParams, GridParams

_BOUND_SHARE = 0.3  # of the time left; what the bound leaves is there for the plan


def grid_of(instance: Instance, params: GridParams) -> int | None:
    """Return the steps of the grid that a run is to be solved over; None: its own are few enough.

    None, too, where a piece is narrower than a step, so that no grid can stand for the run.
    """
    cells = params.max_cells // max(1, len(instance.options))
    steps = next((s for s in params.steps if s <= cells), params.steps[-1])
    fine = _fine_classes(instance, steps)
    if fine and any(option.no_edge for option in instance.options):
        steps = params.steps[-1]  # tables that keep pieces off the edge count them at each step
        fine = _fine_classes(instance, steps)
    for option in instance.options:
        full = instance.classes[option.winding_class].width
        if option.winding_class in fine and option.width * steps < full:
            return None
    return steps if fine else None


def _fine_classes(instance: Instance, steps: int) -> frozenset[int]:
    """Classes in which a set is more than `steps` common steps of the widths wide."""
    own: dict[int, int] = {}
    for option in instance.options:
        own[option.winding_class] = gcd(own.get(option.winding_class, 0), option.width)
    return frozenset(c for c, step in own.items() if instance.classes[c].width > steps * step)


def on_grid(instance: Instance, steps: int, *, up: bool) -> Instance:
    """Return the run with the sets of its fine classes `steps` wide, and the widths rounded.

    Parameters
    ----------
    instance
        The run; options that are wider than a set stay so.
    up
        True: every pattern of the returned run is allowed in the given one. False: every pattern
        of the given run is allowed in the returned one.
    """
    fine = _fine_classes(instance, steps)
    full = {c: instance.classes[c].width for c in fine}
    # Two widths may fall on one step. Barring that step bars more patterns than were barred, which
    # a plan may do and a bound may not.
    barred = [
        (c, _across_on_grid(across, full[c], steps)) if c in fine else (c, across)
        for c, across in instance.barred
        if up or c not in fine
    ]
    return replace(
        instance,
        classes=tuple(
            _limits_on_grid(limits, steps, up=up) if c in fine else limits
            for c, limits in enumerate(instance.classes)
        ),
        options=tuple(
            _option_on_grid(option, instance.classes[option.winding_class], steps, up=up)
            if option.winding_class in fine
            else option
            for option in instance.options
        ),
        barred=tuple(dict.fromkeys(barred)),
    )


def _on_grid(width: int, full: int, steps: int, *, up: bool) -> int:
    scaled = -(-width * steps // full) if up else width * steps // full
    return scaled if width <= full else max(scaled, steps + 1)


def _option_on_grid(option: Option, limits: WindingClass, steps: int, *, up: bool) -> Option:
    """The option with its width rounded.

    Whether a broke reel stands beside a no-edge piece is a matter of single steps: the bound does
    without the rule, and the plan is looked at again.
    """
    free = not up and limits.slack is not None
    return replace(
        option,
        width=_on_grid(option.width, limits.width, steps, up=up),
        no_edge=option.no_edge and not free,
    )


def _across_on_grid(
    across: tuple[tuple[int, int], ...], full: int, steps: int
) -> tuple[tuple[int, int], ...]:
    counts: dict[int, int] = {}
    for width, count in across:
        step = _on_grid(width, full, steps, up=True)
        counts[step] = counts.get(step, 0) + count
    return tuple(sorted(counts.items()))


def _limits_on_grid(limits: WindingClass, steps: int, *, up: bool) -> WindingClass:
    """The limits of a class; edge trim is off by less than a step for each piece of a pattern.

    What is left beside a pattern on the grid is less than the true rest where widths are rounded
    up, by up to `max_pieces` steps, and more where they are rounded down. So the plan's slack is
    that much smaller (it has broke reels enough) and the bound's that much larger.
    """
    if limits.slack is None:
        return replace(limits, width=steps)
    off = limits.max_pieces + 1
    full = limits.width
    slack = limits.slack * steps // full - off if up else -(-limits.slack * steps // full) + off
    narrow = -(-limits.min_broke * steps // full) if up else limits.min_broke * steps // full
    wide = limits.max_broke
    if wide is not None:
        wide = wide * steps // full if up else -(-wide * steps // full)
    return replace(limits, width=steps, slack=slack, min_broke=narrow, max_broke=wide)


def solve_on_grid(
    instance: Instance,
    solve: Callable[..., Outcome],
    steps: int,
    *,
    budget: Budget,
    observer: Observer | None,
    start: tuple[Cut, ...],
    gap: float,
    params: EngineParams,
) -> Outcome:
    """Solve a run over a grid: its bound with widths rounded down, its plan with them rounded up.

    `solve` takes an instance and the keywords budget, observer, start, gap and params.
    """
    # As wide a gap as may be: the linear program proves, and no plan is sought.
    proof = solve(
        on_grid(instance, steps, up=False),
        budget=budget.share(_BOUND_SHARE),
        gap=1.0,
        params=params,
    )
    if proof.status is Status.INFEASIBLE:
        return proof
    found = solve(
        on_grid(instance, steps, up=True),
        budget=budget,
        observer=None if observer is None else _bounded(observer, proof.bound),
        start=start,
        gap=gap,
        params=params,
    )
    plans = [cuts for cuts in (found.cuts, start) if cuts and not faults_of(instance, cuts)]
    if not plans:
        exact = replace(
            params, grid=replace(params.grid, steps=(max(c.width for c in instance.classes),))
        )
        return solve(instance, budget=budget, observer=observer, start=start, gap=gap, params=exact)
    cuts = min(plans, key=partial(loss_of, instance))
    loss = loss_of(instance, cuts)
    prices = proof.certificate
    return replace(
        found,
        status=Status.OPTIMAL if loss <= proof.bound else Status.FEASIBLE,
        cuts=cuts,
        loss=loss,
        bound=proof.bound,
        price_bound=proof.bound if prices is None else price_bound(instance, prices),
        certificate=prices,
        clock_stopped=found.clock_stopped or proof.clock_stopped,
        seconds=found.seconds + proof.seconds,
    )


def _bounded(observer: Observer, bound: int) -> Observer:
    """Tells of the plan's search with the run's own bound: that of the rounded run is none."""

    def tell(progress: Progress) -> None:
        observer(replace(progress, bound=bound))

    return tell
