"""A plan that a person edited: changed runs worked out anew, and all runs put in turn again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Book, Instruction
from trimopt.errors import PlanError
from trimopt.mill.model import Mill
from trimopt.plan.difference import difference_of
from trimopt.plan.model import Plan, RunPlan
from trimopt.plan.planning.replanning.revised_rest import next_plan, revise_rest
from trimopt.plan.planning.replanning.sets_changed import as_held
from trimopt.plan.planning.request_settings import shift_begins
from trimopt.plan.planning.revising.edited_run import edited_run, wanted
from trimopt.plan.planning.revising.revised_run import RevisedRun, revised_run
from trimopt.plan.planning.schedule.runs_in_turn import in_turn
from trimopt.plan.revision import EditedPlan, EditFault, Revision


def revise(edited: EditedPlan, book: Book, mill: Mill) -> Revision:
    """Rebuild a plan as it was edited.

    Raises
    ------
    PlanError
        The plan was made from another book or mill file, or has other runs than the plan as issued.
    """
    issued = edited.issued
    _require_same(edited, book, mill)
    pairs = tuple(zip(issued.runs, edited.plan.runs, strict=True))
    if all(wanted(was) == wanted(now) for was, now in pairs):
        plan = replace(issued, approved_by=edited.plan.approved_by)
        return Revision(edited=edited, faults=(), plan=plan, difference=difference_of(issued, plan))
    book = with_held(book, issued.request.held)
    if issued.replanned is not None:
        return revise_rest(edited, book, mill)
    start = issued.settings.start or shift_begins(book)
    made: list[RevisedRun] = []
    for was, now in pairs:
        same = wanted(was) == wanted(now)
        case = None if same else edited_run(now, was, book, mill, issued.settings)
        made.append(_as_issued(was) if case is None else revised_run(case, start))
    faults = [
        replace(fault, what=issued.written.translated(fault.what))
        for each in made
        for fault in each.faults
    ]
    runs = [each.plan for each in made if each.plan is not None]
    if len(runs) < len(made):
        return Revision(edited=edited, faults=tuple(faults), plan=None, difference=None)
    held = [as_held(run, was, issued.number) for run, was in zip(runs, issued.runs, strict=True)]
    plan = replace(
        next_plan(issued, in_turn(held, start, mill.winder), book, mill),
        request=replace(issued.request, ways_out=False),
        ways_out=(),  # of the runs as they were
    )
    numbers_of = {run.name: each.issued_numbers for run, each in zip(runs, made, strict=True)}
    faults += _after_the_shift(plan, numbers_of)
    difference = difference_of(issued, plan)
    return Revision(edited=edited, faults=tuple(faults), plan=plan, difference=difference)


def _as_issued(run: RunPlan) -> RevisedRun:
    numbers = tuple(each.number for each in run.sets)
    return RevisedRun(plan=run, faults=(), issued_numbers=numbers)


def _require_same(edited: EditedPlan, book: Book, mill: Mill) -> None:
    issued = edited.issued
    for name, was, now in (
        ("order book", issued.book, book),
        ("mill file", issued.mill, mill),
    ):
        if was.fingerprint != now.fingerprint:
            raise PlanError(
                f"{now.source} is not the {name} that plan {issued.number} was made from, or was "
                "changed since: put it back as it was, or plan anew"
            )
    runs = [[run.name for run in plan.runs] for plan in (issued, edited.plan)]
    if runs[0] != runs[1]:
        raise PlanError(
            f"the plan as edited has the runs {', '.join(runs[1])}; plan {issued.number} has "
            f"{', '.join(runs[0])}, and keeps them in this order"
        )


def _after_the_shift(plan: Plan, numbers_of: Mapping[str, tuple[int, ...]]) -> Iterator[EditFault]:
    """The first set that is finished when the shift is over."""
    until = plan.settings.until
    for run in plan.runs:
        for each in run.sets:
            if until is not None and each.finish is not None and each.finish > until:
                yield EditFault(
                    run=run.name,
                    sets=(numbers_of[run.name][each.number - 1],),
                    what=f"finished at {each.finish:%H:%M}; the shift ends at {until:%H:%M}",
                )
                return


def given_up(plan: Plan, instruction: Instruction, run_name: str, why: str) -> Plan:
    """The plan with an instruction answered in one of its runs: given up."""
    runs = []
    for run in plan.runs:
        answers = tuple(
            replace(each, kept=False, why=why)
            if run.name == run_name and each.instruction == instruction
            else each
            for each in run.instructions
        )
        runs.append(run if answers == run.instructions else replace(run, instructions=answers))
    return replace(plan, runs=tuple(runs))
