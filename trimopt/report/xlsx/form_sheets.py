"""Sheets to be filled in: Instructions, for the next plan, and As run, for the ledger to read back.

The first has the plan's sets under the headings of the order book's own sheet. Rows can be copied
into that, or a word can be written here in place of *free* and the workbook itself given to
``trimopt plan --instructions``.
What was asked of this plan stands first, so that a plan made with this workbook keeps it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from trimopt.book.book_columns import FREE
from trimopt.book.instruction_line import pattern_text
from trimopt.book.model import Instruction, InstructionPiece
from trimopt.book.table_kinds import INSTRUCTION_COLUMNS
from trimopt.ledger.as_run_file import (
    AS_RUN_COLUMNS,
    JOIN_AT,
    REASONS,
    TITLE as AS_RUN,
    AsRunColumn,
)
from trimopt.paper import Written
from trimopt.plan.model import Block, Plan, RunPlan
from trimopt.report.table_columns import TableColumn, Value
from trimopt.report.words.texts import text
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, add_sheet, text_lines

TITLE = "Instructions"
_HEADING_ROW = 7
_PATTERN = next(at for at, column in enumerate(INSTRUCTION_COLUMNS) if column.key == "pattern")
_SPARE = 20  # rows for instructions of one's own
_KINDS = {"core": "mm", "length": "m", "number": "count"}
_WIDTHS = {"instruction": 12.0, "run": 28.0, "orders": 20.0, "pattern": 78.0, "remarks": 30.0}


def add_instructions(book: Workbook, plan: Plan) -> None:
    """Add the sheet that may be filled in."""
    sheet = add_sheet(book, plan, TITLE, wide=True)
    columns = [
        TableColumn(
            "", _WIDTHS.get(each.key, 10.0), _KINDS.get(each.key, "text"), heading=each.heading
        )
        for each in INSTRUCTION_COLUMNS
    ]
    sheet.columns(columns)
    sheet.title_line(text("instructions.title"))
    for row, words in enumerate(text("instructions.rules").split("\n"), start=2):
        sheet.put((row, 1), words, "text", "label")
    sheet.headings(_HEADING_ROW, columns)
    rows = [_values(*pair, book.units.written) for pair in _asked(plan)]
    rows += [_row_of(run, block) for run in plan.runs for block in run.blocks]
    rows += [(None,) * len(columns)] * _SPARE
    for row, values in enumerate(rows, start=_HEADING_ROW + 1):
        for at, (column, value) in enumerate(zip(columns, values, strict=True), start=1):
            sheet.put((row, at), value, column.kind, "entry")
        sheet.fit_height(row, (str(values[_PATTERN] or ""), columns[_PATTERN].width))
    last = _HEADING_ROW + len(rows)
    choices = ["pin", "forbid", "together", "apart", "set-ups", FREE]
    rule = {"validate": "list", "source": choices}
    sheet.sheet.data_validation(_HEADING_ROW, 0, last - 1, 0, rule)
    sheet.frozen(_HEADING_ROW + 1, 2, repeat=(_HEADING_ROW, _HEADING_ROW))
    sheet.sheet.print_area(0, 0, last - 1, len(columns) - 1)


def _asked(plan: Plan) -> list[tuple[Instruction, str]]:
    """What was asked of this plan, each once, with its run's name where it is for one run."""
    found = [(answer.instruction, run.name) for run in plan.runs for answer in run.instructions]
    return list(
        {
            instruction: (instruction, name if instruction.grade else "")
            for instruction, name in found
        }.values()
    )


def _values(instruction: Instruction, run: str, written: Written) -> tuple[Value, ...]:
    pattern = pattern_text(instruction.pattern, written) if instruction.pattern else None
    orders = ", ".join(instruction.orders) or None
    core, length, number = instruction.core_mm, instruction.length_m, instruction.number
    return (instruction.what, run or None, orders, pattern, core, length, number, None)


def _row_of(run: RunPlan, block: Block) -> tuple[Value, ...]:
    """A block in one row; its set length stands there where all of its sets have one."""
    counts: Counter[tuple[str, int | None, str]] = Counter(
        (reel.order, reel.ups, reel.sheeter) for reel in block.reels
    )
    pattern = pattern_text(
        InstructionPiece(count=count, order=order, ups=ups, sheeter=sheeter)
        for (order, ups, sheeter), count in counts.items()
    )
    lengths = {row.length_m for row in block.sets}
    length_m = lengths.pop() if len(lengths) == 1 else None
    remark = text("instructions.block", number=block.number)
    return FREE, run.name, None, pattern, block.core_mm, length_m, len(block.sets), remark


AS_RUN_HEADING_ROW = 3  # row of its headings
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
    sheet = add_sheet(book, plan, AS_RUN, wide=True)
    joined = any(len(each.stretches) > 1 for run in plan.runs for each in run.sets)
    both = zip(AS_RUN_COLUMNS, COLUMNS, strict=True)
    columns = [(one, cell) for one, cell in both if joined or one.heading != JOIN_AT]
    shown = [each for _, each in columns]
    sheet.columns(shown)
    last = len(columns)
    sheet.span(1, (1, last), text("as_run.title"), "title")
    sheet.height(1, 30)
    sheet.note(2, text("as_run.note"), shown)
    sheet.headings(AS_RUN_HEADING_ROW, shown)
    row = AS_RUN_HEADING_ROW
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
    if row > AS_RUN_HEADING_ROW:
        _rules(sheet, columns, row)
    sheet.frozen(AS_RUN_HEADING_ROW + 1, 4, repeat=(AS_RUN_HEADING_ROW, AS_RUN_HEADING_ROW))


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
        sheet.sheet.data_validation(AS_RUN_HEADING_ROW, at, last - 1, at, rule)
