"""A plan that was run in part: what was run of it, and the plan of the rest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from trimopt.plan.difference import PlanDifference
from trimopt.plan.model import Plan


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

    `jumbo_m` are jumbos whose length was measured, as it was when they were new; `stopped` is how
    long the winder stood.
    """

    sets: tuple[DoneSet, ...] = ()
    jumbo_m: tuple[tuple[str, int], ...] = ()
    stopped: timedelta = timedelta(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Replan:
    """The plan of the rest beside the plan as issued. `plan` has no number as yet.

    `forbidden` says of sets that would have been kept why they are not, `warnings` what the book
    may say by mistake.
    """

    issued: Plan
    plan: Plan
    difference: PlanDifference
    now: datetime
    forbidden: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
