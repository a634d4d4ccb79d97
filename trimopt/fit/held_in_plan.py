"""A plan with what was held since it was issued, its sets held: what a new enquiry finds there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from trimopt.book.model import Book
from trimopt.budget import Budget
from trimopt.cutting import solve
from trimopt.errors import PlanError
from trimopt.fit.planned_run import basis_of_plan
from trimopt.fit.replanned import wound_with
from trimopt.fit.run_with_enquiry import hold_sets
from trimopt.making import Run, runs_of
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan, RunPlan, Settings
from trimopt.plan.planning.chosen_run import supply_of
from trimopt.plan.planning.request_settings import shift_begins
from trimopt.plan.planning.run_jumbos import RunJumbos, jumbos_in_book
from trimopt.plan.planning.schedule.runs_in_turn import in_turn


def plan_with_held(plan: Plan, book: Book, mill: Mill, *, budget: Budget) -> Plan:
    """The plan with what is held and not in it yet, wound behind one another on its clock.

    A run stays as it was issued where no place was found in time; so does a plan of a rest, whose
    clock is its own.

    Parameters
    ----------
    book
        With what is held (`trimopt.book.held_enquiries.with_held`).
    """
    runs = runs_of(book, mill)
    placed: dict[str, RunPlan] = {}
    waiting = [] if plan.replanned is not None else list(_waiting(plan, runs))
    for (planned, run), part in zip(waiting, budget.shares(len(waiting)), strict=True):
        jumbos = jumbos_in_book(run, runs, book, mill)
        found = _with_held(
            planned, run, jumbos, plan.settings, in_order=book.jumbos_in_order, budget=part
        )
        if found is not None:
            placed[run.name] = found
    if not placed:
        return plan
    start = plan.settings.start or shift_begins(book)
    timed = in_turn([placed.get(run.name, run) for run in plan.runs], start, mill.winder)
    return replace(plan, runs=timed)


def _waiting(plan: Plan, runs: tuple[Run, ...]) -> Iterator[tuple[RunPlan, Run]]:
    """Runs that lack held enquiries, and nothing else."""
    by_name = {run.name: run for run in plan.runs}
    for run in runs:
        if run.name in by_name:
            planned = {line.number for line in by_name[run.name].orders}
            more = [order for order in run.orders if order.number not in planned]
            if more and all(order.held_until is not None for order in more):
                yield by_name[run.name], run


def _with_held(
    planned: RunPlan,
    run: Run,
    jumbos: RunJumbos,
    settings: Settings,
    *,
    in_order: bool,
    budget: Budget,
) -> RunPlan | None:
    """The run with what is held put in one by one; None where that was not found in time."""
    there = {line.number for line in planned.orders}
    more = [order for order in run.orders if order.number not in there]
    joined = replace(run, orders=tuple(o for o in run.orders if o.number in there))
    supply = supply_of(jumbos, 1, in_order=in_order)
    for order, part in zip(more, budget.shares(len(more)), strict=True):
        try:
            basis = basis_of_plan(
                planned, joined, jumbos, settings, grid_mm=jumbos.mill.width_step_mm, budget=part
            )
        except PlanError:  # nothing can be put into it
            return None
        held = hold_sets(basis, order, budget=part) if basis.whole else None
        if held is None:
            return None
        # As wide a gap as may be: the linear program proves, and no plan is sought.
        proven = solve(held.making.instance, budget=part, gap=1.0)
        found = wound_with(
            basis, held, jumbos, supply, settings=settings, budget=part, proven=proven
        )
        if found is None:
            return None
        planned, joined = found, replace(joined, orders=(*joined.orders, order))
    return planned
