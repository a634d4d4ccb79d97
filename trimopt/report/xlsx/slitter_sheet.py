"""The slitter plan: a field of cells for each block, with a picture of the set to scale.

The sheet is a grid of narrow columns, so that a set can be drawn across them; text stands in cells
merged over as many columns as it needs. Spreadsheet programs ignore page breaks on a sheet that
is fitted to its page, so here the columns are made to fit A4 and the breaks are set between blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from openpyxl.styles import Alignment, Border, Font, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties

from trimopt.plan.model import Block, Plan, RunPlan
from trimopt.plan.reel_rows import cores_across
from trimopt.report.pattern_geometry import spans, strips_of
from trimopt.report.words.plan_words import (
    alike,
    core_text,
    diameter_text,
    kind_of,
    kind_word,
    metres_text,
    moment,
    moves_text,
    number,
    sets_text,
)
from trimopt.report.xlsx.knife_marks import CELLS, KnifeMark, knife_marks, places_text, strip_words
from trimopt.report.xlsx.sheet_setup import new_sheet
from trimopt.report.xlsx.styles import BROKE, EDGE, INK, LINE, SHEETER, Value, merge, put

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["CELLS", "KnifeMark", "add_slitter_plan", "knife_marks"]

_CELL_WIDTH = 8 / 7  # characters: 8 pixels, drawn up to 8.5, of the 1,045 between A4's margins
_PAGE_PT = 452.0  # height for blocks on a page, below the rows that repeat
_SETS_A_PART = 16

_BAND, _FACTS, _NUMBERS, _PICTURE, _KNIVES, _GAP, _HEAD, _ROW = 21, 17, 12, 40, 14, 9, 16, 16
_REELS = (
    ("Places", "text", 7),
    ("Reels", "count", 6),
    ("Width mm", "mm", 9),
    ("Order", "text", 11),
    ("Customer", "text", 18),
    ("For", "text", 14),
    ("Most kg", "kg", 7),
)
"""Heading, kind of figure, and how many columns of the grid it takes."""

_REELS_ON_CORES = (
    ("Places", "text", 6),
    ("Reels", "count", 6),
    ("Width mm", "mm", 9),
    ("Core mm", "mm", 8),
    ("Diameter mm", "text", 10),
    ("Order", "text", 9),
    ("Customer", "text", 10),
    ("For", "text", 9),
    ("Most kg", "kg", 7),
)
"""The same where a set mixes cores: each place says its own."""

_SETS = (
    ("Set", "count", 5),
    ("Jumbo", "text", 9),
    ("From m", "m", 8),
    ("To m", "m", 8),
    ("Length m", "m", 8),
    ("✓", "text", 4),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """As much of a block as fits one page: rows of (set, jumbo, from, to, length)."""

    rows: tuple[tuple[Value, ...], ...]
    index: int
    of: int


def add_slitter_plan(book: Workbook, plan: Plan, run: RunPlan, title: str) -> None:
    """Add the slitter plan of one run, its blocks in running order."""
    sheet = new_sheet(book, plan, title, wide=True, run=run.name, heading="Slitter plan")
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=False)
    sheet.page_setup.scale = 100
    sheet.page_margins.top, sheet.page_margins.bottom = 0.7, 0.65
    for column in range(1, CELLS + 1):
        sheet.column_dimensions[get_column_letter(column)].width = _CELL_WIDTH
    _repeated(sheet, run)
    sheet.print_title_rows = "1:2"
    sheet.freeze_panes = "A3"
    row, used = 3, 0.0
    for block in run.blocks:
        for part in _parts(block):
            height = _height(block, part)
            if used and used + height > _PAGE_PT:
                sheet.row_breaks.append(Break(id=row - 1))
                used = 0.0
            row = _block(sheet, row, run, block, part)
            used += height
    sheet.print_area = f"A1:{get_column_letter(CELLS)}{row - 1}"


def _repeated(sheet: Worksheet, run: RunPlan) -> None:
    first = (
        f"{run.name}   jumbo {number(run.jumbo_width_mm)} mm, deckle {number(run.deckle_mm)} mm   "
        f"{len(run.blocks)} blocks, {sum(len(b.sets) for b in run.blocks)} sets"
    )
    second = (
        "Front side left; mm from the web's front edge. ▲ on black: this knife moves. Grey: "
        "sheeter. Crossed: broke reel. Change the plan on the sheet Sets, not here."
    )
    _span(sheet, 1, (1, CELLS), first, "plan title")
    sheet.cell(1, 1).font = Font(name="Arial", size=15, bold=True, color=INK)
    _span(sheet, 2, (1, CELLS), second, "plan label")
    sheet.row_dimensions[1].height = 24
    sheet.row_dimensions[2].height = 16


def _parts(block: Block) -> tuple[_Part, ...]:
    """Cut a block with many sets into parts of a page each."""
    rows: list[tuple[Value, ...]] = []
    for each in block.sets:
        for index, stretch in enumerate(each.stretches):
            name: Value = each.number if index == 0 else "and"
            length = each.length_m if index == 0 else None
            rows.append((name, stretch.jumbo, stretch.from_m, stretch.to_m, length, None))
    count = max((len(rows) + _SETS_A_PART - 1) // _SETS_A_PART, 1)
    return tuple(
        _Part(rows=tuple(rows[i * _SETS_A_PART : (i + 1) * _SETS_A_PART]), index=i, of=count)
        for i in range(count)
    )


def _height(block: Block, part: _Part) -> float:
    lines = max(len(alike(block)), len(part.rows))
    levels = _levels(knife_marks(block))
    return _BAND + _FACTS + _NUMBERS + _PICTURE + _KNIVES * levels + _HEAD + _ROW * lines + _GAP


def _block(sheet: Worksheet, row: int, run: RunPlan, block: Block, part: _Part) -> int:
    marks = knife_marks(block)
    levels = _levels(marks)
    above = (_BAND, _FACTS, _NUMBERS, _PICTURE, *[_KNIVES] * levels, _HEAD)
    _heights(sheet, row, above)
    _band(sheet, row, run, block, part)
    _facts(sheet, row + 1, run, block)
    _picture(sheet, row + 2, block)
    _knives(sheet, row + 4, marks)
    reels = _reel_rows(run, block)
    head = row + len(above) - 1
    mixed = len(cores_across(block)) > 1
    _table(sheet, (head, 1), _REELS_ON_CORES if mixed else _REELS, reels)
    _table(sheet, (head, 1 + CELLS - sum(cells for _, _, cells in _SETS)), _SETS, part.rows)
    lines = max(len(reels), len(part.rows))
    _heights(sheet, head + 1, [_ROW] * lines + [_GAP])
    return head + 1 + lines + 1


def _band(sheet: Worksheet, row: int, run: RunPlan, block: Block, part: _Part) -> None:
    count = len(block.sets)
    left = f" BLOCK {block.number} of {len(run.blocks)}    {count} × {metres_text(block)}"
    left += f"    {sets_text(block)}"
    if part.of > 1:
        left += f"    page {part.index + 1} of {part.of}"
    start = block.sets[0].start
    right = f"start {moment(start)} " if start else ""
    _span(sheet, row, (1, 82), left, "plan band")
    _span(sheet, row, (83, CELLS), right, "plan band", across="right")


def _facts(sheet: Worksheet, row: int, run: RunPlan, block: Block) -> None:
    trim = run.deckle_mm - sum((p.width_mm for p in block.positions if p.kind != "broke"), _ZERO)
    set_up = "first pattern" if block.number == 1 else "SET-UP" if block.set_up else "no set-up"
    moves = moves_text(block)
    facts = (
        (19, core_text(block).capitalize()),
        (22, f"Diameter {diameter_text(run, block)}"),
        (32, f"Edge trim  front {number(block.edge_front_mm)}  back {number(block.edge_back_mm)}"),
        (20, f"Pattern trim {number(trim)}"),
        (23, f"{set_up}, {moves}" if block.number > 1 else moves),
    )
    at = 1
    for columns, text in facts:
        _span(sheet, row, (at, at + columns - 1), text, "plan line", bold=True, wrap=False)
        at += columns


_ZERO = Fraction(0)


def _picture(sheet: Worksheet, row: int, block: Block) -> None:
    """Draw the set: place numbers in `row`, the strips below."""
    strips = strips_of(block)
    for strip, (start, end) in zip(strips, spans([s.width_mm for s in strips], CELLS), strict=True):
        first, last = start + 1, end
        name = "" if strip.number is None else str(strip.number)
        _span(sheet, row, (first, last), name, "plan label", across="center", wrap=False)
        cell = sheet.cell(row + 1, first)
        text, size, turned = strip_words(strip, last - first + 1)
        put(sheet, (row + 1, first), text, "text", "plan strip")
        cell.font = Font(name="Arial", size=size, bold=True, color=INK)
        cell.alignment = Alignment(
            horizontal="center", vertical="center", wrap_text=not turned, text_rotation=turned
        )
        if strip.kind == "edge":
            cell.fill = EDGE
        elif strip.kind == "sheeter":
            cell.fill = SHEETER
        elif strip.kind == "broke":
            cell.fill = BROKE
            side = Side(style="medium", color=INK)
            cell.border = Border(
                left=side, right=side, top=side, bottom=side,
                diagonal=Side(style="thin", color=INK), diagonalUp=True, diagonalDown=True,
            )  # fmt: skip
        if last > first:
            merge(sheet, row + 1, first, last)


def _levels(marks: Sequence[KnifeMark]) -> int:
    return 1 + max((mark.level for mark in marks), default=0)


def _knives(sheet: Worksheet, row: int, marks: Sequence[KnifeMark]) -> None:
    lead = Border(left=LINE)
    for mark in marks:
        style = "plan knife moved" if mark.moved else "plan knife"
        _span(sheet, row + mark.level, (mark.first, mark.last), mark.text, style)
        for level in range(mark.level):
            # A line from the cut down to its figure, where no other figure is in the way.
            column = min(mark.cut + 1, CELLS)
            if not any(m.level == level and m.first <= column <= m.last for m in marks):
                put(sheet, (row + level, column), None, "text", "Normal").border = lead


def _reel_rows(run: RunPlan, block: Block) -> tuple[tuple[Value, ...], ...]:
    customers = {line.number: line.customer for line in run.orders}
    # What is lifted is the reel of the longest set, whatever the block's nominal length.
    longest = max((each.length_m for each in block.sets), default=block.length_m)
    mixed = len(cores_across(block)) > 1
    rows: list[tuple[Value, ...]] = []
    for count, position in alike(block):
        core_mm = position.core_mm
        size = diameter_text(run, block, core_mm).removesuffix(" mm")
        places = [p.number for p in block.positions if kind_of(p) == kind_of(position)]
        mass = float(position.width_mm) * longest * run.grammage_gsm / 1e6
        rows.append(
            (
                places_text(places),
                count,
                position.width_mm,
                *(core_mm, size) * mixed,
                position.order,
                customers.get(position.order, ""),
                kind_word(position),
                mass,
            )
        )
    return tuple(rows)


def _table(
    sheet: Worksheet,
    at: tuple[int, int],
    columns: Sequence[tuple[str, str, int]],
    rows: Sequence[Sequence[Value]],
) -> None:
    row, first = at
    for column, (heading, kind, width) in enumerate(columns):
        _span(sheet, row, (first, first + width - 1), heading, "plan heading", wrap=False)
        for offset, values in enumerate(rows, start=1):
            style = "plan text" if kind == "text" else "plan number"
            if heading == "✓":
                style = "plan entry"
            put(sheet, (row + offset, first), values[column], kind, style)
            cell = sheet.cell(row + offset, first)
            if kind == "text":
                cell.alignment = Alignment(
                    horizontal="left", vertical="center", shrink_to_fit=True, indent=1
                )
            merge(sheet, row + offset, first, first + width - 1)
        first += width


def _span(
    sheet: Worksheet,
    row: int,
    columns: tuple[int, int],
    text: str,
    style: str,
    *,
    across: str | None = None,
    bold: bool = False,
    wrap: bool | None = None,
) -> None:
    """Write `text` over the columns from the first to the last of `columns`."""
    first, last = columns
    cell = put(sheet, (row, first), text, "text", style)
    if bold:
        cell.font = Font(name="Arial", size=11, bold=True, color=INK)
    if across is not None or wrap is not None:
        cell.alignment = Alignment(
            horizontal=across or cell.alignment.horizontal,
            vertical="center",
            wrap_text=cell.alignment.wrap_text if wrap is None else wrap,
            shrink_to_fit=wrap is False,
        )
    if last > first:
        merge(sheet, row, first, last)


def _heights(sheet: Worksheet, row: int, points: Sequence[float]) -> None:
    for offset, height in enumerate(points):
        sheet.row_dimensions[row + offset].height = height
