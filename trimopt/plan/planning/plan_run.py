"""One run, from its orders to its part of the plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf

from trimopt.book.model import Instruction, JumboInStock
from trimopt.budget import Budget
from trimopt.cutting import (
    SCALE,
    Instance,
    Outcome,
    Progress,
    Status,
    loss_of,
    prove,
    solve,
)
from trimopt.cutting.setups import ParetoPoint, TradeOff, trade_off
from trimopt.errors import InfeasibleError, OutOfTimeError
from trimopt.making import Making, Run, kg_of_area, prepare_held
from trimopt.mill.model import Mill
from trimopt.plan.model import LeftOut, Settings
from trimopt.plan.planning.instructed_run import heed, pin_lengths
from trimopt.plan.planning.loss_in_kg import loss_kg, steered
from trimopt.plan.planning.run_costs import costs_for
from trimopt.plan.planning.run_jumbos import NO_JUMBO, jumbos_for
from trimopt.plan.planning.wind_run import Solved, WoundUp, wind
from trimopt.plan.planning.work_limits import trade_work
from trimopt.winding import JumboSupply, StockJumbo

__all__ = [
    "PlannedRun",
    "RunObserver",
    "RunProgress",
    "RunTask",
    "choose_patterns",
    "plan_run",
]

# Of the time that is left of a run's: for its plan without instructions, and then those that price
# them; for proof and patterns; for the trade-off. The rest is the winder's.
_FREE, _INSTRUCTED = 0.5, 0.8
_SOLVE, _PROVE = 0.5, 0.3
_TRADE = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class RunProgress:
    """What is known of a run at a moment of its planning."""

    run: str
    step: str
    seconds: float
    loss_kg: float | None
    bound_kg: float | None


RunObserver = Callable[[RunProgress], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTask:
    """All that one run's planning needs; it can be sent to another process.

    `place` counts the book's runs from 1; nominal jumbos are named by it. The run takes `part` of
    what is left of the budget when it begins.
    """

    place: int
    run: Run
    mill: Mill
    settings: Settings
    stock: tuple[JumboInStock, ...]  # of this run
    only_listed_jumbos: bool
    jumbos_in_order: bool
    start: datetime
    budget: Budget
    part: float = 1.0
    every_length: bool = False  # patterns for every jumbo's length, not for those of most alone
    instructions: tuple[Instruction, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRun:
    """A run's plan, None where no order of it can be made, and the orders left out, with why."""

    wound: WoundUp | None
    left_out: tuple[LeftOut, ...] = ()
    solved: Solved | None = None  # what to wind anew, where the shift has no hours for all of it


def plan_run(task: RunTask, observer: RunObserver | None = None) -> PlannedRun:
    """Plan one run.

    Raises
    ------
    InfeasibleError
        The mill file lacks the run's grade.
    OutOfTimeError
        The time limit came before any whole plan.
    """
    task = replace(task, budget=task.budget.share(task.part))
    planned = _wound(task, observer)
    solved, wound = planned.solved, planned.wound
    if solved is None or wound is None or not solved.odd_m or not wound.leaves_butts:
        return planned
    if task.budget.over():
        return planned
    # Patterns that know the odd jumbos too may fill them; where they cost more, they are not taken.
    try:
        again = _wound(replace(task, every_length=True), observer)
    except OutOfTimeError:
        return planned
    return min(planned, again, key=_worth)


def _wound(task: RunTask, observer: RunObserver | None) -> PlannedRun:
    chosen = choose_patterns(task, observer)
    return chosen if chosen.solved is None else replace(chosen, wound=wind(chosen.solved))


def _worth(planned: PlannedRun) -> tuple[float, int, int, float]:
    """What is lacking, instructions not kept, set-ups above the cap, cost: the less the better."""
    solved, wound = planned.solved, planned.wound
    if solved is None or wound is None:
        return inf, 0, 0, 0.0
    run, most = wound.plan, solved.heeded.max_set_ups
    return (
        sum(line.lacking_kg for line in run.orders),
        sum(not answer.kept for answer in run.instructions),
        0 if most is None else max(0, run.set_ups - most),
        costs_for(solved.making, solved.mill, solved.settings).of_plan(run, solved.mill.values),
    )


def choose_patterns(task: RunTask, observer: RunObserver | None = None) -> PlannedRun:
    """Choose the patterns of one run and how many sets of each, not yet in order or wound.

    Raises
    ------
    InfeasibleError, OutOfTimeError
        As `plan_run` says.
    """
    grade = task.mill.grade(task.run.grade)
    if grade is None:
        message = f"the mill file has no grade {task.run.grade}; add it or correct the order book"
        raise InfeasibleError(message)
    jumbos = jumbos_for(
        task.run,
        task.mill.for_paper(grade, task.run.grammage_gsm),
        task.stock,
        only_listed=task.only_listed_jumbos,
    )
    if not jumbos.usable_m:
        return PlannedRun(
            wound=None,
            left_out=tuple(LeftOut(order=each.number, why=NO_JUMBO) for each in task.run.orders),
        )
    mill, usable = jumbos.mill, jumbos.usable_m
    task = replace(task, mill=mill)
    pinned = pin_lengths(task.instructions, task.run, mill, usable_m=max(usable))
    steer_m, sets_m = jumbos.max_m, jumbos.sets_m
    if task.every_length:
        steer_m = sets_m = usable
    making = prepare_held(task.run, mill, usable_m=sets_m, also=pinned)
    left_out = tuple(LeftOut(order=order.number, why=why) for order, why in making.stopped)
    if not making.run.orders:
        return PlannedRun(wound=None, left_out=left_out)

    def watch(progress: Progress) -> None:
        if observer is not None:
            observer(
                RunProgress(
                    run=task.run.name,
                    step=progress.step,
                    seconds=progress.seconds,
                    loss_kg=None if progress.loss is None else loss_kg(making, progress.loss),
                    bound_kg=None if progress.bound is None else loss_kg(making, progress.bound),
                )
            )

    rules = any(instruction.what != "set-ups" for instruction in task.instructions)
    budget = task.budget.share(_FREE) if rules else task.budget
    free, charged, free_bound = _solved(task, making, steer_m, budget.share(_SOLVE), watch)
    _require_plan(free, making)
    heeded = heed(
        task.instructions,
        task.run,
        making,
        mill,
        instance=charged,
        free=free,
        free_bound=free_bound,
        usable_m=max(usable),
        budget=task.budget.share(_INSTRUCTED),
        seed=task.settings.seed,
        observer=watch,
    )
    _require_plan(heeded.outcome, making)
    trade = trade_off(
        heeded.instance,
        heeded.outcome,
        budget=task.budget.share(_TRADE, trade_work(task.settings.effort, len(making.run.orders))),
        seed=task.settings.seed,
        observer=watch,
        fixed=heeded.fixed,
        most=heeded.max_patterns,
    )
    solved = Solved(
        making=making,
        mill=mill,
        settings=task.settings,
        charged=heeded.instance,
        outcome=heeded.outcome,
        trade=trade,
        point=_chosen(trade.within(heeded.max_patterns), task.settings, making),
        heeded=heeded.searched(trade, _chosen(trade, task.settings, making)),
        supply=JumboSupply(
            stock=tuple(_in_stock(jumbo) for jumbo in jumbos.listed),
            nominal=None if task.only_listed_jumbos else _nominal(mill, task.place),
            in_order=task.jumbos_in_order,
            min_part_m=mill.winder.min_join_part_m,
        ),
        usable_m=usable,
        odd_m=tuple(m for m in usable if m not in jumbos.max_m),
        start=task.start,
        budget=task.budget,
    )
    return PlannedRun(wound=None, left_out=left_out, solved=solved)


def _solved(
    task: RunTask,
    making: Making,
    usable_m: tuple[int, ...],
    budget: Budget,
    watch: Callable[[Progress], None],
) -> tuple[Outcome, Instance, int]:
    """The bound of the run, and cuts that were sought with butts charged for.

    Returns
    -------
    Outcome
        Cuts, with the loss across the width that they have and the bound on it.
    Instance
        The run with its sets charged for their shares of the butts that they would leave. It
        steers the search; what is proven is proven without it.
    int
        A bound on the loss of that instance.
    """
    charged = steered(making, task.mill, usable_m)
    seed = task.settings.seed
    if charged == making.instance:
        outcome = solve(making.instance, budget=budget, seed=seed, observer=watch)
        return outcome, charged, outcome.bound
    proof = prove(making.instance, budget=budget.share(_PROVE), seed=seed)
    sought = solve(charged, budget=budget, seed=seed, observer=watch)
    if not sought.cuts:
        return proof, charged, proof.bound
    loss = loss_of(making.instance, sought.cuts)
    outcome = replace(
        sought,
        status=Status.OPTIMAL if loss <= proof.bound else Status.FEASIBLE,
        loss=loss,
        bound=proof.bound,
        price_bound=proof.price_bound,
        certificate=proof.certificate,
        clock_stopped=proof.clock_stopped or sought.clock_stopped,
        seconds=proof.seconds + sought.seconds,
    )
    # Charged for butts, no plan loses less than it does without.
    return outcome, charged, max(proof.bound, sought.bound)


def _require_plan(outcome: Outcome, making: Making) -> None:
    if not outcome.cuts and outcome.loss is None:
        message = f"{making.run.name}: no whole plan within the time limit; give more --time-limit"
        raise OutOfTimeError(message)


def _in_stock(jumbo: JumboInStock) -> StockJumbo:
    return StockJumbo(
        name=jumbo.name,
        width_mm=jumbo.width_mm,
        usable_m=jumbo.usable_m,
        loss_start_m=jumbo.loss_start_m,
        loss_end_m=jumbo.loss_end_m,
        nominal=False,
    )


def _chosen(trade: TradeOff, settings: Settings, making: Making) -> ParetoPoint:
    """The point of the trade-off that the settings ask for."""
    kg_a_unit = kg_of_area(1, making.run.grammage_gsm, making.unit_mm) / SCALE
    if settings.give_up_kg is not None:
        return trade.giving_up(settings.give_up_kg / kg_a_unit)
    if settings.trim_cost_per_t is not None and settings.set_up is not None:
        return trade.cheapest(settings.trim_cost_per_t / 1000 * kg_a_unit, settings.set_up)
    return trade.points[0]


def _nominal(mill: Mill, place: int) -> StockJumbo:
    return StockJumbo(
        name=f"R{place}-J",
        width_mm=mill.jumbo.width_mm,
        usable_m=mill.jumbo.usable_m,
        loss_start_m=mill.jumbo.loss_start_m,
        loss_end_m=mill.jumbo.loss_end_m,
    )
