"""Sets that were run: those of the plan as issued, and what is said to have run since."""

from __future__ import annotations

from trimopt.errors import PlanError
from trimopt.plan.model import Plan, RunPlan
from trimopt.plan.replan import DoneSet, WhatRan


def done_before(run: RunPlan) -> dict[int, DoneSet]:
    """Sets that were run before the plan as issued was made."""
    return {
        row.number: DoneSet(
            run=run.name, number=row.number, length_m=row.length_m, spoiled=row.spoiled
        )
        for block in run.blocks
        for row in block.sets
        if row.done
    }


def require_sets(issued: Plan, ran: WhatRan) -> None:
    """Raise a PlanError where a set is none of the plan, or a spoiled reel none of its set."""
    known = {
        (run.name, row.number): [reel.number for reel in block.reels]
        for run in issued.runs
        for block, row in run.sets_in_blocks
    }
    for each in ran.sets:
        if (each.run, each.number) not in known:
            numbers = [number for run, number in known if run == each.run]
            right = f"its sets are {min(numbers)} to {max(numbers)}" if numbers else (
                f"its runs are {', '.join(run.name for run in issued.runs)}"
            )  # fmt: skip
            raise PlanError(f"plan {issued.number} has no set {each.number} of {each.run}: {right}")
        reels = known[each.run, each.number]
        if not set(each.spoiled) <= set(reels):
            lie = f"its reels lie at {', '.join(map(str, reels))}"
            raise PlanError(f"set {each.number} of {each.run}: spoiled {list(each.spoiled)}: {lie}")
