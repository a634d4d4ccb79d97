"""The sheet of what a plan changes against the one that it goes on from."""

from __future__ import annotations

from trimopt.plan.difference import PlanDifference
from trimopt.plan.model import Plan
from trimopt.report.words.replan_words import all_change_lines
from trimopt.report.words.texts import text
from trimopt.report.xlsx.plan_sheet import add_sheet
from trimopt.report.xlsx.workbook_writer import Workbook, text_lines

_WIDTH = 100


def add_changes(book: Workbook, plan: Plan, difference: PlanDifference) -> None:
    """Add a line for each thing that the difference says."""
    sheet = add_sheet(book, plan, text("sheet.changes"), wide=False)
    sheet.widths([_WIDTH])
    sheet.put((1, 1), text("replan.changes", number=difference.before), "text", "title")
    sheet.height(1, 30)
    for row, line in enumerate(all_change_lines(plan, difference), start=2):
        sheet.put((row, 1), line, "text", "note", text_wrap=True)
        sheet.height(row, 16 * text_lines(line, _WIDTH))
