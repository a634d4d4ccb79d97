"""A plan that a person edited: changed runs worked out anew, and all runs put in turn again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Book, Instruction
from trimopt.errors import PlanError
from trimopt.making import runs_of
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan, RunPlan
from trimopt.plan.planning.replanning.revised_rest import revised_rests
from trimopt.plan.planning.replanning.sets_changed import as_held
from trimopt.plan.planning.request_settings import shift_begins
from trimopt.plan.planning.revising.edited_run import edited_run, wanted
from trimopt.plan.planning.revising.revised_run import revised_run
from trimopt.plan.planning.run_jumbos import unused_jumbos
from trimopt.plan.planning.schedule.runs_in_turn import in_turn
from trimopt.plan.planning.sheeters.sheeter_loads import sheeted
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
        return Revision(edited=edited, faults=(), plan=plan)
    book = with_held(book, issued.request.held)
    revised = _revised_runs if issued.replanned is None else revised_rests
    runs, faults = revised(edited, book, mill)
    said = tuple(replace(each, what=issued.written.translated(each.what)) for each in faults)
    if len(runs) < len(pairs):
        return Revision(edited=edited, faults=said, plan=None)
    planned, loads = sheeted(runs, mill)
    plan = replace(
        issued,
        replaces=issued.number,
        runs=planned,
        loads=loads,
        unused_jumbos=unused_jumbos(book, runs_of(book, mill), mill, planned),
        approved_by="",
        request=replace(issued.request, ways_out=False),
        ways_out=(),  # of the runs as they were
    )
    return Revision(edited=edited, faults=said, plan=plan)


def _revised_runs(
    edited: EditedPlan, book: Book, mill: Mill
) -> tuple[Sequence[RunPlan], list[EditFault]]:
    """The runs in turn, as far as they can be laid out, those that were changed worked out anew."""
    issued = edited.issued
    start = issued.settings.start or shift_begins(book)
    runs: list[RunPlan] = []
    faults: list[EditFault] = []
    for was, now in zip(issued.runs, edited.plan.runs, strict=True):
        plan: RunPlan | None = was
        if wanted(was) != wanted(now):
            case = edited_run(now, was, book, mill, issued.settings)
            plan, wrong = revised_run(case, start)
            faults += wrong
        if plan is not None:
            runs.append(as_held(plan, was, issued.number))
    if len(runs) < len(issued.runs):
        return runs, faults
    timed = in_turn(runs, start, mill.winder)
    return timed, [*faults, *_after_the_shift(timed, edited)]


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


def _after_the_shift(runs: Sequence[RunPlan], edited: EditedPlan) -> Iterator[EditFault]:
    """The first set that is finished when the shift is over, by the number as issued."""
    until = edited.issued.settings.until
    numbers = {run.name: [row.number for row in run.sets] for run in edited.plan.runs}
    for run in runs:
        for number, each in zip(numbers[run.name], run.sets, strict=True):
            if until is not None and each.finish is not None and each.finish > until:
                what = f"finished at {each.finish:%H:%M}; the shift ends at {until:%H:%M}"
                yield EditFault(run=run.name, sets=(number,), what=what)
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
