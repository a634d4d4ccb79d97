"""A ledger as callers hold it: plans kept, what was run recorded, the trend read."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import URL

from trimopt.book.model import Order
from trimopt.errors import types_checked
from trimopt.ledger.holds import Hold, hold_in, holds_in, release_in
from trimopt.ledger.kept_plans import KeptPlan, keep_in, kept_id, numbers_in
from trimopt.ledger.ledger_file import is_there, migrate, reading, writing
from trimopt.ledger.plan_chain import newest_after, standing
from trimopt.ledger.recorded_sets import Recorded, entries_of, record
from trimopt.ledger.trend_model import Asked
from trimopt.plan.model import Plan

if TYPE_CHECKING:
    from trimopt.ledger.match_rows import Entry
    from trimopt.ledger.trend_model import Trend


@dataclass(frozen=True, slots=True)
class Ledger:
    """A ledger at a place; every method opens it, and raises LedgerError where it refuses."""

    url: URL

    def migrate(self) -> tuple[str, ...]:
        """Bring an older ledger up to date, as every method does, and name the steps it lacked."""
        return migrate(self.url)

    def numbers(self) -> tuple[str, ...]:
        """The numbers of all plans in it, which is there to be written in."""
        with writing(self.url) as connection:
            return numbers_in(connection)

    @contextmanager
    def numbering(
        self, plan: Plan, stem: str
    ) -> Iterator[tuple[tuple[str, ...], str, Callable[[Plan], KeptPlan]]]:
        """Hold the ledger while a plan is numbered, so that two desks get two numbers.

        Gives the numbers of all plans in it, that of the plan of the same book (`stem` is its
        name) which this one replaces, and what keeps an issued plan.
        """
        with writing(self.url) as connection:
            replaces = standing(connection, plan, stem)
            yield numbers_in(connection), replaces, partial(keep_in, connection)

    @types_checked
    def keep(self, plan: Plan) -> KeptPlan:
        """Keep an issued plan, as `trimopt.ledger.kept_plans.keep_in` says."""
        with writing(self.url) as connection:
            return keep_in(connection, plan)

    def is_there(self) -> bool:
        """Whether there is a ledger yet; none is made."""
        return is_there(self.url)

    def holds(self, mill_name: str | None = None, winder: str | None = None) -> tuple[Hold, ...]:
        """All that was ever held on a winder, oldest first; None: whichever."""
        with reading(self.url) as connection:
            return holds_in(connection, mill_name, winder)

    @types_checked
    def held(self, mill_name: str, winder: str, *, on: date) -> tuple[Order, ...]:
        """What is held on a winder on a day; nothing where there is no ledger yet."""
        every = self.holds(mill_name, winder) if self.is_there() else ()
        return tuple(each.order for each in every if each.in_force(on))

    @types_checked
    def hold(
        self, order: Order, mill_name: str, winder: str, *, on: date, counted: Sequence[str] = ()
    ) -> Order:
        """Hold an enquiry until its day, as `trimopt.ledger.holds.hold_in` says."""
        with writing(self.url) as connection:
            return hold_in(connection, order, mill_name, winder, on=on, counted=counted)

    @types_checked
    def release(self, number: str, *, on: date) -> None:
        """Release a held enquiry, as `trimopt.ledger.holds.release_in` says."""
        with writing(self.url) as connection:
            release_in(connection, number, on=on)

    def record(
        self,
        plan: Plan | str,
        actuals: str | os.PathLike[str],
        *,
        replace: bool = False,
        take_back: bool = False,
    ) -> Recorded:
        """Record what was run, as `trimopt.ledger.recorded_sets.record` says."""
        return record(plan, Path(actuals), self.url, replace=replace, take_back=take_back)

    @types_checked
    def recorded(self, plan: Plan) -> list[Entry]:
        """What is recorded of a plan of this ledger, set by set."""
        with reading(self.url) as connection:
            return entries_of(plan, connection)

    @types_checked
    def newest_after(self, plan: Plan) -> str:
        """The number of the plan that stands in place of a plan by now; empty where that does."""
        with reading(self.url) as connection:
            plan_id = kept_id(connection, plan)
            return "" if plan_id is None else newest_after(connection, plan_id)

    @types_checked
    def trend(
        self,
        *,
        begins: date | None = None,
        ends: date | None = None,
        by: str = "month",
        grade: str = "",
        winder: str = "",
        target_percent: float | None = None,
        shifts: Sequence[int] = (6, 14, 22),
    ) -> Trend:
        """Sum what was planned and run from `begins` to `ends`, period by period.

        Parameters
        ----------
        begins, ends
            First and last day; None: no limit.
        by
            Length of a period: shift, day, week, month or year.
        target_percent
            Trim loss of the full web width that the mill aims at.
        shifts
            Hours at which shifts begin.
        """
        from trimopt.ledger.trend_sums import trend  # noqa: PLC0415  it brings numpy

        asked = Asked(begins=begins, ends=ends, grade=grade, winder=winder)
        return trend(self.url, asked, by=by, target_percent=target_percent, shifts=shifts)
