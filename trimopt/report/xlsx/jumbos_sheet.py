"""The jumbos of every run: what each one is, what is wound from it, and what is left of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.plan.model import JumboUse, Plan, RunPlan
from trimopt.report.words.plan_words import sets_on, unused_texts
from trimopt.report.xlsx.sheet_setup import Column, new_sheet, set_widths, table
from trimopt.report.xlsx.styles import Value, merge, put

if TYPE_CHECKING:
    from openpyxl import Workbook

__all__ = ["JUMBO_COLUMNS", "add_jumbos"]

JUMBO_COLUMNS = (
    Column(heading="Run", width=28),
    Column(heading="Jumbo", width=13, kind="strong"),
    Column(heading="From", width=10),
    Column(heading="Width mm", width=10, kind="mm"),
    Column(heading="Length m", width=10, kind="m"),
    Column(heading="Start loss m", width=9, kind="m"),
    Column(heading="Sets", width=14),
    Column(heading="Wound m", width=10, kind="m"),
    Column(heading="Butt m", width=9, kind="m"),
    Column(heading="End loss m", width=9, kind="m"),
    Column(heading="Carried forward m", width=12, kind="m"),
    Column(heading="Butt kg", width=9, kind="kg"),
    Column(heading="Carried forward kg", width=12, kind="kg"),
)
"""Start loss, wound, butt, end loss and what is carried forward add up to the length."""


def add_jumbos(book: Workbook, plan: Plan) -> None:
    """Add one row a jumbo, in the order in which they are unwound."""
    sheet = new_sheet(book, plan, "Jumbos", wide=True)
    set_widths(sheet, JUMBO_COLUMNS)
    rows = [_row(run, jumbo) for run in plan.runs for jumbo in run.jumbos]
    row = table(sheet, 1, JUMBO_COLUMNS, rows) + 1
    said = unused_texts(plan)
    for at, text in enumerate(["Listed jumbos not used", *said] if said else [], start=row):
        put(sheet, (at, 1), text, "text", "plan section" if at == row else "plan text")
        merge(sheet, at, 1, len(JUMBO_COLUMNS))
    sheet.freeze_panes = "C2"
    sheet.print_title_rows = "1:1"


def _row(run: RunPlan, jumbo: JumboUse) -> tuple[Value, ...]:
    a_metre_kg = float(jumbo.width_mm) * run.grammage_gsm / 1e6
    return (
        run.name,
        jumbo.name,
        "nominal" if jumbo.nominal else "stock",
        jumbo.width_mm,
        jumbo.length_m,
        jumbo.loss_start_m,
        sets_on(run, jumbo.name),
        jumbo.wound_m,
        jumbo.butt_m,
        jumbo.loss_end_m,
        jumbo.carried_forward_m,
        jumbo.butt_m * a_metre_kg,
        jumbo.carried_forward_m * a_metre_kg,
    )
