"""What is said of held enquiries, in lists and for programs."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from trimopt.book.model import paper_weight, unit_system_of
from trimopt.mill.model import UnitChoice
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

if TYPE_CHECKING:
    from trimopt.book.model import Order
    from trimopt.fit.answer import Answer
    from trimopt.ledger.holds import Hold
    from trimopt.mill import Mill


def offered_text(order: Order, mill: Mill | None) -> str:
    """Give what somebody was offered: how much, of which width and paper, in the mill's units."""
    choice = UnitChoice() if mill is None else mill.units
    units = Units(choice.written(unit_system_of((order,))))
    grade = None if mill is None else mill.grade(order.grade)
    sides = [order.width_mm, *([] if order.chop_mm is None else [order.chop_mm])]
    return text(
        "held.offered",
        quantity=units.said(order.quantity, order.unit.value),
        size=units.several(sides, "mm", " × "),
        grade=order.grade,
        grammage=paper_weight(order.grammage_gsm, (), grade, units.written),
    )


def held_as(answer: Answer, held: Order, mill: Mill) -> str:
    """Give the line that says what was held, and how many reels the answer makes of it."""
    key = "held.surplus" if answer.surplus_kg else "held.other_number"
    made = text(key, count=answer.reels) if answer.other_number else ""
    offered = offered_text(held, mill)
    return text("held.held_as", number=held.number, until=held.held_until, offered=offered) + made


def held_text(hold: Hold, on: date, mill: Mill | None) -> str:
    """Give a line of the list: number, until when, for whom, what; or why it is held no more."""
    order = hold.order
    return text(
        "held.line",
        number=order.number,
        until=_ended(hold, on) or text("held.until", until=order.held_until),
        customer=f"{order.customer}  " if order.customer else "",
        offered=offered_text(order, mill),
        winder=hold.winder,
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
        "mill": hold.mill,
        "winder": hold.winder,
        "customer": order.customer,
        "grade": order.grade,
        "grammage_gsm": order.grammage_gsm,
        "width_mm": float(order.width_mm),
        "chop_mm": None if order.chop_mm is None else float(order.chop_mm),
        "quantity": float(order.quantity),
        "unit": order.unit.value,
    }
