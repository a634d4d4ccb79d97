"""Label data, one row a reel: for other programs to read."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from trimopt.plan.model import Plan
from trimopt.plan.reel_rows import ReelRow, reels_of
from trimopt.report.plan_tables import REEL_LIST
from trimopt.report.table_columns import TableColumn
from trimopt.report.words.units import Units
from trimopt.text import csv_text


def _use(reel: ReelRow) -> str:
    if reel.kind == "sheeter":
        return reel.sheeter or "sheeter"
    return "stock" if reel.surplus or reel.for_stock else "customer"


_NAMED = {column.key: replace(column, heading=column.key) for column in REEL_LIST}
_NAMED["for"] = replace(_NAMED["for"], of=_use)
_WEIGHT = {
    True: TableColumn("", 0, "count", lambda reel: reel.grammage_gsm, "grammage g/m²"),
    False: TableColumn("", 0, "text", lambda reel: reel.weight, "basis weight"),
}
_REEL = (
    "width", "diameter", "core", "length", "mass", "destination", "run", "jumbo", "set", "position",
    "for", "joins",
)  # fmt: skip
"""Headings are in English whatever language the report is in: programs read them."""


def labels_csv(plan: Plan) -> str:
    """Give the label data as text, in the units of the plan, which the headings carry.

    Reels of sets that were run before a plan was replanned bear their labels: they are left out.
    """
    units = Units(plan.written)
    columns = (
        _NAMED["order"],
        _NAMED["customer"],
        TableColumn("", 0, "text", lambda reel: reel.grade, "grade"),
        _WEIGHT[plan.written.metric],
        *(_NAMED[key] for key in _REEL),
    )
    rows = [["batch identity", *(column.title(units) for column in columns)]]
    for run in plan.runs:
        done = {row.number for row in run.sets if row.done}
        for reel in reels_of(run):
            if reel.set_number in done:
                continue
            values = (_text(column, reel, units) for column in columns)
            rows.append([f"{reel.issued or plan.number}-{reel.identity}", *values])
    return csv_text(rows)


def _text(column: TableColumn, reel: ReelRow, units: Units) -> str:
    value = column.of(reel)
    if value is None or isinstance(value, (str, date)):
        return str(value or "")
    if column.kind == "kg":
        return f"{float(units.cell(value, 'kg')[0]):.1f}"
    return units.bare(value, column.kind).replace(",", "")
