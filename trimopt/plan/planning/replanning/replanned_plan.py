"""A plan that was run in part, planned again: from where the winder stands, for the book as it is.

What was run stands as it ran. The rest is planned for what each order still lacks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import count

from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Book, Instruction, LeftOut
from trimopt.budget import Budget
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, Plan, Replanned, Request, RunPlan, Settings
from trimopt.plan.planning.plan_book import plan_of, what_lacks
from trimopt.plan.planning.replanning.rest_afresh import rest_afresh, task_of
from trimopt.plan.planning.replanning.standing import Standing, standing_runs
from trimopt.plan.planning.replanning.whole_run import Rest, whole_run
from trimopt.plan.planning.request_settings import settings_of
from trimopt.plan.planning.schedule.runs_in_turn import by_due
from trimopt.plan.planning.sheeters.sheeter_loads import sheeted
from trimopt.plan.replan import WhatRan

__all__ = ["replanned"]

_SEARCH = 0.9  # of a run's time; the rest is for its bound


def replanned(
    issued: Plan,
    book: Book,
    mill: Mill,
    ran: WhatRan,
    *,
    now: datetime | None,
    request: Request,
    budget: Budget,
) -> Plan:
    """Plan the rest of a plan.

    Parameters
    ----------
    issued
        The plan as issued.
    book, mill
        As they are now.
    ran
        What was run of it.
    now
        When the next set may start; None: when the last set that was run is finished.
    request
        What is asked of the plan.
    budget
        When to end with the best so far.

    Raises
    ------
    PlanError
        As `standing_runs` says.
    InfeasibleError, OutOfTimeError
        As `make_plan` says.
    """
    book.require_clean(leave_out_faulty=request.leave_out_faulty)
    settings = settings_of(book, mill, request)
    own, book = book, with_held(book, request.held)
    standing = standing_runs(issued, book, mill, ran)
    now = now or _finished(standing, settings) + ran.stopped
    asked = dict.fromkeys((*book.instructions, *request.instructions))
    lacking = {one: why for one in asked if (why := what_lacks(one, book))}
    left_out = [*book.left_out, *(LeftOut(order=o.name, why=why) for o, why in lacking.items())]
    planner = _RestPlanner(
        book=book,
        settings=settings,
        asked=tuple(one for one in asked if one not in lacking),
        names=_jumbo_names(issued, standing),
    )
    runs: list[RunPlan] = []
    moment, before = now, None
    order = _in_turn(standing)
    for case, part in zip(order, budget.shares(len(order)), strict=True):
        rest, out = planner.rest(case, moment, before, part)
        left_out += out
        if rest.blocks or case.head:
            run = whole_run(case, rest, settings=settings, start=moment, before=before, budget=part)
            runs.append(run)
            moment, before = max(moment, run.finish or moment), run.blocks[-1]
    if left_out and not runs:
        said = "\n".join(f"  {each.order}: {each.why}" for each in left_out)
        raise InfeasibleError(f"no order of {book.source} can be made\n{said}")
    planned, loads = sheeted(runs, mill)
    plan = plan_of(own, mill, request, settings, runs=planned, loads=loads, left_out=left_out)
    goes_on = Replanned(now=now, keep_until=now)
    return replace(plan, replaces=issued.number, replanned=goes_on)


def _finished(standing: Sequence[Standing], settings: Settings) -> datetime:
    """When the last set that was run is finished; where none was, when the shift begins."""
    ends = [
        row.finish
        for case in standing
        for block in case.head
        for row in block.sets
        if row.finish is not None
    ]
    assert settings.start is not None
    return max(ends, default=settings.start)


def _in_turn(standing: Sequence[Standing]) -> list[Standing]:
    """Runs that sets were run of as issued, then the others in order of their earliest due time."""
    begun = [case for case in standing if case.head]
    return [*begun, *sorted((c for c in standing if not c.head), key=lambda c: by_due(c.run))]


def _jumbo_names(issued: Plan, standing: Sequence[Standing]) -> dict[str, str]:
    """What the nominal jumbos of each run are called, before their number: as they were issued."""
    names: dict[str, str] = {}
    for run in issued.runs:
        for jumbo in run.jumbos:
            if jumbo.nominal:
                names.setdefault(run.name, jumbo.name.rpartition(" ")[0])
    free = (name for name in map("R{}-J".format, count(1)) if name not in names.values())
    return {case.run.name: names.get(case.run.name) or next(free) for case in standing}


@dataclass(frozen=True, kw_only=True)
class _RestPlanner:
    """Plans what runs still lack."""

    book: Book
    settings: Settings
    asked: tuple[Instruction, ...]
    names: dict[str, str]  # of nominal jumbos, before their number, by run

    def rest(
        self, case: Standing, start: datetime, before: Block | None, budget: Budget
    ) -> tuple[Rest, tuple[LeftOut, ...]]:
        """The rest of a run, and its orders that cannot be made."""
        lacking = case.lacking(case.head)
        if not case.requires(lacking):
            return Rest(orders=case.run, jumbos={}), ()
        task = task_of(
            case,
            lacking,
            self.book,
            settings=self.settings,
            start=start,
            before=case.head[-1] if case.head else before,
            instructions=tuple(
                one for one in self.asked if one.concerns(case.run.grade, case.run.grammage_gsm)
            ),
            budget=budget.share(_SEARCH),
        )
        return rest_afresh(case, task, self.names)
