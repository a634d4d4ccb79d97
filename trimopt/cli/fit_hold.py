"""What `trimopt fit` asks of the ledger: what is held already, and holding what was answered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import click

from trimopt.cli import ledger_options
from trimopt.cli.options import together
from trimopt.cli.output import say

if TYPE_CHECKING:
    from trimopt import Answer, Ledger, Mill, Order, Plan

_MAX_DAYS = 366


hold_options = together(
    ledger_options.ledger_option,
    click.option(
        "--hold",
        metavar="DATE|DAYS",
        help="Hold it until the end of that day, such as 2026-12-04, or of so many days from now.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """The ledger, what is held there today, and until when the answer is to be held, if at all."""

    ledger: Ledger | None
    held: tuple[Order, ...]
    on: date
    until: date | None

    def before(self, plan: Plan | None) -> tuple[Order, ...]:
        """What goes before an enquiry: held in the ledger, or where none is named, in the plan."""
        if self.ledger is not None or plan is None:
            return self.held
        ends = ((each, each.held_until) for each in plan.request.held)
        return tuple(each for each, until in ends if until is not None and self.on <= until)

    def hold(self, answer: Answer, mill: Mill) -> Order | None:
        """Hold what was answered, where that is asked for and it fits.

        Raises
        ------
        HeldMeanwhileError
            Somebody else has held something since.
        LedgerError
            It is held already, or the ledger refuses.
        """
        if self.ledger is None or self.until is None:
            return None
        from trimopt import RequestError, hold_enquiry

        counted = [each.number for each in self.held]
        try:
            return hold_enquiry(answer, mill, self.ledger, self.until, on=self.on, counted=counted)
        except RequestError as error:
            say(f"nothing is held: {error}", err=True)
            return None


def holding_of(hold: str | None, named: str | None, mill: Mill, *, quiet: bool) -> Holding:
    """Read what is held, and what is to be.

    Raises
    ------
    click.UsageError
        `hold` is no day, or a past one; or there is no ledger to hold it in.
    LedgerError
        The ledger cannot be read.
    """
    day = ledger_options.today()
    until = None if hold is None else _day(hold, day)
    find = ledger_options.find_ledger if until is None else ledger_options.require_ledger
    ledger = find(named, mill, quiet=quiet)
    if ledger is None:
        return Holding(ledger=None, held=(), on=day, until=None)
    if not ledger.is_there() and until is None and not quiet:
        say("there is no ledger yet, so nothing is held", err=True)
    return Holding(ledger=ledger, held=ledger_options.held_now(ledger, mill), on=day, until=until)


def _day(text: str, on: date) -> date:
    try:
        in_days = text.isascii() and text.isdigit() and len(text) <= 4
        day = on + timedelta(days=int(text)) if in_days else date.fromisoformat(text)
    except ValueError:
        message = f"--hold {text}: no day; write it like 2026-12-04, or days from now, such as 7"
        raise click.UsageError(message) from None
    if not on <= day <= on + timedelta(days=_MAX_DAYS):
        message = (
            f"--hold {text}: name a day from today, {on}, on, and not more than {_MAX_DAYS} days on"
        )
        raise click.UsageError(message)
    return day
