"""A plan that a person edited, and what comes of it: what does not hold, and what it does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime

from trimopt.plan.difference import PlanDifference, difference_of
from trimopt.plan.model import SCHEMA, Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class EditedPlan:
    """A plan as a person wants it.

    Parameters
    ----------
    issued
        The plan as it was issued: the figures before.
    plan
        Runs whose blocks say what is wanted: sets in the order in which they are to run, each under
        the number that it was issued under (a set more bears that of the set it was copied from),
        their reels from the front side, front edge, core, length and jumbo. All its other figures
        are taken for stale.
    changes
        What was changed, a sentence each, where that is known.
    """

    issued: Plan
    plan: Plan
    changes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EditFault:
    """One thing that does not hold of an edited plan, and would be right in its place.

    It stands at sets, by the numbers that they were issued under, or at an order, or at neither.
    """

    run: str
    what: str
    sets: tuple[int, ...] = ()
    order: str = ""

    def __str__(self) -> str:
        sets = list(dict.fromkeys(self.sets))
        where = f"set {sets[0]}" if len(sets) == 1 else ""
        if len(sets) > 1:
            rising = sets == list(range(sets[0], sets[0] + len(sets)))
            named = f"{sets[0]} to {sets[-1]}" if rising else ", ".join(map(str, sets))
            where = f"sets {named}"
        if self.order:
            where = f"order {self.order}"
        place = ", ".join(part for part in (self.run, where) if part)
        return f"{place}: {self.what}" if place else self.what


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """What comes of an edited plan.

    `plan` is worked out anew, without a number, so far as it can be laid out: None where it cannot.
    It is to be issued only where `faults` is empty.
    """

    edited: EditedPlan
    faults: tuple[EditFault, ...]
    plan: Plan | None

    @property
    def difference(self) -> PlanDifference | None:
        """What the plan changes of the one that was issued; None where there is no plan."""
        return None if self.plan is None else difference_of(self.edited.issued, self.plan)

    @property
    def changed(self) -> bool:
        """Whether anything runs otherwise than as issued."""
        return self.plan is None or self.plan.runs != self.edited.issued.runs

    def signed(self, by: str, why: str) -> Plan:
        """The plan as it is to be issued: made now, by whom and why."""
        assert self.plan is not None
        return replace(
            self.plan,
            schema=SCHEMA,  # the plan as issued may be of an earlier program
            made_at=datetime.now(tz=UTC).replace(microsecond=0),
            revised_by=by,
            revised_why=why,
        )
