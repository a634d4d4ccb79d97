"""Label data, one row a reel: for other programs to read."""

from __future__ import annotations

import csv
from datetime import date
from io import StringIO

from trimopt.plan.model import Plan
from trimopt.plan.reel_rows import ReelRow, reels_of
from trimopt.report.table_columns import TableColumn
from trimopt.report.words.units import Units
from trimopt.text import for_csv


def _use(reel: ReelRow) -> str:
    if reel.kind == "sheeter":
        return reel.sheeter or "sheeter"
    return "stock" if reel.surplus or reel.for_stock else "customer"


_ORDER = (
    TableColumn("", 0, "text", lambda reel: reel.order, "order"),
    TableColumn("", 0, "text", lambda reel: reel.customer, "customer"),
    TableColumn("", 0, "text", lambda reel: reel.grade, "grade"),
)
_GRAMMAGE = TableColumn("", 0, "count", lambda reel: reel.grammage_gsm, "grammage g/m²")
_BASIS_WEIGHT = TableColumn("", 0, "text", lambda reel: reel.weight, "basis weight")
_REEL = (
    TableColumn("", 0, "mm", lambda reel: reel.width_mm, "width"),
    TableColumn("", 0, "diameter", lambda reel: reel.diameter_mm, "diameter"),
    TableColumn("", 0, "core", lambda reel: reel.core_mm, "core"),
    TableColumn("", 0, "m", lambda reel: reel.length_m, "length"),
    TableColumn("", 0, "kg", lambda reel: reel.mass_kg, "mass"),
    TableColumn("", 0, "text", lambda reel: reel.destination, "destination"),
    TableColumn("", 0, "text", lambda reel: reel.run, "run"),
    TableColumn("", 0, "text", lambda reel: reel.jumbo, "jumbo"),
    TableColumn("", 0, "count", lambda reel: reel.set_number, "set"),
    TableColumn("", 0, "count", lambda reel: reel.position, "position"),
    TableColumn("", 0, "text", _use, "for"),
    TableColumn("", 0, "count", lambda reel: reel.joins, "joins"),
)
"""Headings are in English whatever language the report is in: programs read them."""


def labels_csv(plan: Plan) -> str:
    """Give the label data as text, in the units of the plan, which the headings carry."""
    page, units = StringIO(), Units(plan.written)
    columns = (*_ORDER, _GRAMMAGE if plan.written.metric else _BASIS_WEIGHT, *_REEL)
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(["batch identity", *(column.title(units) for column in columns)])
    for run in plan.runs:
        for reel in reels_of(run):
            values = [f"{reel.issued or plan.number}-{reel.identity}"]
            values += [_text(column, reel, units) for column in columns]
            writer.writerow([for_csv(value) for value in values])
    return page.getvalue()


def _text(column: TableColumn, reel: ReelRow, units: Units) -> str:
    value = column.of(reel)
    if value is None or isinstance(value, (str, date)):
        return str(value or "")
    if column.kind == "kg":
        return f"{float(units.cell(value, 'kg')[0]):.1f}"
    return units.bare(value, column.kind).replace(",", "")
