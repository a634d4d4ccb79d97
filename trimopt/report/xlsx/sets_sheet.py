"""The sheet Sets, one row a set, which may be edited, and the plan that the workbook carries.

All other sheets are for print. A hidden sheet carries the whole plan as JSON in pieces, and for
every printed sheet a fingerprint of each row, so that a change made where it has no effect is
found and named (`trimopt.report.read_back.plan_from_workbook`) instead of being passed over.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from trimopt.plan.codec import plan_json
from trimopt.plan.model import Block, Plan, RunPlan, SetRow
from trimopt.report.table_columns import RUN_WIDTH, TableColumn
from trimopt.report.words.texts import text
from trimopt.report.xlsx.workbook_writer import Workbook, add_sheet, text_lines
from trimopt.text import for_json

TITLE = "Sets"
CARRIED = "plan"
MARK = "trimopt plan, carried by the workbook; do not change"
HEADING_ROW = 11
MIXED = "mixed"
SPARE_PLACES = 3
_GIVEN = 3  # columns that say how a set was issued
_PIECE = 30_000  # characters to a cell, which holds 32,767


_Of = Callable[[Any], Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetShape:
    """Its columns: pieces of jumbo and places to a set; cores and sheeters by place, where used."""

    stretches: int
    places: int
    mixed_cores: bool
    sheeters: bool
    broke: str  # what stands in place of an order: a word that is the number of none


def shape_of(plan: Plan) -> SheetShape:
    """Find the shape that holds every set of `plan`, with a few places to spare."""
    blocks = [block for run in plan.runs for block in run.blocks]
    orders = {line.number.casefold() for run in plan.runs for line in run.orders}
    broke = "broke"
    while broke in orders:
        broke = f"({broke})"
    return SheetShape(
        stretches=max((len(s.stretches) for b in blocks for s in b.sets), default=1),
        places=max((len(block.positions) for block in blocks), default=1) + SPARE_PLACES,
        mixed_cores=any(block.core_mm is None for block in blocks),
        sheeters=any(position.sheeter for block in blocks for position in block.positions),
        broke=broke,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _SetOfRun:
    """A set in its block and run: the subject of a row."""

    run: RunPlan
    block: Block
    each: SetRow


def set_columns(shape: SheetShape) -> tuple[TableColumn, ...]:
    """Give the columns of the sheet; headings are found again by their text."""
    columns = [
        TableColumn("", RUN_WIDTH, "text", lambda row: row.run.name, "Run"),
        TableColumn("", 7, "count", lambda row: row.each.number, "Issued as"),
        TableColumn("", 7, "count", lambda row: row.block.number, "Block"),
        TableColumn("", 7, "count", lambda row: row.each.number, "Runs as"),
        TableColumn("", 7, "core",
                    lambda row: MIXED if row.block.core_mm is None else row.block.core_mm,
                    "Core mm"),
        TableColumn("", 8, "m", lambda row: row.each.length_m, "Length m"),
        TableColumn("", 7, "mm", lambda row: row.block.edge_front_mm, "Edge front mm"),
    ]  # fmt: skip
    for at in range(shape.stretches):
        stretch = _nth(lambda row: row.each.stretches, at)
        which = f" {at + 1}" if at else ""
        columns += [
            TableColumn("", 9, "text", stretch(lambda part: part.jumbo), f"Jumbo{which}"),
            TableColumn("", 10, "m", stretch(lambda part: part.from_m), f"From{which} m"),
            TableColumn("", 10, "m", stretch(lambda part: part.to_m), f"To{which} m"),
        ]
    for at in range(shape.places):
        columns += _place_columns(at, shape)
    return tuple(columns)


def _place_columns(at: int, shape: SheetShape) -> list[TableColumn]:
    place, name = _nth(lambda row: row.block.positions, at), at + 1
    columns = [
        TableColumn("", 10, "text", place(lambda p: shape.broke if p.kind == "broke" else p.order),
                    f"{name} order"),
        TableColumn("", 8, "mm", place(lambda p: p.width_mm), f"{name} width mm"),
        TableColumn("", 6, "count", place(lambda p: p.ups), f"{name} ups"),
    ]  # fmt: skip
    if shape.mixed_cores:
        columns.append(TableColumn("", 7, "core", place(lambda p: p.core_mm), f"{name} core mm"))
    if shape.sheeters:
        columns.append(
            TableColumn("", 11, "text", place(lambda p: p.sheeter or None), f"{name} sheeter")
        )
    return columns


def _nth(parts_of: _Of, at: int) -> Callable[[_Of], _Of]:
    """Give what makes a column's value of a figure of the part `at` of a set; none: blank."""

    def value_of(figure: _Of) -> _Of:
        def value(row: Any) -> Any:
            parts = parts_of(row)
            return figure(parts[at]) if at < len(parts) else None

        return value

    return value_of


def add_sets(book: Workbook, plan: Plan) -> None:
    """Add the sheet that may be edited."""
    sheet = add_sheet(book, plan, TITLE, wide=True)
    shape = shape_of(plan)
    columns = set_columns(shape)
    sheet.columns(columns)
    sheet.title_line(text("sets.title"))
    for row, words in enumerate(text("sets.rules", broke=shape.broke).split("\n"), start=2):
        sheet.put((row, 1), words, "text", "label")
    sheet.headings(HEADING_ROW, columns)
    row = HEADING_ROW
    for run in plan.runs:
        for block, each in run.sets_in_blocks:
            row += 1
            written = _SetOfRun(run=run, block=block, each=each)
            for at, column in enumerate(columns, start=1):
                style = "given" if at <= _GIVEN else "entry"
                sheet.put((row, at), column.value(written, book.units), column.kind, style)
            sheet.height(row, 18 * text_lines(run.name, columns[0].width))
    sheet.frozen(HEADING_ROW + 1, 5, repeat=(HEADING_ROW, HEADING_ROW))
    # Places to spare are for the screen.
    spare = SPARE_PLACES * len(_place_columns(0, shape))
    sheet.sheet.print_area(0, 0, row - 1, len(columns) - spare - 1)


def add_carried(book: Workbook, plan: Plan, printed: tuple[str, ...]) -> None:
    """Add the hidden sheet: the plan as JSON, and marks of the rows of the `printed` sheets."""
    marks = {title: row_marks(book.sheets[title].cells.items()) for title in printed}
    sheet = book.add(CARRIED)
    sheet.sheet.very_hidden()
    whole, marked = _plain_json(plan_json(plan)), _plain_json(json.dumps(marks))
    sheet.put((1, 1), MARK, "text", "plain")
    sheet.put((1, 2), hashlib.sha256(whole.encode()).hexdigest(), "text", "plain")
    for column, words in ((1, whole), (2, marked)):
        for index in range(0, len(words), _PIECE):
            # The bar keeps a piece from beginning with a sign or a blank.
            piece = "|" + words[index : index + _PIECE]
            sheet.put((2 + index // _PIECE, column), piece, "text", "plain")


def _plain_json(text: str) -> str:
    """Give JSON on one line in ASCII, figures as they stand.

    A spreadsheet program reads _x0041_ in a cell as a letter, so no low line stands before an x.
    """
    line = " ".join(part.strip() for part in text.split("\n"))
    return for_json(line, "ascii").replace("_x", "\\u005fx")


def row_marks(cells: Iterable[tuple[tuple[int, int], object]]) -> dict[str, str]:
    """Give the number of each row that has something in it, with a mark of what it says.

    `cells` are (row, column) and value, in any order.
    """
    said: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for (row, column), value in cells:
        if value is not None and value != "":
            said[row].append((column, _plain(value)))
    return {
        str(row): hashlib.sha256(repr(sorted(found)).encode()).hexdigest()[:12]
        for row, found in sorted(said.items())
    }


def _plain(value: object) -> str:
    """Give a value as any spreadsheet program would keep it: to nine digits or a second."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (int, float)):
        return f"{float(value):.9g}"
    if isinstance(value, datetime):
        return (value + timedelta(seconds=0.5)).strftime("%Y-%m-%d %H:%M:%S")
    if isinstance(value, date):
        return value.strftime("%Y-%m-%d 00:00:00")
    return str(value).replace("\r\n", "\n").strip()
