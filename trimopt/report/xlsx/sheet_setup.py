"""What all sheets of the workbook share: paper, header and footer, and tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties

from trimopt.plan.model import Plan
from trimopt.report.words.plan_words import moment
from trimopt.report.xlsx.styles import Value, put
from trimopt.report.xlsx.text_wrapping import text_lines
from trimopt.text import for_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["Column", "heading_row", "new_sheet", "paper", "run_words", "set_widths", "table"]

_TEXT_KINDS = {"text", "strong"}
_MAX_HEADER = 255  # characters that a spreadsheet program keeps of a header or footer


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a table: heading with its unit, width in characters, kind of figure."""

    heading: str
    width: float
    kind: str = "text"


def run_words(plan: Plan) -> str:
    """Name the runs of a plan for a header: all of them, or how many where they are many."""
    names = [run.name for run in plan.runs]
    text = ", ".join(names)
    return text if len(text) <= 40 else f"{len(names)} runs"


def new_sheet(
    book: Workbook, plan: Plan, title: str, *, wide: bool, run: str = "", heading: str = ""
) -> Worksheet:
    """Add a sheet that prints on A4, and give it; `heading` stands for its title in print."""
    sheet: Worksheet = book.create_sheet(title)
    paper(sheet, plan, heading or title, wide=wide, run=run or run_words(plan))
    return sheet


def paper(sheet: Worksheet, plan: Plan, title: str, *, wide: bool, run: str) -> None:
    """Set a sheet up for A4: margins, fit to width, header with run and date, caution below."""
    page = sheet.page_setup
    page.paperSize = 9  # A4
    page.orientation = "landscape" if wide else "portrait"
    page.fitToWidth = 1
    page.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    margins = sheet.page_margins
    margins.left = margins.right = 0.4
    margins.top, margins.bottom = 0.75, 0.75
    margins.header = margins.footer = 0.3
    sheet.print_options.horizontalCentered = True
    sheet.sheet_view.showGridLines = False

    # One line each: the library writes a line break in a header so that not every program reads it.
    head, foot = sheet.oddHeader, sheet.oddFooter
    assert head is not None
    assert foot is not None
    head.left.text = _escaped(f"Plan {plan.number} · {plan.winder}", 60)
    head.center.text = _escaped(f"{title} · {run}", 80)
    head.right.text = f"{moment(plan.made_at)} · page &P of &N"
    for part in (head.left, head.center, head.right):
        part.size = 9
    foot.center.text = _footer(plan.caution)
    foot.center.size = 7 if wide else 6


def _escaped(text: str, most: int) -> str:
    """Give `text` for a header, where an ampersand is a command, cut to `most` characters."""
    text = for_workbook(text)
    short = text if len(text) <= most else text[: most - 1] + "…"
    return short.replace("&", "&&")


def _footer(caution: str) -> str:
    text = _escaped(" ".join(caution.split()), 10_000)
    if len(text) > _MAX_HEADER - 10:
        return "Planning document: heed the caution on the first sheet."
    return text


def set_widths(sheet: Worksheet, columns: Sequence[Column], first: int = 1) -> None:
    """Give the columns of a sheet their widths."""
    for offset, column in enumerate(columns):
        sheet.column_dimensions[get_column_letter(first + offset)].width = column.width


def heading_row(sheet: Worksheet, row: int, columns: Sequence[Column], *, first: int = 1) -> None:
    """Write the headings of a table."""
    for offset, column in enumerate(columns):
        put(sheet, (row, first + offset), column.heading, "text", "plan heading")
    lines = max(text_lines(column.heading, column.width, bold=True) for column in columns)
    sheet.row_dimensions[row].height = 6 + 14.5 * lines


def table(
    sheet: Worksheet,
    row: int,
    columns: Sequence[Column],
    rows: Iterable[Sequence[Value]],
    *,
    first: int = 1,
    strong: Iterable[int] = (),
) -> int:
    """Write a table, headings first, and give the row after it.

    `strong` lists the table's rows, from 0, that are written in bold.
    """
    heading_row(sheet, row, columns, first=first)
    bold = set(strong)
    at = row
    for index, values in enumerate(rows):
        at += 1
        lines = 1
        for offset, (column, value) in enumerate(zip(columns, values, strict=True)):
            words = column.kind in _TEXT_KINDS
            strongly = index in bold or column.kind == "strong"
            style = "plan strong" if strongly else "plan text"
            if not words:
                style = "plan strong number" if strongly else "plan number"
            put(sheet, (at, first + offset), value, column.kind, style)
            if isinstance(value, str):
                lines = max(lines, text_lines(value, column.width, bold=strongly))
        sheet.row_dimensions[at].height = 4 + 14.5 * lines
    return at + 1
