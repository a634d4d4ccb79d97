"""The sheet Sets, one row a set, which may be edited, and the plan that the workbook carries.

All other sheets are for print. A hidden sheet carries the whole plan as JSON in pieces, and for
every printed sheet a fingerprint of each row, so that a change made where it has no effect is
found and named (`trimopt.report.read_back.plan_from_workbook`) instead of being passed over.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from trimopt.plan.codec import to_json
from trimopt.plan.model import Block, Plan, RunPlan, SetRow
from trimopt.report.xlsx.sheet_setup import Column, heading_row, new_sheet, set_widths
from trimopt.report.xlsx.styles import Value, put
from trimopt.text import for_json

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

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
_PIECE = 30_000  # characters to a cell, which holds 32,767

_RULES = (
    "This sheet may be changed. Every other sheet but As run is for print, and a change there is",
    "refused. Afterwards: trimopt verify FILE.xlsx",
    "Widths, orders, ups, lengths, cores, front edges: write them in the set's row; back edge",
    "and knives follow. A broke reel has the word broke in place of an order.",
    "A set fewer: delete its row. A set more: copy a row and insert it where the set is to run.",
    "Another order of sets: move rows, or change the figures under Runs as (2.5 is after 2).",
    "Jumbo metres that nobody changed are laid again, set after set; those written in are kept.",
    "Grey columns say how the set was issued. Leave them as they are, in copied rows too.",
)


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
        Column(heading="Run", width=28),
        Column(heading="Issued as", width=8, kind="count"),
        Column(heading="Block", width=8, kind="count"),
        Column(heading="Runs as", width=8, kind="count"),
        Column(heading="Core mm", width=8, kind="mm"),
        Column(heading="Length m", width=9, kind="m"),
        Column(heading="Edge front mm", width=9, kind="mm"),
    ]
    for piece in range(1, shape.stretches + 1):
        which = "" if piece == 1 else f" {piece}"
        columns += [
            Column(heading=f"Jumbo{which}", width=10),
            Column(heading=f"From m{which}", width=9, kind="m"),
            Column(heading=f"To m{which}", width=9, kind="m"),
        ]
    for place in range(1, shape.places + 1):
        columns += [
            Column(heading=f"{place} order", width=11),
            Column(heading=f"{place} width mm", width=9, kind="mm"),
            Column(heading=f"{place} ups", width=6, kind="count"),
        ]
        if shape.mixed_cores:
            columns.append(Column(heading=f"{place} core mm", width=8, kind="mm"))
    return tuple(columns)


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
    sheet = new_sheet(book, plan, TITLE, wide=True)
    shape = shape_of(plan)
    columns = set_columns(shape)
    set_widths(sheet, columns)
    put(sheet, (1, 1), "Sets in running order: change the plan here", "text", "plan title")
    sheet.row_dimensions[1].height = 30
    for row, words in enumerate(_RULES, start=2):
        put(sheet, (row, 1), words, "text", "plan label")
    heading_row(sheet, HEADING_ROW, columns)
    row = HEADING_ROW
    for run in plan.runs:
        for block in run.blocks:
            for each in block.sets:
                row += 1
                for at, value in enumerate(set_values(run, block, each, shape), start=1):
                    style = "plan given" if at <= 3 else "plan entry"
                    put(sheet, (row, at), value, columns[at - 1].kind, style)
                sheet.row_dimensions[row].height = 18
    sheet.freeze_panes = f"E{HEADING_ROW + 1}"
    # Made for the screen: on one page across it could not be read.
    sheet.page_setup.fitToWidth = 2
    sheet.print_title_rows = f"{HEADING_ROW}:{HEADING_ROW}"
    sheet.print_title_cols = "A:D"


def add_carried(book: Workbook, plan: Plan, printed: tuple[str, ...]) -> None:
    """Add the hidden sheet: the plan as JSON, and marks of the rows of the `printed` sheets."""
    sheet: Worksheet = book.create_sheet(CARRIED)
    sheet.sheet_state = "veryHidden"
    marks = {title: row_marks(_cells(book[title])) for title in printed}
    text, marked = _plain_json(to_json(plan)), _plain_json(json.dumps(marks))
    put(sheet, (1, 1), MARK, "text", "Normal")
    put(sheet, (1, 2), hashlib.sha256(text.encode()).hexdigest(), "text", "Normal")
    for column, words in ((1, text), (2, marked)):
        for index in range(0, len(words), _PIECE):
            # The bar keeps a piece from beginning with a sign or a blank.
            piece = "|" + words[index : index + _PIECE]
            put(sheet, (2 + index // _PIECE, column), piece, "text", "Normal")


def _plain_json(text: str) -> str:
    """Give JSON on one line in ASCII, figures as they stand.

    A spreadsheet program reads _x0041_ in a cell as a letter, so no low line stands before an x.
    """
    line = " ".join(part.strip() for part in text.split("\n"))
    return for_json(line, "ascii").replace("_x", "\\u005fx")


def row_marks(cells: Iterable[tuple[int, int, object]]) -> dict[str, str]:
    """Give the number of each row that has something in it, with a mark of what it says.

    `cells` are row, column and value, in any order.
    """
    said: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for row, column, value in cells:
        if value is not None and value != "":
            said[row].append((column, _plain(value)))
    return {
        str(row): hashlib.sha256(repr(sorted(found)).encode()).hexdigest()[:12]
        for row, found in sorted(said.items())
    }


def _cells(sheet: Worksheet) -> Iterator[tuple[int, int, object]]:
    # Going over rows and columns would make a cell of every place that has none.
    made: dict[tuple[int, int], Any] = vars(sheet)["_cells"]
    for (row, column), cell in made.items():
        yield row, column, cell.value


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
