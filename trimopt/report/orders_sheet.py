"""The orders: what was asked, what is planned, what differs, and who must decide something."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.plan.model import OrderLine, Plan
from trimopt.report.looks import Value, merge, put
from trimopt.report.sheet import Column, new_sheet, set_widths, table
from trimopt.report.words import attention_first, needs_attention, number, size_text, written_text

if TYPE_CHECKING:
    from openpyxl import Workbook

__all__ = ["ORDER_COLUMNS", "add_orders", "still_asked"]

ORDER_COLUMNS = (
    Column(heading="Order", width=12, kind="strong"),
    Column(heading="Customer", width=20),
    Column(heading="Run", width=28),
    Column(heading="Size", width=15),
    Column(heading="Unit", width=8),
    Column(heading="Asked", width=10, kind="count"),
    Column(heading="Made before", width=9, kind="count"),
    Column(heading="Allowed now", width=15),
    Column(heading="Planned", width=10, kind="count"),
    Column(heading="Difference", width=10, kind="count"),
    Column(heading="Ordered kg", width=10, kind="kg"),
    Column(heading="Delivered kg", width=10, kind="kg"),
    Column(heading="Surplus kg", width=9, kind="kg"),
    Column(heading="Due", width=16, kind="time"),
    Column(heading="Finished", width=16, kind="time"),
    Column(heading="State", width=13, kind="strong"),
    Column(heading="Why, and remarks", width=34),
)
"""Quantities are in the order's unit; the difference is planned less what was still asked."""


def still_asked(line: OrderLine) -> Value:
    """Give what is still asked of an order, in its unit."""
    return line.asked - line.made_before


def add_orders(book: Workbook, plan: Plan) -> None:
    """Add the orders, those that need attention first."""
    sheet = new_sheet(book, plan, "Orders", wide=True)
    set_widths(sheet, ORDER_COLUMNS)
    lines = [(run.name, line) for run in plan.runs for line in attention_first(run)]
    lines.sort(key=lambda pair: not needs_attention(pair[1]))
    rows = [_row(name, line) for name, line in lines]
    strong = [index for index, (_, line) in enumerate(lines) if needs_attention(line)]
    after = table(sheet, 1, ORDER_COLUMNS, rows, strong=strong)
    for each in plan.left_out:
        put(sheet, (after, 1), each.order, "text", "plan strong")
        put(sheet, (after, 2), f"LEFT OUT: {each.why}", "text", "plan strong")
        merge(sheet, after, 2, len(ORDER_COLUMNS))
        sheet.row_dimensions[after].height = 20
        after += 1
    sheet.freeze_panes = "C2"
    sheet.print_title_rows = "1:1"
    sheet.auto_filter.ref = f"A1:{sheet.cell(1, len(ORDER_COLUMNS)).coordinate}"


def _row(run: str, line: OrderLine) -> tuple[Value, ...]:
    allowed = f"{number(line.least, 1)}–{number(line.most, 1)}"
    if line.least == line.most:
        allowed = f"just {number(line.least, 1)}"
    remarks = [line.text, line.remarks, line.packing, line.winding_side, line.destination]
    if line.as_written:
        remarks.append(f"in the book: {written_text(line)}")
    return (
        line.number,
        line.customer,
        run,
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
        line.finished,
        line.state.upper() if needs_attention(line) else line.state,
        "; ".join(text for text in remarks if text),
    )
