"""The slitter plan that the crew works from: each set drawn to scale across cells, knives below.

One sheet a run, A4 landscape at full size. A narrow grid of cells carries the picture; tables and
captions span cells of the same grid; widths, orders and knives are written into the picture where
they fit. No block is split over a page.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from trimopt.book.model import Stretch
from trimopt.plan.model import Block, Plan, RunPlan, SetRow
from trimopt.report.pattern_geometry import WebStrip, levels_of, spans, strips_of
from trimopt.report.plan_tables import REELS, has_mixed_cores, strips_alike
from trimopt.report.table_columns import TableColumn, chosen
from trimopt.report.words import plan_words
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, moment
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, add_sheet

_CELL_WIDTH = 8 / 7  # characters: 8 pixels, drawn up to 8.5, of the 1,045 between A4's margins
_PAGE_PT = 452.0  # height for blocks on a page, below the rows that repeat
_SETS_A_PART = 16
_MAX_TITLE = 31  # characters that a sheet's name may have

_BAND, _FACTS, _NUMBERS, _PICTURE, _KNIVES, _GAP, _HEAD, _ROW = 21, 17, 12, 40, 14, 9, 16, 16


_WIDER = {"positions": 8, "order": 11, "customer": 18, "for": 13}
_REELS = tuple(
    replace(each, width=_WIDER.get(each.key, each.width))
    for each in chosen(REELS, "positions", "reels", "width", "order", "customer", "for", "max_mass")
)

_SETS = (
    TableColumn(
        "set", 5, "count", lambda row: row[0].number if row[2] == 0 else text("slitter.and")
    ),
    TableColumn("jumbo", 9, "text", lambda row: row[1].jumbo),
    TableColumn("from_m", 8, "m", lambda row: row[1].from_m),
    TableColumn("to_m", 8, "m", lambda row: row[1].to_m),
    TableColumn("length", 8, "m", lambda row: row[0].length_m if row[2] == 0 else None),
    TableColumn("done", 4, "entry"),
)
"""Of a set, a stretch of jumbo that it is wound from, and which of its stretches that is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _BlockPart:
    """As much of a block as fits one page."""

    rows: tuple[tuple[SetRow, Stretch, int], ...]
    page: int
    pages: int


def add_slitter_plans(book: Workbook, plan: Plan) -> None:
    """Add the slitter plan of each run that is made, its blocks in running order."""
    for index, run in enumerate(plan.runs, start=1):
        if run.blocks:
            title = _title(index, run.name) if len(plan.runs) > 1 else text("sheet.slitter")
            _add_run(book, plan, run, title)


def _title(index: int, run: str) -> str:
    name = re.sub(r"[^\w .,()-]+", " ", run.replace("g/m²", "").replace("/1000 ft²", "")).strip()
    return text("sheet.slitter_short", index=index, run=name)[:_MAX_TITLE].rstrip()


def _add_run(book: Workbook, plan: Plan, run: RunPlan, title: str) -> None:
    sheet = add_sheet(book, plan, title, wide=True, run=run.name, heading=text("sheet.slitter"))
    sheet.sheet.set_print_scale(100)  # in place of fitting to the page
    sheet.sheet.set_margins(left=0.4, right=0.4, top=0.7, bottom=0.65)
    sheet.widths([_CELL_WIDTH] * CELLS)
    sets, units = len(run.sets), book.units
    blocks = text("slitter.blocks", count=len(run.blocks))
    first = text(
        "slitter.run", run=run.name, jumbo=units.said(run.jumbo_width_mm, "mm"),
        deckle=units.said(run.deckle_mm, "mm"), blocks=blocks,
        sets=text("slitter.sets", count=sets),
    )  # fmt: skip
    unit = units.sign("mm") if units.written.metric else "inches"
    sheet.span(1, (1, CELLS), first, "title", font_size=15, shrink=True)
    sheet.span(2, (1, CELLS), text("slitter.legend", unit=unit), "label")
    sheet.height(1, 24)
    sheet.height(2, 16)
    sheet.frozen(3, 1)
    row, used = 3, 0.0
    breaks = []
    for block in map(plan_words.still_to_run, run.blocks):
        for part in _parts(block) if block.sets else ():
            heights = _heights(block, part, units)
            if used and used + sum(heights) > _PAGE_PT:
                breaks.append(row - 1)
                used = 0.0
            for at, height in enumerate(heights, start=row):
                sheet.height(at, height)
            _block(sheet, row, run, block, part)
            row, used = row + len(heights), used + sum(heights)
    sheet.sheet.set_h_pagebreaks(breaks)
    sheet.sheet.print_area(0, 0, row - 2, CELLS - 1)


def _parts(block: Block) -> list[_BlockPart]:
    """Cut a block with many sets into parts of a page each."""
    rows = [(each, s, index) for each in block.sets for index, s in enumerate(each.stretches)]
    starts = range(0, max(len(rows), 1), _SETS_A_PART)
    return [
        _BlockPart(rows=tuple(rows[at : at + _SETS_A_PART]), page=page, pages=len(starts))
        for page, at in enumerate(starts, start=1)
    ]


def _heights(block: Block, part: _BlockPart, units: Units) -> list[float]:
    """Of the rows that a part of a block takes."""
    lines = max(len(plan_words.alike(block)), len(part.rows))
    knives = [_KNIVES] * _levels(knife_marks(block, units))
    return [_BAND, _FACTS, _NUMBERS, _PICTURE, *knives, _HEAD, *[_ROW] * lines, _GAP]


def _block(sheet: SheetWriter, row: int, run: RunPlan, block: Block, part: _BlockPart) -> None:
    marks = knife_marks(block, sheet.book.units)
    _band(sheet, row, run, block, part)
    _facts(sheet, row + 1, run, block)
    _picture(sheet, row + 2, block)
    _knives(sheet, row + 4, marks)
    head = row + 4 + _levels(marks)
    _table(sheet, (head, 1), REELS if has_mixed_cores(block) else _REELS, strips_alike(run, block))
    _table(sheet, (head, 1 + CELLS - int(sum(c.width for c in _SETS))), _SETS, part.rows)


def _band(sheet: SheetWriter, row: int, run: RunPlan, block: Block, part: _BlockPart) -> None:
    metres, sets = plan_words.metres_text(block, sheet.book.units), plan_words.sets_text(block)
    left = text("block.band", number=block.number, blocks=len(run.blocks), count=len(block.sets),
                metres=metres, sets=sets)  # fmt: skip
    for warning in plan_words.warnings_of(run, block, sheet.book.units):
        left += f"    {warning.upper()}"
    if part.pages > 1:
        left += text("block.page", page=part.page, pages=part.pages)
    left += plan_words.held_text(run, block)
    start = block.sets[0].start
    right = text("block.start", start=moment(start)) if start else ""
    sheet.span(row, (1, 82), left, "band", shrink=True)
    sheet.span(row, (83, CELLS), right, "band", align="right")


def _facts(sheet: SheetWriter, row: int, run: RunPlan, block: Block) -> None:
    units, moves = sheet.book.units, plan_words.moves_text(block)
    change = plan_words.change_text(block)
    change = change.upper() if block.set_up else change
    trim = units.bare(run.deckle_of(block) - block.reels_mm, "mm")
    facts = (
        (19, plan_words.core_text(block, units).capitalize()),
        (22, text("block.diameter", diameter=plan_words.diameter_text(run, block, units))),
        (32, text("block.edges", front=units.bare(block.edge_front_mm, "mm"),
                  back=units.bare(block.edge_back_mm, "mm"))),
        (20, text("block.pattern_trim", trim=trim)),
        (23, f"{change}, {moves}" if block.number > 1 else moves),
    )  # fmt: skip
    at = 1
    for columns, words in facts:
        sheet.span(row, (at, at + columns - 1), words, "fact")
        at += columns


def _picture(sheet: SheetWriter, row: int, block: Block) -> None:
    """Draw the set: numbers of the positions in `row`, the strips below."""
    strips = strips_of(block)
    for strip, (start, end) in zip(strips, spans([s.width_mm for s in strips], CELLS), strict=True):
        cells = (start + 1, end)
        sheet.span(row, cells, "" if strip.number is None else str(strip.number), "place")
        words, size, turned = strip_words(strip, end - start, sheet.book.units)
        shape: dict[str, Any] = {"rotation": turned} if turned else {"text_wrap": True}
        sheet.span(row + 1, cells, words, f"strip {strip.kind}", font_size=size, **shape)


def _levels(marks: Sequence[KnifeMark]) -> int:
    return 1 + max((mark.level for mark in marks), default=0)


def _knives(sheet: SheetWriter, row: int, marks: Sequence[KnifeMark]) -> None:
    for mark in marks:
        style = "knife moved" if mark.moved else "knife"
        sheet.span(row + mark.level, (mark.first, mark.last), mark.text, style)
        for level in range(mark.level):
            # A line from the cut down to its figure, where no other figure is in the way.
            column = min(mark.cut + 1, CELLS)
            if not any(m.level == level and m.first <= column <= m.last for m in marks):
                sheet.put((row + level, column), None, "text", "knife lead")


def _table(
    sheet: SheetWriter, at: tuple[int, int], columns: Sequence[TableColumn], rows: Sequence[object]
) -> None:
    row, first = at
    for column in columns:
        last = first + int(column.width) - 1
        sheet.span(row, (first, last), column.title(sheet.book.units), "head")
        style = {"text": "cell", "entry": "entry"}.get(column.kind, "number")
        for below, subject in enumerate(rows, start=1):
            value = column.value(subject, sheet.book.units)
            sheet.span(row + below, (first, last), value, style, column.kind)
        first = last + 1


CELLS = 116
"""Columns of the grid that a set is drawn across."""

_PIXELS = 8  # to a column of the grid


@dataclass(frozen=True, slots=True, kw_only=True)
class KnifeMark:
    """The figure of a knife under the picture: columns of the grid, and the line it stands in."""

    text: str
    moved: bool
    cut: int  # columns that lie in front of the knife
    first: int
    last: int
    level: int


def knife_marks(block: Block, units: Units) -> tuple[KnifeMark, ...]:
    """Place the figure of each knife under its cut, in as many lines as keep them apart."""
    whole = block.edge_front_mm + block.across_mm + block.edge_back_mm
    moved = block.knives_moved
    figures = [units.place(knife) for knife in block.knives_mm]
    texts = [f"▲ {at}" if moves else at for at, moves in zip(figures, moved, strict=True)]
    cuts = [int(CELLS * k / whole + Fraction(1, 2)) if whole else 0 for k in block.knives_mm]
    boxes = []
    for words, cut in zip(texts, cuts, strict=True):
        cells = -(-(7 * len(words) + 8) // _PIXELS)
        first = min(max(cut + 1 - cells // 2, 1), CELLS - cells + 1)
        boxes.append((first, first + cells))
    return tuple(
        KnifeMark(text=words, moved=moves, cut=cut, first=first, last=end - 1, level=level)
        for words, moves, cut, (first, end), level in zip(
            texts, moved, cuts, boxes, levels_of(boxes), strict=True
        )
    )


def strip_words(strip: WebStrip, cells: int, units: Units) -> tuple[str, float, int]:
    """Choose what fits into a strip: its words, the size of type, and whether they are turned."""
    if strip.kind in ("edge", "broke"):
        return "", 9, 0
    width, order = units.bare(strip.width_mm, "mm"), strip.order
    for size, pixels in ((14, 10.5), (12, 9.0), (10, 7.5)):
        if max(len(width), len(order)) * pixels + 6 <= cells * _PIXELS:
            return f"{width}\n{order}", size, 0
    if len(width) * 7.5 + 4 <= cells * _PIXELS:
        return width, 10, 0
    return (width, 10, 90) if cells >= 2 else ("", 9, 0)
