"""Whether the lines of a book are more than the mill can make: the largest of them are faults."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from trimopt.book.model import Order
from trimopt.book.order_line import Line
from trimopt.book.quantities import ordered_kg
from trimopt.book.row_reader import Table
from trimopt.book.written_figures import as_text
from trimopt.errors import Fault
from trimopt.mill import Mill

__all__ = ["within_the_mill"]


def within_the_mill(table: Table, lines: Sequence[Line], mill: Mill) -> list[Line]:
    """The lines, the largest without their orders where all are more than the mill can make.

    They are taken from the largest down until the rest is within the mill file's `max_book_t`.
    """
    orders = {line.row: line.order for line in lines if line.order is not None}
    tonnes = {row: _tonnes(order, mill) for row, order in orders.items()}
    total = 0.0
    beyond: dict[int, Fault] = {}
    for row, own in sorted(tonnes.items(), key=lambda item: item[1]):
        total += own
        if total <= mill.max_book_t:
            continue
        wrong = f"{own:,.0f} t"
        if own <= mill.max_book_t:
            wrong += f", and with the smaller lines {total:,.0f} t"
        beyond[row] = Fault(
            where=table.where,
            row=row,
            column=table.headings["quantity"].text,
            value=_written(orders[row]),
            wrong=f"{wrong}: more than the mill can make of one book ({mill.max_book_t:,.0f} t)",
            right="a smaller quantity or another unit, or a larger max_book_t in the mill file",
        )
    return [
        replace(line, order=None, faults=(*line.faults, beyond[line.row]))
        if line.row in beyond
        else line
        for line in lines
    ]


def _written(order: Order) -> str:
    """The quantity as the book has it."""
    whole = order.quantity.denominator == 1
    figure = order.quantity if whole else float(order.quantity)
    return dict(order.as_written).get("quantity", as_text(f"{figure} {order.unit.value}"))


def _tonnes(order: Order, mill: Mill) -> float:
    """What is still to be made of an order, t; endless where no number holds it."""
    grade = mill.grade(order.grade)
    assert grade is not None  # it was read against this mill
    try:
        mass_kg = ordered_kg(
            mill,
            grade,
            grammage_gsm=order.grammage_gsm,
            width_mm=order.width_mm,
            chop_mm=order.chop_mm,
            max_diameter_mm=order.max_diameter_mm,
            core_mm=order.core_mm,
            max_reel_mass_kg=order.max_reel_mass_kg,
            quantity=max(order.quantity - order.made, 0 * order.quantity),
            unit=order.unit,
        )
    except OverflowError:
        return math.inf
    return mass_kg / 1000
