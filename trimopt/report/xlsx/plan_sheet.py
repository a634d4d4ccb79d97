"""A sheet of a plan's workbook, set up for print: header with plan and run, caution below."""

from __future__ import annotations

from trimopt.plan.model import Plan
from trimopt.report.words.texts import text
from trimopt.report.words.units import moment
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, header_text

_MAX_FOOTER = 245  # characters that a spreadsheet program keeps of a footer, less its commands


def add_sheet(
    book: Workbook, plan: Plan, title: str, *, wide: bool, run: str = "", heading: str = ""
) -> SheetWriter:
    """Add a sheet that prints on A4; `heading` stands for its title in print."""
    sheet = book.add(title)
    names = ", ".join(each.name for each in plan.runs)
    run = run or (names if len(names) <= 40 else text("plan.runs", count=len(plan.runs)))
    shown = text("plan.sheet_title", title=heading or title, run=run)
    foot = header_text(text("plan.caution"), 10_000)
    sheet.paper(
        wide=wide,
        head=(
            header_text(text("plan.short_title", number=plan.number, winder=plan.winder), 60),
            header_text(shown, 80),
            f"{moment(plan.made_at)} · {text('plan.page')}",
        ),
        foot=foot if len(foot) <= _MAX_FOOTER else text("plan.caution_in_front"),
        foot_pt=7 if wide else 6,
    )
    return sheet
