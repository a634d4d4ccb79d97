"""An edited run worked out anew: its sets, orders, balance and proof, with what does not hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from trimopt.plan.model import OrderLine, RunPlan
from trimopt.plan.planning.revising.edited_run import EditedRun
from trimopt.plan.planning.revising.set_faults import set_faults
from trimopt.plan.planning.revising.wound_again import WoundAgain, off_named_jumbos, wound_again
from trimopt.plan.planning.schedule.order_lines import order_lines
from trimopt.plan.planning.schedule.run_assembly import balance_of, jumbos_of, set_rows
from trimopt.plan.planning.schedule.run_proof import proof_of_blocks
from trimopt.plan.proof_data import InstructionAnswer
from trimopt.plan.reel_rows import largest_mm
from trimopt.plan.revision import EditFault
from trimopt.plan.states import LACKING, OrderState
from trimopt.winding import Laying, timetable

GIVEN_UP = "given up when the plan was revised by hand"
_SLIP_KG = 0.05


def revised_run(case: EditedRun, start: datetime) -> tuple[RunPlan | None, tuple[EditFault, ...]]:
    """Work an edited run out anew. Its times begin at `start`; runs are put in turn later.

    Returns
    -------
    RunPlan or None
        None where its sets cannot be wound.
    tuple of EditFault
        What does not hold of it.
    """
    faults = set_faults(case)
    if faults:
        more = off_named_jumbos(case)[1] if case.other_jumbos else ()
        return None, (*faults, *more)
    wound = wound_again(case)
    if not wound.layings:
        return None, wound.faults
    plans = [_plan(case, wound, laying, start) for laying in wound.layings]
    judged = [(tuple(order_faults(case.issued, plan)), plan) for plan in plans]
    # Other lengths are taken where they lose less, and harm no order that these do not.
    faults, plan = min(judged, key=lambda each: (len(each[0]), _lost_kg(each[1])))
    return plan, faults


def _lost_kg(plan: RunPlan) -> float:
    return plan.balance.used_kg - plan.balance.delivered_kg


def _plan(case: EditedRun, wound: WoundAgain, laying: Laying, start: datetime) -> RunPlan:
    """The figures of the run, by the builders of every plan.

    The trade-off and prices of instructions were those of the plan as issued, and bounds on knife
    moves and jumbo metres were taken for its patterns and lengths: they fall away.
    """
    issued, mill = case.issued, case.mill
    laid = [(each.block, each.stretches) for each in laying.sets]
    changes = [(block.set_up, block.knife_moves) for block in wound.blocks]
    times = timetable(laid, changes, mill.winder, start)

    def diameter_mm(block: int, length_m: int) -> float:
        return largest_mm(issued, wound.blocks[block], length_m)

    rows = set_rows(laying.sets, times.sets, mill.winder, diameter_mm)
    blocks = tuple(
        replace(block, sets=tuple(rows[at]), diameter_mm=largest_mm(issued, block, block.length_m))
        for at, block in enumerate(wound.blocks)
    )
    states = {line.number: line.state for line in issued.orders}
    short = [number for number, state in states.items() if state is OrderState.SHORT]
    over = OrderState.CARRIED_OVER in states.values()
    lines = order_lines(case.making, mill, blocks, carried_over=over, short_before=short)
    jumbos = jumbos_of(laying.butts, mill.winder)
    set_ups = sum(block.set_up for block in blocks[1:])
    return replace(
        issued,
        proof=replace(
            proof_of_blocks(case.making, mill, case.issued.proof, blocks),
            metres_bound=None,
            metres_bound_on="",
            metres_used=sum(jumbo.wound_m + jumbo.butt_m for jumbo in jumbos),
        ),
        blocks=blocks,
        jumbos=jumbos,
        orders=lines,
        balance=balance_of(case.making, mill, blocks, jumbos, lines),
        set_ups=set_ups,
        set_ups_bound=None if set_ups < (issued.set_ups_bound or 0) else issued.set_ups_bound,
        knife_moves=sum(block.knife_moves for block in blocks),
        knife_moves_bound=None,
        minutes=times.minutes,
        start=times.start if blocks else None,
        finish=times.finish if blocks else None,
        trade_off=(),
        instructions=tuple(_answer(each, set_ups) for each in issued.instructions),
        instructions_price=None,
    )


def _answer(answer: InstructionAnswer, set_ups: int) -> InstructionAnswer:
    """The answer without its price; a cap on set-ups is kept where it is kept now."""
    answer = replace(answer, price=None)
    if answer.instruction.what != "set-ups":
        return answer
    if set_ups <= (answer.instruction.number or 0):
        return replace(answer, kept=True, why="", nearest="")
    why = GIVEN_UP if answer.kept else answer.why
    return replace(answer, kept=False, why=why, nearest=f"{set_ups} set-ups, as planned")


def order_faults(issued: RunPlan, plan: RunPlan) -> Iterator[EditFault]:
    """Orders that the edit leaves short or over, and that it makes shorter or more over."""
    was = {line.number: line for line in issued.orders}
    for line in plan.orders:
        before = was[line.number]
        words = ""
        if line.state in LACKING and line.lacking_kg > before.lacking_kg + _SLIP_KG:
            words = f"short: {_amounts(line, before)}; {float(line.allowed[0]):,.10g} is the least"
        elif line.surplus_kg > before.surplus_kg + _SLIP_KG:
            words = f"over: {_amounts(line, before)}; {float(line.allowed[1]):,.10g} is the most"
        if words:
            yield EditFault(run=plan.name, order=line.number, what=words)


def _amounts(line: OrderLine, before: OrderLine) -> str:
    planned, issued = (f"{float(each.planned):,.10g}" for each in (line, before))
    return f"{planned} {line.unit} planned in place of {issued}"
