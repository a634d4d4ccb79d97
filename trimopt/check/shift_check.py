"""The check of the shift: runs one after another, all of it finished before the shift ends."""

from __future__ import annotations

from datetime import datetime

from trimopt.check.check_formulas import minutes_between
from trimopt.check.findings import Findings
from trimopt.plan.model import Plan, RunPlan
from trimopt.plan.states import OrderState


def _goes_on(run: RunPlan) -> datetime:
    """When the first set starts that is still to run; a run that has none comes first."""
    rows = (row.start for row in run.sets if not row.done)
    return next((start for start in rows if start is not None), datetime.min)  # noqa: DTZ901


def check_shift(plan: Plan, notes: Findings) -> None:
    """Check that runs do not overlap on the winder, and that the shift's end is kept.

    Where the plan has no end of shift, no order can be carried over for want of hours.
    """
    start, until = plan.settings.start, plan.settings.until
    timed = [run for run in plan.runs if run.start is not None and run.finish is not None]
    before = None if start is None else ("the shift begins", start)
    if plan.replanned is not None:
        before = "the plan goes on", plan.replanned.now
    for run in timed if plan.replanned is None else sorted(timed, key=_goes_on):
        assert run.finish is not None
        rows = (row for row in run.sets if not row.done)
        begins = next((row.start for row in rows), None)
        if begins is not None:
            if before is not None and not minutes_between(before[1], begins) >= 0:
                notes.add(run.name, f"starts after {before[0]}", begins, before[1])
            before = f"{run.name} is finished", run.finish
    for run in plan.runs:
        if until is None:
            _check_endless(run, notes)
        else:
            _check_end(run, until, notes)


def _check_end(run: RunPlan, until: datetime, notes: Findings) -> None:
    if run.blocks and run.start is None:
        notes.add(run.name, "has a timetable, for the shift ends", "none", until)
    for row in run.sets:
        if row.finish is not None and not minutes_between(row.finish, until) >= 0:
            where = f"{run.name}, set {row.number}"
            notes.add(where, "finished before the shift ends", row.finish, until)


def _check_endless(run: RunPlan, notes: Findings) -> None:
    for line in run.orders:
        if line.state is OrderState.CARRIED_OVER:
            where = f"{run.name}, order {line.number}"
            notes.add(where, "state", line.state, "the plan has no end of shift")
