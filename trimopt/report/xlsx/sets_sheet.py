"""The sheet Sets, one row a set, which may be edited, and the plan that the workbook carries.

All other sheets are for print. A hidden sheet carries the whole plan as JSON in pieces, and for
every printed sheet a fingerprint of each row, so that a change made where it has no effect is
found and named (`trimopt.report.read_back.plan_from_workbook`) instead of being passed over.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from trimopt.plan.codec import to_json
from trimopt.plan.model import Block, Plan, RunPlan, SetRow
from trimopt.report.table_columns import Column, Value
from trimopt.report.words.texts import text
from trimopt.report.xlsx.plan_sheet import add_sheet
from trimopt.report.xlsx.workbook_writer import Workbook
from trimopt.text import for_json

__all__ = [
    "BROKE_WORD",
    "CARRIED",
    "HEADING_ROW",
    "MARK",
    "TITLE",
    "Shape",
    "add_carried",
    "add_sets",
    "row_marks",
    "set_columns",
    "set_values",
    "shape_of",
]

TITLE = "Sets"
CARRIED = "plan"
MARK = "trimopt plan, carried by the workbook; do not change"
HEADING_ROW = 11
BROKE_WORD = "broke"
SPARE_PLACES = 3
_GIVEN = 3  # columns that say how a set was issued
_PIECE = 30_000  # characters to a cell, which holds 32,767


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """How many columns the sheet has: pieces of jumbo and places to a set; cores by place."""

    stretches: int
    places: int
    mixed_cores: bool


def shape_of(plan: Plan) -> Shape:
    """Find the shape that holds every set of `plan`, with a few places to spare."""
    blocks = [block for run in plan.runs for block in run.blocks]
    return Shape(
        stretches=max((len(s.stretches) for b in blocks for s in b.sets), default=1),
        places=max((len(block.positions) for block in blocks), default=1) + SPARE_PLACES,
        mixed_cores=any(block.core_mm is None for block in blocks),
    )


def set_columns(shape: Shape) -> tuple[Column, ...]:
    """Give the columns of the sheet; headings are found again by their text."""
    columns = [
        Column("", 26, "text", heading="Run"),
        Column("", 7, "count", heading="Issued as"),
        Column("", 7, "count", heading="Block"),
        Column("", 7, "count", heading="Runs as"),
        Column("", 7, "mm", heading="Core mm"),
        Column("", 8, "m", heading="Length m"),
        Column("", 7, "mm", heading="Edge front mm"),
    ]
    for piece in range(1, shape.stretches + 1):
        which = "" if piece == 1 else f" {piece}"
        columns += [
            Column("", 9, "text", heading=f"Jumbo{which}"),
            Column("", 8, "m", heading=f"From m{which}"),
            Column("", 8, "m", heading=f"To m{which}"),
        ]
    for place in range(1, shape.places + 1):
        columns += _place_columns(place, shape)
    return tuple(columns)


def _place_columns(place: int, shape: Shape) -> list[Column]:
    columns = [
        Column("", 10, "text", heading=f"{place} order"),
        Column("", 8, "mm", heading=f"{place} width mm"),
        Column("", 6, "count", heading=f"{place} ups"),
    ]
    if shape.mixed_cores:
        columns.append(Column("", 7, "mm", heading=f"{place} core mm"))
    return columns


def set_values(run: RunPlan, block: Block, each: SetRow, shape: Shape) -> tuple[Value, ...]:
    """Give the values of a set's row, in the order of `set_columns`."""
    values: list[Value] = [
        run.name,
        each.number,
        block.number,
        each.number,
        "mixed" if block.core_mm is None else block.core_mm,
        each.length_m,
        block.edge_front_mm,
    ]
    for index in range(shape.stretches):
        if index < len(each.stretches):
            stretch = each.stretches[index]
            values += [stretch.jumbo, stretch.from_m, stretch.to_m]
        else:
            values += [None, None, None]
    for index in range(shape.places):
        if index < len(block.positions):
            position = block.positions[index]
            order = BROKE_WORD if position.kind == "broke" else position.order
            values += [order, position.width_mm, position.ups]
            values += [position.core_mm] if shape.mixed_cores else []
        else:
            values += [None] * (4 if shape.mixed_cores else 3)
    return tuple(values)


def add_sets(book: Workbook, plan: Plan) -> None:
    """Add the sheet that may be edited."""
    sheet = add_sheet(book, plan, TITLE, wide=True)
    shape = shape_of(plan)
    columns = set_columns(shape)
    sheet.widths(column.width for column in columns)
    sheet.put((1, 1), text("sets.title"), "text", "title")
    sheet.height(1, 30)
    for row, words in enumerate(text("sets.rules").split("\n"), start=2):
        sheet.put((row, 1), words, "text", "label")
    sheet.headings(HEADING_ROW, columns)
    row = HEADING_ROW
    for run in plan.runs:
        for block in run.blocks:
            for each in block.sets:
                row += 1
                for at, value in enumerate(set_values(run, block, each, shape), start=1):
                    style = "given" if at <= _GIVEN else "entry"
                    sheet.put((row, at), value, columns[at - 1].kind, style)
                sheet.height(row, 18)
    sheet.frozen(HEADING_ROW + 1, 5, repeat=(HEADING_ROW, HEADING_ROW))
    # Places to spare are for the screen.
    spare = SPARE_PLACES * len(_place_columns(0, shape))
    sheet.sheet.print_area(0, 0, row - 1, len(columns) - spare - 1)


def add_carried(book: Workbook, plan: Plan, printed: tuple[str, ...]) -> None:
    """Add the hidden sheet: the plan as JSON, and marks of the rows of the `printed` sheets."""
    marks = {title: row_marks(book.sheets[title].cells.items()) for title in printed}
    sheet = book.add(CARRIED)
    sheet.sheet.very_hidden()
    whole, marked = _plain_json(to_json(plan)), _plain_json(json.dumps(marks))
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
