"""The sheet that the crew fills in: what was run, set by set, for the ledger to read back."""

from __future__ import annotations

from trimopt.ledger.as_run_columns import MAX_FIGURES, REASONS, TITLE
from trimopt.plan.model import Plan
from trimopt.report.table_columns import TableColumn
from trimopt.report.words.texts import text
from trimopt.report.xlsx.plan_sheet import add_sheet
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, text_lines

__all__ = ["COLUMNS", "HEADING_ROW", "add_as_run"]

HEADING_ROW = 3


def _jumbos(row: tuple[str, str, object]) -> str:
    return " + ".join(stretch.jumbo for stretch in row[2].stretches)  # type: ignore[attr-defined]


_GIVEN = (
    TableColumn("", 12, "text", lambda row: row[0], "Plan"),
    TableColumn("", 28, "text", lambda row: row[1], "Run"),
    TableColumn("", 5, "count", lambda row: row[2].number, "Set"),
    TableColumn("", 9, "text", _jumbos, "Jumbo"),
    TableColumn("", 9, "m", lambda row: row[2].length_m, "Planned length m"),
)
COLUMNS = (
    *_GIVEN,
    TableColumn("", 6, "text", heading="Done"),
    TableColumn("", 9, "m", heading="Length wound m"),
    TableColumn("", 9, "count", heading="Reels rejected"),
    TableColumn("", 17, "text", heading="Reason"),
    TableColumn("", 9, "mm", heading="Jumbo width mm"),
    TableColumn("", 9, "m", heading="Jumbo length m"),
    TableColumn("", 9, "mm", heading="Edge trim front mm"),
    TableColumn("", 9, "mm", heading="Edge trim back mm"),
    TableColumn("", 9, "min", heading="Minutes stopped"),
    TableColumn("", 26, "text", heading="Remark"),
)
"""One row a set; the first five are filled in, the rest are the crew's."""


def add_as_run(book: Workbook, plan: Plan) -> None:
    """Add the sheet to be filled in, with a row for every set of the plan."""
    sheet = add_sheet(book, plan, TITLE, wide=True)
    sheet.columns(COLUMNS)
    last = len(COLUMNS)
    sheet.span(1, (1, last), text("as_run.title"), "title")
    sheet.span(2, (1, last), text("as_run.note"), "note")
    sheet.height(1, 30)
    sheet.headings(HEADING_ROW, COLUMNS)
    row = HEADING_ROW
    for run in plan.runs:
        for each in (each for block in run.blocks for each in block.sets):
            row += 1
            subject = (plan.number, run.name, each)
            for column, given in enumerate(_GIVEN, start=1):
                value = given.value(subject, book.units)
                sheet.put((row, column), value, given.kind, "given")
            for column, asked in enumerate(COLUMNS[len(_GIVEN) :], start=len(_GIVEN) + 1):
                sheet.put((row, column), None, asked.kind, "entry")
            sheet.height(row, 22 * text_lines(run.name, COLUMNS[1].width))
    if row > HEADING_ROW:
        _rules(sheet, row)
    sheet.frozen(HEADING_ROW + 1, 4, repeat=(HEADING_ROW, HEADING_ROW))


def _rules(sheet: SheetWriter, last: int) -> None:
    """Let each column take only what belongs there."""
    choices = {"Done": ["yes", "no"], "Reason": list(REASONS)}
    for at, column in enumerate(COLUMNS):
        name = column.heading
        if name in choices:
            rule: dict[str, object] = {"validate": "list", "source": choices[name]}
            message = text("as_run.choose")
        elif name in MAX_FIGURES:
            most = round(sheet.book.units.cell(MAX_FIGURES[name], column.kind)[0])
            rule = {
                "validate": "integer" if column.kind == "count" else "decimal",
                "criteria": "between", "minimum": 0, "maximum": most,
            }  # fmt: skip
            message = text("as_run.figure", most=most)
        else:
            continue
        rule |= {"error_title": column.title(sheet.book.units), "error_message": message}
        sheet.sheet.data_validation(HEADING_ROW, at, last - 1, at, rule)
