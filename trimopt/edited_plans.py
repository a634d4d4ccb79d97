"""A plan that a person edited: read with the plan as issued, rebuilt, and judged by the check."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.api import is_workbook, read_plan
from trimopt.errors import ReportError, types_checked
from trimopt.plan.revision import EditedPlan, EditFault, Revision

if TYPE_CHECKING:
    from trimopt.book.model import Book
    from trimopt.check import Finding
    from trimopt.mill.model import Mill
    from trimopt.plan.model import Plan

_PLAN_FILES = (".json", ".xlsx")


def read_edited(
    path: str | os.PathLike[str],
    issued: str | os.PathLike[str] | None = None,
    *,
    folder: str | os.PathLike[str] = "reports",
) -> EditedPlan:
    """Read a plan that a person edited, with the plan as it was issued.

    Parameters
    ----------
    path
        Its workbook, which carries the plan as issued, or its JSON file.
    issued
        Of a JSON file the plan as issued; default: the JSON file or the workbook of its number,
        beside it or in `folder`.
    folder
        Where plans stand.

    Raises
    ------
    ReportError
        A file cannot be read, or the plan as issued is not there or is another.
    """
    path = Path(path)
    if is_workbook(path):
        return _read_back(path)
    plan = read_plan(path)
    if issued is None:
        places = [where / plan.number for where in (path.parent, Path(folder))]
        files = [place.with_name(place.name + end) for place in places for end in _PLAN_FILES]
        issued = next((file for file in files if file.is_file() and not file.samefile(path)), None)
    if issued is None:
        message = (
            f"{path}: plan {plan.number} as it was issued is neither beside it nor in {folder}; "
            "name its JSON file or its workbook with --plan FILE"
        )
        raise ReportError(message)
    issued = Path(issued)
    was = _read_back(issued).issued if is_workbook(issued) else read_plan(issued)
    if was.number != plan.number:
        message = f"{path} is of plan {plan.number}, and {issued} is {was.number}: name that plan"
        raise ReportError(message)
    return EditedPlan(issued=was, plan=plan)


def _read_back(path: Path) -> EditedPlan:
    from trimopt.report.read_back.plan_from_workbook import read_back  # noqa: PLC0415  slow to load

    return read_back(path)


@types_checked
def revise_plan(edited: EditedPlan, book: Book, mill: Mill) -> Revision:
    """Say what does not hold of a plan that a person edited, and what the edit does.

    All that follows from the edit is worked out anew: knives, web, clock, metres, loads, states of
    orders, balance, numbers. To issue it, give its plan to `write_plan`, with `revised_by` and
    `revised_why` set.

    Parameters
    ----------
    edited
        The plan as a person wants it, and as it was issued.
    book, mill
        What it was made from.

    Raises
    ------
    PlanError
        It was made from another book or mill file, or has other runs than the plan as issued.
    """
    from trimopt.plan.planning.revising.revised_plan import revise  # noqa: PLC0415  slow to load

    revision = revise(edited, book, mill)
    if revision.plan is None:
        return revision
    plan, findings = judged(revision.plan, book, mill)
    revision = replace(revision, plan=plan)
    if findings and not revision.faults:
        faults = (
            EditFault(run=finding.run, what=str(replace(finding, run=""))) for finding in findings
        )
        revision = replace(revision, faults=tuple(faults))
    return revision


def judged(plan: Plan, book: Book, mill: Mill, why: str = "") -> tuple[Plan, tuple[Finding, ...]]:
    """The plan, instructions that it no longer keeps given up, and what the check finds of it.

    The check is the judge of whether an instruction is kept; `why` one is not: default, by hand.
    """
    from trimopt.check import verify_plan  # noqa: PLC0415  slow to load
    from trimopt.plan.planning.revising.revised_plan import given_up  # noqa: PLC0415  the same
    from trimopt.plan.planning.revising.revised_run import GIVEN_UP  # noqa: PLC0415  the same

    findings = verify_plan(plan, book, mill)
    for run in plan.runs:
        for answer in run.instructions:
            places = {(finding.run, finding.where) for finding in findings}
            if answer.kept and (run.name, answer.instruction.name) in places:
                without = given_up(plan, answer.instruction, run.name, why or GIVEN_UP)
                left = verify_plan(without, book, mill)
                if len(left) < len(findings):
                    plan, findings = without, left
    return plan, findings
