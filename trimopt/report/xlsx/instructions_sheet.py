"""The sheet Instructions: the plan's sets as the order book writes them, to be copied or filled in.

It has the headings of the order book's own sheet. Rows can be copied into that, or a word can be
written here in place of *free* and the workbook itself given to ``trimopt plan --instructions``.
What was asked of this plan stands first, so that a plan made with this workbook keeps it.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from trimopt.book.book_columns import FREE, INSTRUCTION_COLUMNS
from trimopt.book.instruction_line import pattern_text
from trimopt.book.model import Instruction, InstructionPiece
from trimopt.plan.model import Block, Plan, RunPlan
from trimopt.report.xlsx.sheet_setup import Column, heading_row, new_sheet, set_widths
from trimopt.report.xlsx.styles import Value, put
from trimopt.report.xlsx.text_wrapping import text_lines

if TYPE_CHECKING:
    from openpyxl import Workbook

__all__ = ["TITLE", "add_instructions"]

TITLE = "Instructions"
_RULES = (
    "Every set of this plan, as the order book's sheet Instructions writes it. Copy rows there, or",
    "write here, in place of free: pin (these sets as they are; without a set length: at any), or",
    "forbid (never this pattern). Rows of your own may say together, apart or set-ups. Then:",
    "trimopt plan BOOK --instructions THIS FILE. What was asked of this plan stands first.",
)
_HEADING_ROW = 7
_PATTERN = next(at for at, column in enumerate(INSTRUCTION_COLUMNS) if column.key == "pattern")
_SPARE = 20  # rows for instructions of one's own
_KINDS = {"core": "mm", "length": "m", "number": "count"}
_WIDTHS = {"instruction": 12.0, "run": 28.0, "orders": 20.0, "pattern": 78.0, "remarks": 30.0}


def add_instructions(book: Workbook, plan: Plan) -> None:
    """Add the sheet that may be filled in."""
    sheet = new_sheet(book, plan, TITLE, wide=True)
    columns = [
        Column(
            heading=column.heading,
            width=_WIDTHS.get(column.key, 10.0),
            kind=_KINDS.get(column.key, "text"),
        )
        for column in INSTRUCTION_COLUMNS
    ]
    set_widths(sheet, columns)
    put(sheet, (1, 1), "Instructions: a hand on the next plan", "text", "plan title")
    sheet.row_dimensions[1].height = 30
    for row, words in enumerate(_RULES, start=2):
        put(sheet, (row, 1), words, "text", "plan label")
    heading_row(sheet, _HEADING_ROW, columns)
    rows = [_values(*pair) for pair in _asked(plan)]
    rows += [values for run in plan.runs for block in run.blocks for values in _sets(run, block)]
    rows += [(None,) * len(columns)] * _SPARE
    for row, values in enumerate(rows, start=_HEADING_ROW + 1):
        for at, (column, value) in enumerate(zip(columns, values, strict=True), start=1):
            put(sheet, (row, at), value, column.kind, "plan entry")
        lines = text_lines(str(values[_PATTERN] or ""), columns[_PATTERN].width)
        sheet.row_dimensions[row].height = 4 + 14.5 * lines
    rule = DataValidation(
        type="list", formula1=f'"pin,forbid,together,apart,set-ups,{FREE}"', allow_blank=True
    )
    rule.add(f"A{_HEADING_ROW + 1}:A{_HEADING_ROW + len(rows)}")
    sheet.add_data_validation(rule)
    sheet.freeze_panes = f"B{_HEADING_ROW + 1}"
    sheet.print_title_rows = f"{_HEADING_ROW}:{_HEADING_ROW}"
    sheet.print_area = f"A1:{get_column_letter(len(columns))}{_HEADING_ROW + len(rows)}"


def _asked(plan: Plan) -> list[tuple[Instruction, str]]:
    """What was asked of this plan, each once, with its run's name where it is for one run."""
    found = [(answer.instruction, run.name) for run in plan.runs for answer in run.instructions]
    return list(
        {
            instruction: (instruction, name if instruction.grade else "")
            for instruction, name in found
        }.values()
    )


def _values(instruction: Instruction, run: str) -> tuple[Value, ...]:
    pattern = pattern_text(instruction.pattern) if instruction.pattern else None
    orders = ", ".join(instruction.orders) or None
    core, length, number = instruction.core_mm, instruction.length_m, instruction.number
    return (instruction.what, run or None, orders, pattern, core, length, number, None)


def _sets(run: RunPlan, block: Block) -> list[tuple[Value, ...]]:
    """A row for each set length of a block, the longest first."""
    counts: Counter[tuple[str, int | None, str]] = Counter(
        (p.order, p.ups, p.sheeter) for p in block.positions if p.kind != "broke"
    )
    pattern = pattern_text(
        InstructionPiece(count=count, order=order, ups=ups, sheeter=sheeter)
        for (order, ups, sheeter), count in counts.items()
    )
    lengths = Counter(row.length_m for row in block.sets)
    remark = f"block {block.number} of this plan"
    return [
        (FREE, run.name, None, pattern, block.core_mm, length_m, sets, remark)
        for length_m, sets in sorted(lengths.items(), reverse=True)
    ]
