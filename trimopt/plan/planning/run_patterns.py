"""The patterns of one run: what may be cut, its odd jumbos, the engine's cuts, the trade-off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from math import inf
from typing import NoReturn

from trimopt.book.model import Instruction, JumboInStock, LeftOut
from trimopt.budget import Budget
from trimopt.cutting import EngineParams, Instance, Outcome, Progress, Status, loss_of, prove, solve
from trimopt.errors import InfeasibleError, OutOfTimeError
from trimopt.interrupt import asked_to_stop
from trimopt.making import PreparedRun, Run, prepare_placeable
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, Settings
from trimopt.plan.planning.chosen_run import ChosenRun, ProvenOnce, searched_trade_off, supply_of
from trimopt.plan.planning.instructions.instructed_run import (
    InstructedRun,
    apply_instructions,
    pin_lengths,
)
from trimopt.plan.planning.instructions.instruction_rules import with_rules_of_patterns
from trimopt.plan.planning.objective import Objective, with_butt_costs
from trimopt.plan.planning.odd_jumbos.odd_part import OddPart, plan_odd_jumbos
from trimopt.plan.planning.run_jumbos import NO_JUMBO, RunJumbos, jumbos_for

# Of the time that is left of a run's: for what would let in an order that no set holds; for odd
# jumbos; for its plan without instructions, and then those that price them; for proof and
# patterns. The rest is for the trade-off (`searched_trade_off`) and the winder.
_CURES, _ODD, _FREE, _INSTRUCTED = 0.2, 0.3, 0.5, 0.8
_SOLVE, _PROVE = 0.5, 0.2
# Until it has made whole sets of its linear program it has little that is worth winding: where time
# is short it takes so many seconds an order, and no more than this share.
_SOLVE_S, _IN_HASTE = 0.01, 0.75
# Of a run's work, from where to where each phase takes it, as a rule; shown as progress.
PREPARE_AT, _PROVE_AT, SOLVE_AT = (0.0, 0.03), (0.03, 0.1), (0.1, 0.5)
_INSTRUCTIONS_AT = (0.5, 0.6)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTask:
    """All that one run's planning needs; it can be sent to another process.

    `place` counts the book's runs from 1; nominal jumbos are named by it. `parts` are what the run
    takes of what is left of the budget when it begins: one of all, or one until its patterns are
    chosen and one for the rest, which another process may do later.
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
    weight: float = 1.0  # how long it takes beside the others
    parts: tuple[float, ...] = (1.0,)
    enough_s: float = inf  # seconds of either part, on a slow machine too
    every_length: bool = False  # patterns for every jumbo's length, not for those of most alone
    swift: bool = False  # patterns are sought in one way with little work, and nothing is proven
    loose: bool = False  # its blocks are put among others: their own order along jumbos is not used
    stretched: bool = False  # butts count as far as no length that orders allow fills jumbos
    instructions: tuple[Instruction, ...] = ()
    jumbo_started: bool = False  # the first of its stock is on the unwind
    own_width: bool = False  # its jumbos are those that are left of a run
    issued: tuple[Block, ...] = ()  # their patterns may serve on odd jumbos
    proven: ProvenOnce = field(default_factory=ProvenOnce, compare=False)


_Ready = tuple[RunTask, RunJumbos, PreparedRun]


def choose_patterns(task: RunTask) -> tuple[ChosenRun | None, tuple[LeftOut, ...]]:
    """Choose the patterns of one run and how many sets of each, not yet in order or wound.

    Returns
    -------
    ChosenRun or None
        None where no order of the run can be made.
    tuple of LeftOut
        Its orders that cannot be made, with why.

    Raises
    ------
    InfeasibleError, OutOfTimeError
        As `plan_run` says.
    """
    ready, left_out = _prepared(task)
    return None if ready is None else _chosen(*ready), left_out


def odd_part_of(task: RunTask) -> OddPart | None:
    """The sets on the odd jumbos of a run alone; None where none is worth winding."""
    ready, _ = _prepared(task)
    return None if ready is None else _odd_part(*ready, task.budget)[0]


def joint_bound(task: RunTask) -> ProvenOnce:
    """The joint bound of a run, where no patterns need be known for it.

    Nothing where jumbos are unlike the others, as what these leave depends on patterns, and where
    time ends before it is proven.
    """
    proven, (ready, _) = ProvenOnce(), _prepared(task)
    if ready is not None and not ready[1].odd:
        task, jumbos, making = ready
        proven.least_loss(making, task.mill, jumbos.usable_m, task.budget)
    return proven


def _prepared(task: RunTask) -> tuple[_Ready | None, tuple[LeftOut, ...]]:
    """The run ready to be cut, None where no order of it can be made; and orders left out."""
    grade = task.mill.grade(task.run.grade)
    if grade is None:
        message = f"the mill file has no grade {task.run.grade}; add it or correct the order book"
        raise InfeasibleError(message)
    jumbos = jumbos_for(
        task.run,
        task.mill.for_paper(grade, task.run.grammage_gsm),
        task.stock,
        only_listed=task.only_listed_jumbos,
        in_order=task.jumbos_in_order,
        started=task.jumbo_started,
        own_width=task.own_width,
    )
    if not jumbos.usable_m:
        return None, tuple(LeftOut(order=each.number, why=NO_JUMBO) for each in task.run.ordered)
    usable_m = jumbos.usable_m
    widths = dict.fromkeys(jumbo.width_mm for jumbo in jumbos.odd)
    task = replace(task, mill=jumbos.mill, run=replace(task.run, odd_widths_mm=tuple(widths)))
    pinned = pin_lengths(task.instructions, task.run, task.mill, usable_m=max(usable_m))
    sets_m = usable_m if task.every_length else jumbos.sets_m
    making = prepare_placeable(
        task.run, task.mill, usable_m=sets_m, also=pinned, budget=task.budget.share(_CURES)
    )
    left_out = tuple(LeftOut(order=order.number, why=why) for order, why in making.stopped)
    if not making.run.ordered:
        return None, left_out
    return (task, jumbos, making), left_out


def _chosen(task: RunTask, jumbos: RunJumbos, making: PreparedRun) -> ChosenRun:
    """The patterns of the odd jumbos, then of the rest, and of these the trade-off."""
    settings = task.settings
    odd, making = _odd_part(task, jumbos, making, task.budget.share(_ODD))
    objective = Objective.of_run(making, task.mill, settings)
    instructed = _instructed(task, jumbos, making, _search(task, "pool" if task.loose else "swift"))
    supply = supply_of(
        jumbos, task.place, in_order=task.jumbos_in_order, started=task.jumbo_started
    )
    finished = partial(
        ChosenRun,
        making=making,
        mill=task.mill,
        settings=settings,
        objective=objective,
        instance=instructed.instance,
        outcome=instructed.outcome,
        supply=supply,
        usable_m=jumbos.usable_m,
        odd_m=tuple(m for m in jumbos.usable_m if m not in jumbos.max_m),
        start=task.start,
        budget=task.budget,
        proven=None if task.swift else task.proven,
        odd=odd,
        loose=task.loose,
    )
    return traded_off(objective, instructed, task, finished)


def _search(task: RunTask, swift: str) -> Callable[..., Outcome]:
    """The engine with the effort of the task; of a swift one with another (`EngineParams`)."""
    params = EngineParams.for_effort(swift if task.swift else task.settings.effort)
    return partial(solve, seed=task.settings.seed, params=params)


def _odd_part(
    task: RunTask, jumbos: RunJumbos, making: PreparedRun, budget: Budget
) -> tuple[OddPart | None, PreparedRun]:
    objective = Objective.of_run(making, task.mill, task.settings)
    return plan_odd_jumbos(
        making,
        task.mill,
        jumbos.odd,
        started=task.jumbo_started,
        others_m=sum(each.usable_m for each in jumbos.listed) if jumbos.only_listed else None,
        search=_search(task, "pool"),
        budget=budget,
        seed=task.settings.seed,
        join_cost=objective.join_area(task.mill.winder),
        proven=not task.swift,
        issued=task.issued,
        ruled=partial(
            with_rules_of_patterns, run=task.run, mill=task.mill, instructions=task.instructions
        ),
    )


def _instructed(
    task: RunTask, jumbos: RunJumbos, making: PreparedRun, search: Callable[..., Outcome]
) -> InstructedRun:
    """A plan of the run as it is free, and one that keeps what is asked of it."""
    only_caps = all(instruction.what == "set-ups" for instruction in task.instructions)
    budget = task.budget if only_caps else task.budget.share(_FREE)
    costed_m = jumbos.usable_m if task.every_length else jumbos.max_m
    in_haste_s = min(_SOLVE_S * len(making.run.orders), _IN_HASTE * budget.left_s)
    of_search = budget.share(_SOLVE, min_s=in_haste_s)
    free, instance, free_bound = _solved(task, making, costed_m, of_search, search)
    _require_plan(free, task)
    if task.instructions:
        task.budget.enter("instructions", *_INSTRUCTIONS_AT)
    instructed = apply_instructions(
        task.instructions,
        task.run,
        making,
        task.mill,
        instance=instance,
        free=free,
        free_bound=free_bound,
        usable_m=max(jumbos.usable_m),
        budget=task.budget.share(_INSTRUCTED),
        search=search,
    )
    _require_plan(instructed.outcome, task)
    return instructed


def traded_off(
    objective: Objective,
    instructed: InstructedRun,
    task: RunTask,
    finished: Callable[..., ChosenRun],
) -> ChosenRun:
    """A run, all but its trade-off known (`finished`), with the point of it that costs least."""
    making = instructed.making
    trade = searched_trade_off(
        instructed.instance,
        instructed.outcome,
        settings=task.settings,
        instructed=instructed,
        orders=len(making.run.orders),
        budget=task.budget,
    )
    if not trade.points:
        _no_plan(task)
    return finished(
        trade=trade,
        point=objective.cheapest(trade.within(instructed.max_patterns)),
        instructed=instructed.searched(trade, objective.cheapest(trade)),
    )


def _solved(
    task: RunTask,
    making: PreparedRun,
    usable_m: tuple[int, ...],
    budget: Budget,
    search: Callable[..., Outcome],
) -> tuple[Outcome, Instance, int]:
    """The bound of the run, and cuts that were sought with the costs of butts.

    Returns
    -------
    Outcome
        Cuts, with the loss across the width that they have and the bound on it.
    Instance
        The run with butt costs (`with_butt_costs`); what is proven is proven without them.
    int
        A bound on the loss of that instance.
    """
    costed = with_butt_costs(making, task.mill, usable_m, stretched=task.stretched)
    if costed == making.instance:
        task.budget.enter("patterns", *SOLVE_AT)
        outcome = search(costed, budget=budget, observer=partial(_tell, task.budget, making))
        return outcome, costed, outcome.bound
    task.budget.enter("bound", *_PROVE_AT)
    known = {} if task.swift else task.proven.bounds
    proof = known.get(making.instance)
    if proof is None:
        work = 0 if task.swift else inf
        proof = prove(making.instance, budget=budget.share(_PROVE, work), seed=task.settings.seed)
        known[making.instance] = proof
    _tell(task.budget, making, proof)
    task.budget.enter("patterns", *SOLVE_AT)
    tell = partial(_tell, task.budget, making, bounded=False)
    sought = search(costed, budget=budget, observer=tell)
    if not sought.cuts:
        return proof, costed, proof.bound
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
    # With butt costs no plan loses less than it does without.
    return outcome, costed, max(proof.bound, sought.bound)


def _tell(
    budget: Budget, making: PreparedRun, found: Progress | Outcome, *, bounded: bool = True
) -> None:
    """Tell the watch of the loss across the width, without butts, and of a bound on that."""
    if budget.watch is not None:
        loss = loss_of(making.instance, found.cuts) if found.cuts else None
        budget.watch.found(
            loss_kg=None if loss is None else making.loss_kg(loss),
            bound_kg=making.loss_kg(found.bound) if bounded and found.bound else None,
        )


def _require_plan(outcome: Outcome, task: RunTask) -> None:
    if not outcome.cuts and outcome.loss is None:
        _no_plan(task)


def _no_plan(task: RunTask) -> NoReturn:
    """Say what ended the search: Ctrl-C, the clock, or its own work."""
    why = "no whole plan was found with this effort; ask for more, as with --effort thorough"
    if asked_to_stop():
        why = "interrupted before there was a whole plan"
    elif task.budget.stopped:
        why = "no whole plan within the time limit; give more --time-limit"
    raise OutOfTimeError(f"{task.run.name}: {why}")
