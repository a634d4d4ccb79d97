"""The orders: what was asked, what is planned, what differs, and who must decide something."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.plan.model import OrderLine, Plan
from trimopt.report.words.plan_words import (
    attention_first,
    needs_attention,
    number,
    size_text,
    state_text,
    why_text,
    written_text,
)
from trimopt.report.xlsx.sheet_setup import Column, new_sheet, set_widths, table
from trimopt.report.xlsx.styles import Value, merge, put

if TYPE_CHECKING:
    from openpyxl import Workbook

__all__ = ["ORDER_COLUMNS", "add_orders"]

ORDER_COLUMNS = (
    Column(heading="Order", width=13, kind="strong"),
    Column(heading="Customer", width=22),
    Column(heading="Size", width=17),
    Column(heading="Unit", width=8),
    Column(heading="Asked", width=9, kind="count"),
    Column(heading="Made before", width=9, kind="count"),
    Column(heading="Allowed now", width=17),
    Column(heading="Planned", width=10, kind="count"),
    Column(heading="Difference", width=11, kind="count"),
    Column(heading="Ordered kg", width=9, kind="kg"),
    Column(heading="Delivered kg", width=10, kind="kg"),
    Column(heading="Surplus kg", width=9, kind="kg"),
    Column(heading="Due", width=15, kind="moment"),
    Column(heading="Finished", width=15, kind="moment"),
    Column(heading="State", width=14),
    Column(heading="Why, and remarks", width=32),
)
"""Quantities are in the order's unit; the difference is planned less what was still asked."""


def add_orders(book: Workbook, plan: Plan) -> None:
    """Add the orders run by run, in each those first that need attention."""
    sheet = new_sheet(book, plan, "Orders", wide=True)
    set_widths(sheet, ORDER_COLUMNS)
    last = len(ORDER_COLUMNS)
    put(sheet, (1, 1), "Orders", "text", "plan title")
    sheet.row_dimensions[1].height = 30
    row = 2
    for each in plan.left_out:
        put(sheet, (row, 1), each.order, "text", "plan strong")
        put(sheet, (row, 2), f"LEFT OUT: {each.why}", "text", "plan strong")
        merge(sheet, row, 2, last)
        sheet.row_dimensions[row].height = 20
        row += 1
    for run in plan.runs:
        put(sheet, (row, 1), run.name, "text", "plan section")
        merge(sheet, row, 1, last)
        sheet.row_dimensions[row].height = 26
        lines = attention_first(run)
        strong = [index for index, line in enumerate(lines) if needs_attention(line)]
        row = table(sheet, row + 1, ORDER_COLUMNS, [_row(line) for line in lines], strong=strong)
    sheet.freeze_panes = "B2"
    sheet.print_title_rows = "1:1"


def _row(line: OrderLine) -> tuple[Value, ...]:
    allowed = f"{number(line.least, 1)}–{number(line.most, 1)}"
    if line.least == line.most:
        allowed = f"just {number(line.least, 1)}"
    remarks = [why_text(line), line.remarks, line.packing, line.winding_side, line.destination]
    if line.as_written:
        remarks.append(f"in the book: {written_text(line)}")
    return (
        line.number,
        line.customer,
        size_text(line),
        line.unit,
        line.asked,
        line.made_before,
        allowed,
        line.planned,
        line.planned - (line.asked - line.made_before),
        line.ordered_kg,
        line.delivered_kg,
        line.surplus_kg,
        line.due,
        None if line.lacking else line.finished,  # a part of it is not the order
        state_text(line).upper() if needs_attention(line) else state_text(line),
        "; ".join(text for text in remarks if text),
    )
