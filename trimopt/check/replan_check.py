"""The check of a plan that goes on from another: what was run stands first, under its numbers."""

from __future__ import annotations

from itertools import pairwise

from trimopt.check.findings import Findings
from trimopt.plan.model import Plan


def check_replanned(plan: Plan, notes: Findings) -> None:
    """Check that sets done are those of a plan that goes on, ahead of all others of their run.

    Their numbers rise, and no position is spoiled that a set has not.
    """
    _check_sets(plan, notes)
    done = sum(row.done for run in plan.runs for row in run.sets)
    if done and plan.replanned is None:
        notes.add("", "sets done", done, "the plan goes on from no other")
    if plan.replanned is not None and plan.replanned.keep_until < plan.replanned.now:
        said = plan.replanned.keep_until, plan.replanned.now
        notes.add("", "sets are kept until", said[0], f"before {said[1]}, when it goes on")


def _check_sets(plan: Plan, notes: Findings) -> None:
    for run in plan.runs:
        rows = run.sets_in_blocks
        for (_, one), (_, other) in pairwise(rows):
            where = f"{run.name}, set {other.number}"
            if other.done and not one.done:
                notes.add(where, "run before all that are still to run", "done", "after others")
            if other.number <= one.number:
                notes.add(where, "number above that of the set before", other.number, one.number)
        for block, row in rows:
            where = f"{run.name}, set {row.number}"
            known = {position.number for position in block.positions if position.kind != "broke"}
            if not set(row.spoiled) <= known or len(set(row.spoiled)) < len(row.spoiled):
                notes.add(where, "spoiled reels, each once", row.spoiled, "no reels of the set")
            # A plan that is not issued yet has no number of its own.
            own = row.issued == plan.number != plan.replaces
            if row.issued and (own or not plan.replaces):
                found = "this plan" if own else "it replaces none"
                notes.add(where, "issued with an earlier plan", row.issued, found)
