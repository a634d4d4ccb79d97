"""Held enquiries in a ledger: numbered, in force until a day, released, or become orders.

Whoever holds says which enquiries the answer counted. Writers come one at a time, so of two who
answered without each other the second is told.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from decimal import Decimal

from sqlalchemy import Connection, select, update

from trimopt.book.model import Order
from trimopt.errors import HeldMeanwhileError, LedgerError
from trimopt.ledger.ledger_tables import holds
from trimopt.plan.json_types import json_type
from trimopt.plan.model import Plan
from trimopt.text import one_form

_NUMBER = "HELD-{}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A held enquiry as the ledger has it; `ended` says by what, and is empty while it is not."""

    order: Order  # with the number and the day
    held_at: datetime  # UTC
    ended: str
    mill: str
    winder: str  # that it is to be made on

    def in_force(self, on: date) -> bool:
        """Whether it is held on a day, its last one among them."""
        until = self.order.held_until
        return not self.ended and until is not None and on <= until


def holds_in(connection: Connection, mill_name: str | None, winder: str | None) -> tuple[Hold, ...]:
    """Give all that was ever held on a winder, oldest first; None: whichever."""
    found = select(holds).order_by(holds.c.id)
    for column, name in ((holds.c.mill_name, mill_name), (holds.c.winder, winder)):
        if name is not None:
            found = found.where(column == name)
    return tuple(
        Hold(
            order=replace(
                json_type(Order).read(json.loads(row["document"], parse_float=Decimal), "", True),
                number=_NUMBER.format(row["id"]),
                held_until=row["until"],
            ),
            held_at=row["held_at"],
            ended=row["ended"],
            mill=row["mill_name"],
            winder=row["winder"],
        )
        for row in connection.execute(found).mappings()
    )


def hold_in(
    connection: Connection,
    order: Order,
    mill_name: str,
    winder: str,
    *,
    on: date,
    counted: Sequence[str],
) -> Order:
    """Hold an enquiry, inside a transaction that writes, and give it with its number.

    Parameters
    ----------
    order
        With the day until which it is held.
    mill_name, winder
        Where it is to be made.
    on
        The day of it.
    counted
        Numbers of the held enquiries that the answer counted.

    Raises
    ------
    HeldMeanwhileError
        Others are held since that answer.
    LedgerError
        Just this is held already, for the same customer.
    """
    every = holds_in(connection, mill_name, winder)
    there = [each.order for each in every if each.in_force(on)]
    same = [each for each in there if _as_asked(each) == _as_asked(order)]
    if same:
        raise LedgerError(
            f"{same[0].number} holds just this until {same[0].held_until}; if another customer "
            "asks, name them apart with --for; if it is the same, release it first: trimopt held "
            f"--release {same[0].number}"
        )
    since = [each.number for each in there if each.number not in counted]
    if since:
        are = f"{since[0]} is" if len(since) == 1 else f"{', '.join(since)} are"
        raise HeldMeanwhileError(
            f"{are} held since this answer, which does not count it; nothing is held: ask again"
        )
    answer = connection.execute(
        holds.insert().values(
            mill_name=mill_name,
            winder=winder,
            held_at=datetime.now(tz=UTC).replace(tzinfo=None),
            until=order.held_until,
            document=json.dumps(json_type(Order).write(order, "")),
            ended="",
        )
    )
    assert answer.inserted_primary_key is not None
    return replace(order, number=_NUMBER.format(answer.inserted_primary_key[0]))


def _as_asked(order: Order) -> Order:
    """What is held, without number, day and units; a customer in capitals is the same."""
    customer = one_form(order.customer).casefold()
    return replace(order, number="", held_until=None, customer=customer, as_written=())


def release_in(connection: Connection, number: str, *, on: date) -> None:
    """Release a held enquiry before its day, inside a transaction that writes.

    Raises
    ------
    LedgerError
        There is none of that number, or it is not held any more.
    """
    row = connection.execute(select(holds).where(holds.c.id == _id(number))).mappings().first()
    if row is None:
        raise LedgerError(f'"{number}" is no held enquiry of this ledger; see: trimopt held')
    if row["ended"] or row["until"] < on:
        why = row["ended"] or f"it ended with {row['until']}"
        raise LedgerError(f"{number} is not held any more: {why}")
    _end(connection, row["id"], "released")


def end_taken_up(connection: Connection, plan: Plan) -> None:
    """Mark what has become an order of a plan: it is held no more, whatever the next book says."""
    for each in plan.taken_up:
        _end(connection, _id(each.held), f"order {each.order} in plan {plan.number}")


def _end(connection: Connection, key: int, by: str) -> None:
    connection.execute(update(holds).where(holds.c.id == key, holds.c.ended == "").values(ended=by))


def _id(number: str) -> int:
    """The key of a held enquiry; 0, which none has, where that is no number of one."""
    digits = number.casefold().removeprefix(_NUMBER.format("").casefold())
    return int(digits) if digits.isascii() and digits.isdigit() and len(digits) < 10 else 0
