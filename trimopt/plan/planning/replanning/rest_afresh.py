"""The rest of a run, planned as if nothing of it had been issued."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from trimopt.book.model import Book, Instruction
from trimopt.budget import Budget
from trimopt.making import Run
from trimopt.plan.model import Block, LeftOut, Settings, Stretch
from trimopt.plan.planning.plan_run import RunTask, plan_run
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.replanning.whole_run import Rest
from trimopt.plan.planning.schedule.run_winding import WoundRun
from trimopt.winding import StockJumbo

__all__ = ["rest_afresh", "task_of", "wound_rest"]

_NUMBERED = re.compile(r"(.*?) ?(\d+)")


def task_of(
    case: Standing,
    lacking: Run,
    book: Book,
    *,
    settings: Settings,
    start: datetime,
    before: Block | None,
    instructions: tuple[Instruction, ...],
    budget: Budget,
) -> RunTask:
    """What the planning of the rest needs: orders as they lack, jumbos and knives as they stand."""
    places = () if before is None else (before.beam_mm or before.knives_mm)
    knives = tuple(place for place in places if place is not None)
    winder = replace(case.mill.winder, knives_at_mm=knives or case.mill.winder.knives_at_mm)
    return RunTask(
        place=case.place,
        run=lacking,
        mill=replace(case.mill, winders=(winder,)),
        settings=settings,
        stock=case.stock,
        only_listed_jumbos=book.only_listed_jumbos,
        jumbos_in_order=book.jumbos_in_order,
        start=start,
        budget=budget,
        instructions=instructions,
        jumbo_started=case.started is not None,
    )


def rest_afresh(
    case: Standing, task: RunTask, names: Mapping[str, str]
) -> tuple[Rest, tuple[LeftOut, ...]]:
    """Plan the rest of a run anew, and name its orders that cannot be made."""
    planned = plan_run(task)
    out = {each.order for each in planned.left_out}
    run = replace(
        case.run, orders=tuple(each for each in case.run.orders if each.number not in out)
    )
    if planned.wound is None:
        return Rest(orders=run, jumbos={}), planned.left_out
    return wound_rest(case, planned.wound, run, names), planned.left_out


def wound_rest(case: Standing, wound: WoundRun, run: Run, names: Mapping[str, str]) -> Rest:
    """A rest that was wound, on the jumbos of the whole run.

    Parameters
    ----------
    names
        For each run the name that its nominal jumbos bear, before their number.
    """
    plan = wound.plan
    name_of: dict[str, str] = {}
    jumbos: dict[str, StockJumbo] = {}
    number = nominal_number(case, names[run.name])
    for butt in wound.order.laying.butts:
        name = butt.jumbo.name
        if butt.jumbo.nominal:
            number += 1
            name = f"{names[run.name]} {number}"
        name_of[butt.jumbo.name] = name
        jumbos[name] = replace(butt.jumbo, name=name, started=False)
    started = case.started
    offset = {} if started is None else {started.name: case.wound_m[started.name]}
    return Rest(
        blocks=tuple(_on_jumbos(block, name_of, offset) for block in plan.blocks),
        orders=run,
        lengths=tuple((row.core_mm, row.length_m) for row in plan.set_lengths),
        jumbos=jumbos,
        instructions=tuple(replace(each, price=None) for each in plan.instructions),
        notes=plan.notes,
    )


def _on_jumbos(block: Block, name_of: Mapping[str, str], offset: Mapping[str, int]) -> Block:
    """A block of the rest with its jumbos as the whole run names and measures them."""
    sets = tuple(
        replace(
            row,
            stretches=tuple(
                Stretch(
                    jumbo=name_of[part.jumbo],
                    from_m=part.from_m + offset.get(part.jumbo, 0),
                    to_m=part.to_m + offset.get(part.jumbo, 0),
                )
                for part in row.stretches
            ),
        )
        for row in block.sets
    )
    return replace(block, sets=sets)


def nominal_number(case: Standing, name: str) -> int:
    """The highest number of a nominal jumbo of this name that was opened; 0: none was."""
    found = (_NUMBERED.fullmatch(jumbo.name) for jumbo in case.opened if jumbo.nominal)
    return max((int(each[2]) for each in found if each and each[1] == name), default=0)
