"""The sheet that the crew fills in: what was run, set by set, for the ledger to read back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from trimopt.ledger.as_run_columns import MAX_FIGURES, REASONS, TITLE
from trimopt.plan.model import Plan
from trimopt.report.xlsx.sheet_setup import Column, heading_row, new_sheet, set_widths
from trimopt.report.xlsx.styles import Value, merge, put

if TYPE_CHECKING:
    from openpyxl import Workbook

__all__ = ["HEADING_ROW", "add_as_run"]

HEADING_ROW = 3

COLUMNS = (
    Column(heading="Plan", width=12),
    Column(heading="Run", width=28),
    Column(heading="Set", width=5, kind="count"),
    Column(heading="Jumbo", width=9),
    Column(heading="Planned length m", width=9, kind="m"),
    Column(heading="Done", width=6),
    Column(heading="Length wound m", width=9, kind="m"),
    Column(heading="Reels rejected", width=9, kind="count"),
    Column(heading="Reason", width=17),
    Column(heading="Jumbo width mm", width=9, kind="mm"),
    Column(heading="Jumbo length m", width=9, kind="m"),
    Column(heading="Edge trim front mm", width=9, kind="mm"),
    Column(heading="Edge trim back mm", width=9, kind="mm"),
    Column(heading="Minutes stopped", width=9, kind="min"),
    Column(heading="Remark", width=26),
)
"""One row a set; the first five are filled in, the rest are the crew's."""

_GIVEN = 5


def add_as_run(book: Workbook, plan: Plan) -> None:
    """Add the sheet to be filled in, with a row for every set of the plan."""
    sheet = new_sheet(book, plan, TITLE, wide=True)
    set_widths(sheet, COLUMNS)
    last = len(COLUMNS)
    put(sheet, (1, 1), "As run: filled in at the winder", "text", "plan title")
    words = (
        "Grey columns are given. Done: yes or no. Leave blank what was not measured: nothing is "
        "guessed from a blank. One reason a row; more goes into the remark."
    )
    put(sheet, (2, 1), words, "text", "plan note")
    for row in (1, 2):
        merge(sheet, row, 1, last)
    sheet.row_dimensions[1].height = 30
    heading_row(sheet, HEADING_ROW, COLUMNS)
    row = HEADING_ROW
    for run in plan.runs:
        for block in run.blocks:
            for each in block.sets:
                row += 1
                jumbo = " + ".join(stretch.jumbo for stretch in each.stretches)
                given: tuple[Value, ...] = (
                    plan.number, run.name, each.number, jumbo, each.length_m,
                )  # fmt: skip
                for column, value in enumerate(given, start=1):
                    put(sheet, (row, column), value, COLUMNS[column - 1].kind, "plan given")
                for column in range(_GIVEN + 1, last + 1):
                    put(sheet, (row, column), None, "text", "plan entry")
                sheet.row_dimensions[row].height = 22
    if row > HEADING_ROW:
        _rules(book, row)
    sheet.freeze_panes = f"D{HEADING_ROW + 1}"
    sheet.print_title_rows = f"{HEADING_ROW}:{HEADING_ROW}"


def _rules(book: Workbook, last: int) -> None:
    """Let each column take only what belongs there."""
    sheet = book[TITLE]
    choices = ('"yes,no"', 6), ('"' + ",".join(REASONS) + '"', 9)
    for formula, column in choices:
        rule = DataValidation(type="list", formula1=formula, allow_blank=True)
        rule.errorTitle, rule.error = COLUMNS[column - 1].heading, "Choose from the list."
        _apply(rule, column, last)
        sheet.add_data_validation(rule)
    for column, each in enumerate(COLUMNS, start=1):
        if each.heading not in MAX_FIGURES:
            continue
        most = MAX_FIGURES[each.heading]
        rule = DataValidation(
            type="whole" if each.kind == "count" else "decimal",
            operator="between",
            formula1="0",
            formula2=str(most),
            allow_blank=True,
        )
        rule.errorTitle, rule.error = each.heading, f"A number from 0 to {most:,}."
        _apply(rule, column, last)
        sheet.add_data_validation(rule)


def _apply(rule: DataValidation, column: int, last: int) -> None:
    letter = get_column_letter(column)
    rule.add(f"{letter}{HEADING_ROW + 1}:{letter}{last}")
