"""What is said of held enquiries, in lists and for programs."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from trimopt.report.words.texts import text
from trimopt.report.words.units import METRIC

if TYPE_CHECKING:
    from trimopt.book.model import Order
    from trimopt.fit.answer import Answer
    from trimopt.ledger.holds import Hold


def offered_text(order: Order) -> str:
    """Give what somebody was offered: how much, of which width and paper."""
    sides = [order.width_mm, *([] if order.chop_mm is None else [order.chop_mm])]
    return text(
        "held.offered",
        quantity=METRIC.said(order.quantity, order.unit.value),
        size=METRIC.several(sides, "mm", " × "),
        grade=order.grade,
        grammage=METRIC.said(order.grammage_gsm, "gsm"),
    )


def held_as(answer: Answer, held: Order) -> str:
    """Give the line that says what was held, and how many reels the answer makes of it."""
    key = "held.surplus" if answer.surplus_kg else "held.other_number"
    made = text(key, count=answer.reels) if answer.other_number else ""
    offered = offered_text(held)
    return text("held.held_as", number=held.number, until=held.held_until, offered=offered) + made


def held_text(hold: Hold, on: date) -> str:
    """Give a line of the list: number, until when, for whom, what; or why it is held no more."""
    order = hold.order
    return text(
        "held.line",
        number=order.number,
        until=_ended(hold, on) or text("held.until", until=order.held_until),
        customer=f"{order.customer}  " if order.customer else "",
        offered=offered_text(order),
    )


def _ended(hold: Hold, on: date) -> str:
    """What ended it; empty where it is held."""
    if hold.in_force(on):
        return ""
    return hold.ended or text("held.over", until=hold.order.held_until)


def held_fields(hold: Hold, on: date) -> dict[str, Any]:
    """Give the same as plain fields: widths mm, quantities in their unit."""
    order = hold.order
    return {
        "number": order.number,
        "held_until": str(order.held_until),
        "in_force": hold.in_force(on),
        "ended": _ended(hold, on),
        "held_at": f"{hold.held_at.isoformat(timespec='seconds')}Z",
        "customer": order.customer,
        "grade": order.grade,
        "grammage_gsm": order.grammage_gsm,
        "width_mm": float(order.width_mm),
        "chop_mm": None if order.chop_mm is None else float(order.chop_mm),
        "quantity": float(order.quantity),
        "unit": order.unit.value,
    }
