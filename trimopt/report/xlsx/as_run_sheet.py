"""The sheet that the crew fills in: what was run, set by set, for the ledger to read back."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.ledger.as_run_file import AS_RUN_COLUMNS, JOIN_AT, REASONS, TITLE, AsRunColumn
from trimopt.plan.model import Plan
from trimopt.report.table_columns import TableColumn, Value
from trimopt.report.words.texts import text
from trimopt.report.xlsx.plan_sheet import add_sheet
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, text_lines

HEADING_ROW = 3


_LISTED = {"flag": ["yes", "no"], "reason": list(REASONS)}
"""What may be chosen in the cells of a kind of column."""

COLUMNS = tuple(
    TableColumn(
        "", column.width, "text" if column.kind in _LISTED else column.kind, heading=column.heading
    )
    for column in AS_RUN_COLUMNS
)
"""One row a set; what is given is filled in, the rest is the crew's."""


def add_as_run(book: Workbook, plan: Plan) -> None:
    """Add the sheet to be filled in, with a row for every set of the plan that is to run."""
    sheet = add_sheet(book, plan, TITLE, wide=True)
    joined = any(len(each.stretches) > 1 for run in plan.runs for each in run.sets)
    both = zip(AS_RUN_COLUMNS, COLUMNS, strict=True)
    columns = [(one, cell) for one, cell in both if joined or one.heading != JOIN_AT]
    shown = [each for _, each in columns]
    sheet.columns(shown)
    last = len(columns)
    sheet.span(1, (1, last), text("as_run.title"), "title")
    sheet.height(1, 30)
    sheet.note(2, text("as_run.note"), shown)
    sheet.headings(HEADING_ROW, shown)
    row = HEADING_ROW
    for run in plan.runs:
        for each in (each for each in run.sets if not each.done):
            row += 1
            given: dict[str, Value] = {
                "plan": plan.number, "run": run.name, "number": each.number,
                "jumbo": " + ".join(each.jumbos), "planned_m": each.length_m,
                "join_at": ", ".join(book.units.said(metre, "m") for metre in each.joins_at_m),
            }  # fmt: skip
            for at, (column, cell) in enumerate(columns, 1):
                style = "given" if column.given else "entry"
                sheet.put((row, at), given.get(column.field), cell.kind, style)
            sheet.height(row, 22 * text_lines(run.name, COLUMNS[1].width))
    if row > HEADING_ROW:
        _rules(sheet, columns, row)
    sheet.frozen(HEADING_ROW + 1, 4, repeat=(HEADING_ROW, HEADING_ROW))


def _rules(
    sheet: SheetWriter, columns: Sequence[tuple[AsRunColumn, TableColumn]], last: int
) -> None:
    """Let each column take only what belongs there."""
    for at, (column, shown) in enumerate(columns):
        if column.kind in _LISTED:
            rule: dict[str, object] = {"validate": "list", "source": _LISTED[column.kind]}
            message = text("as_run.choose")
        elif column.most is not None:
            most = round(sheet.book.units.cell(column.most, column.kind)[0])
            rule = {
                "validate": "integer" if column.kind == "count" else "decimal",
                "criteria": "between", "minimum": 0, "maximum": most,
            }  # fmt: skip
            message = text("as_run.figure", most=most)
        else:
            continue
        rule |= {"error_title": shown.title(sheet.book.units), "error_message": message}
        sheet.sheet.data_validation(HEADING_ROW, at, last - 1, at, rule)
