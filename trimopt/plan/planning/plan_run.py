"""One run, from its orders to its part of the plan."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence, Set
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from math import inf

from trimopt.book.model import LeftOut
from trimopt.budget import Budget
from trimopt.errors import OutOfTimeError
from trimopt.plan.model import Block, Effort, RunPlan, SetRow
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.instructions.instructed_run import without_instructions
from trimopt.plan.planning.metres_run import has_free_lengths, sought_by_metres
from trimopt.plan.planning.objective import with_butt_costs
from trimopt.plan.planning.odd_jumbos.odd_part import worth_of_use_kg
from trimopt.plan.planning.run_patterns import (
    PREPARE_AT,
    SOLVE_AT,
    RunTask,
    choose_patterns,
    traded_off,
)
from trimopt.plan.planning.schedule.run_winding import WoundRun, wind_run
from trimopt.progress import PLANNED

_WIND_AT = (0.8, 1.0)  # of a run's work, shown as progress

#: Between plan and joint bound, share of the paper at normal effort: where more is left to gain,
#: patterns are sought in other ways too, by metres or with butts charged less.
_METRES_GAP, _WIDE_GAP = 0.003, 0.01
#: Of so few orders butts are mostly what no choice of patterns saves: a little work shows that.
_FEW_ORDERS = 12
_WITHOUT_S = 2.0  # for a run planned anew without some stock widths, where no time is left


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRun:
    """A run's plan, None where no order of it can be made, and the orders left out, with why."""

    wound: WoundRun | None
    left_out: tuple[LeftOut, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RunChoice:
    """A run with its patterns chosen; None where no order of it can be made."""

    task: RunTask
    chosen: ChosenRun | None
    left_out: tuple[LeftOut, ...]


def plan_run(task: RunTask) -> PlannedRun:
    """Plan one run.

    Raises
    ------
    InfeasibleError
        The mill file lacks the run's grade.
    OutOfTimeError
        The time limit came before any whole plan.
    """
    return finish_run(choose_run(task))


def choose_run(task: RunTask) -> RunChoice:
    """Choose the run's patterns, as `plan_run` does first."""
    task = replace(task, budget=task.budget.share(task.parts[0], enough_s=task.enough_s))
    task.budget.enter("what may be cut", *PREPARE_AT)
    chosen, left_out = choose_patterns(task)
    return RunChoice(task=task, chosen=chosen, left_out=left_out)


def finish_run(choice: RunChoice, budget: Budget | None = None) -> PlannedRun:
    """Do the rest of `plan_run`, within what was left to the choice or a budget of its own."""
    if budget is not None:
        budget.stopped = choice.task.budget.stopped
        choice = replace(
            choice,
            task=replace(choice.task, budget=budget),
            chosen=choice.chosen and replace(choice.chosen, budget=budget),
        )
    planned = _planned(choice)
    off = frozenset[str]()
    while planned.wound and (over := _overstocked(planned.wound.plan)):
        off |= over
        planned = _planned(choose_run(_without_stock(choice.task, off)))
        planned = replace(planned, wound=planned.wound and _not_made(planned.wound, off))
    choice.task.budget.enter(PLANNED, 1.0, 1.0)
    return planned


def _planned(choice: RunChoice) -> PlannedRun:
    """The run planned in one way, and in others while they may gain much; the best of them.

    Patterns that know the odd jumbos too may fill them. Where much is left to gain along the
    jumbo, lengths listed beforehand may bind, or butts have been feared that lengths can fill.
    """
    task, planned = choice.task, _wound(choice)
    wound = planned.wound
    if wound is None or task.swift:
        return planned
    first = wound.chosen
    if first.odd_m and wound.leaves_butts:
        planned = _better(task, planned, lambda: _again(replace(task, every_length=True)))
    may_gain = not task.instructions and _gap(task, planned) > _METRES_GAP
    if may_gain and has_free_lengths(first.making, first.mill):
        planned = _better(task, planned, lambda: _by_metres(task, first, planned.left_out))
    if _gap(task, planned) > _WIDE_GAP:
        usable_m = [m for m in first.usable_m if m not in first.odd_m]
        feared = with_butt_costs(first.making, first.mill, usable_m)
        if with_butt_costs(first.making, first.mill, usable_m, stretched=True) != feared:
            planned = _better(task, planned, lambda: _again(_stretched(task, first)))
    return planned


def _better(task: RunTask, planned: PlannedRun, other: Callable[[], PlannedRun]) -> PlannedRun:
    """The better of two plans; the first where no time is left for the other."""
    if task.budget.over():
        return planned
    with suppress(OutOfTimeError):
        return min(planned, other(), key=_cost)
    return planned


def _gap(task: RunTask, planned: PlannedRun) -> float:
    """Between plan and joint bound, share of the paper; as much more as effort is asked for."""
    assert planned.wound is not None
    proof = planned.wound.plan.proof
    if proof.metres_used is None or proof.metres_bound is None:
        return 0.0
    return task.settings.effort.times * (1 - proof.metres_bound / max(1, proof.metres_used))


def _by_metres(task: RunTask, first: ChosenRun, left_out: tuple[LeftOut, ...]) -> PlannedRun:
    """The run sought by metres of its patterns (`sought_by_metres`)."""
    task.budget.enter("patterns", *SOLVE_AT)
    chosen = sought_by_metres(first)
    if chosen is None:
        return PlannedRun(wound=None)
    none = without_instructions(chosen.making, chosen.instance, chosen.outcome)
    chosen = traded_off(chosen.objective, none, task, partial(replace, chosen))
    return _wound(RunChoice(task=task, chosen=chosen, left_out=left_out))


def _stretched(task: RunTask, first: ChosenRun) -> RunTask:
    """The run with butts charged less; of few orders with quick effort, not with normal."""
    settings = task.settings
    if len(first.making.run.orders) <= _FEW_ORDERS and settings.effort is Effort.NORMAL:
        settings = replace(settings, effort=Effort.QUICK)
    return replace(task, settings=settings, stretched=True)


def _again(task: RunTask) -> PlannedRun:
    chosen, left_out = choose_patterns(task)
    return _wound(RunChoice(task=task, chosen=chosen, left_out=left_out))


def _wound(choice: RunChoice) -> PlannedRun:
    """The run wound; where sets are joined the better of it and a plan without any join.

    Joins over defects change what all other sets are, and joins between jumbos the running order.
    """
    task, chosen = choice.task, choice.chosen
    task.budget.enter("running order", *_WIND_AT)
    if chosen is None:
        return PlannedRun(wound=None, left_out=choice.left_out)
    planned = PlannedRun(wound=wind_run(chosen), left_out=choice.left_out)
    if task.swift or not any(len(row.stretches) > 1 for row in _sets(planned)):
        return planned
    unjoined = replace(task.mill.winder, joins_allowed=False)
    if _joined_over(planned):
        plain = replace(task, mill=replace(task.mill, winders=(unjoined,)))
        return _better(task, planned, lambda: _again(plain))
    again = replace(chosen, mill=replace(chosen.mill, winders=(unjoined,)))
    return _better(task, planned, lambda: _wound(replace(choice, chosen=again)))


def _sets(planned: PlannedRun) -> tuple[SetRow, ...]:
    return () if planned.wound is None else planned.wound.plan.sets


def _joined_over(planned: PlannedRun) -> int:
    """How many joins are over something that is cut out of a jumbo."""
    return sum(len(row.stretches) - len(row.jumbos) for row in _sets(planned))


def _cost(planned: PlannedRun) -> tuple[float, int, int, float]:
    """What is lacking, instructions not kept, set-ups above the cap, cost: the less the better."""
    if planned.wound is None:
        return inf, 0, 0, 0.0
    run, chosen = planned.wound.plan, planned.wound.chosen
    cap, objective = chosen.max_set_ups, chosen.objective
    joins = _joined_over(planned) * objective.join(chosen.mill.winder)
    odd = () if chosen.odd is None else [butt.jumbo.name for butt in chosen.odd.stage.butts]
    used_kg = worth_of_use_kg(run, odd)
    return (
        sum(line.lacking_kg for line in run.orders),
        sum(not answer.kept for answer in run.instructions),
        0 if cap is None else max(0, run.set_ups - cap),
        objective.cost_of_plan(run) + joins - objective.per_kg * used_kg,
    )


def _overstocked(run: RunPlan) -> frozenset[str]:
    """Stock widths of which more is made than may be; else of sets without an order beside them.

    The clock ended the search before that.
    """
    stock = {line.number: line for line in run.orders if line.stock_share is not None}
    over = frozenset(name for name, line in stock.items() if line.planned > line.max_quantity)
    return over or alone_in_sets(run.blocks, stock.keys())


def alone_in_sets(blocks: Sequence[Block], stock: Set[str]) -> frozenset[str]:
    """The stock widths, of these, of sets without an order beside them."""
    sets = [{reel.order for reel in block.reels} for block in blocks]
    return frozenset().union(*(each for each in sets if each <= stock))


def _without_stock(task: RunTask, widths: Collection[str]) -> RunTask:
    """The task of the run without them, with little work."""
    orders = tuple(order for order in task.run.orders if order.number not in widths)
    budget = Budget.lasting(_WITHOUT_S) if task.budget.over() else task.budget
    return replace(task, run=replace(task.run, orders=orders), budget=budget, swift=True)


def _not_made(wound: WoundRun, widths: Collection[str]) -> WoundRun:
    """A run that was planned without some stock widths, which says so."""
    note = (
        f"Nothing is made for stock of {', '.join(sorted(widths))}: the search was cut off before "
        "its limit was kept. The lower bound is one on plans without it."
    )
    return replace(wound, plan=replace(wound.plan, notes=(*wound.plan.notes, note)))
