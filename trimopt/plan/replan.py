"""A plan that was run in part: what was run of it, and the plan of the rest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from trimopt.plan.difference import PlanDifference
from trimopt.plan.model import Plan

_TAPE_MM = 10  # a running web is not measured more exactly


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneSet:
    """A set that was run, by its run's name and its number.

    `length_m` is what was wound; None: as planned. `spoiled` are positions, from the front side,
    whose reels are no good: they are owed again.
    """

    run: str
    number: int
    length_m: int | None = None
    spoiled: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatRan:
    """What was run of a plan.

    `jumbo_m` are jumbos whose length was measured, as it was when they were new, `jumbo_mm` those
    whose width was; `stopped` is how long the winder stood; `warnings` say what of a filled-in
    sheet was read out of sight or not read.
    """

    sets: tuple[DoneSet, ...] = ()
    jumbo_m: tuple[tuple[str, int], ...] = ()
    jumbo_mm: tuple[tuple[str, float], ...] = ()
    stopped: timedelta = timedelta(0)
    warnings: tuple[str, ...] = ()

    def narrower(self, plan: Plan) -> dict[str, tuple[float, float]]:
        """Jumbos with sets still to run that were measured narrower than planned: both, mm."""
        done = {(each.run, each.number) for each in self.sets}
        measured = dict(self.jumbo_mm)
        return {
            jumbo.name: (measured[jumbo.name], float(jumbo.width_mm))
            for run in plan.runs
            for jumbo in run.jumbos
            if measured.get(jumbo.name, jumbo.width_mm) < jumbo.width_mm - _TAPE_MM
            and any(
                jumbo.name in row.jumbos and not row.done and (run.name, row.number) not in done
                for row in run.sets
            )
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Replan:
    """The plan of the rest beside the plan as issued. `plan` has no number as yet.

    `forbidden` says of sets that would have been kept why they are not, `warnings` what the book
    and a filled-in sheet may say by mistake.
    """

    issued: Plan
    plan: Plan
    difference: PlanDifference
    now: datetime
    forbidden: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def signed(self, by: str, why: str) -> Plan:
        """The plan as it is to be issued: who had it planned again, and why."""
        return replace(self.plan, revised_by=by, revised_why=why)
