"""The slitter plan as the crew gets it: to scale, whole on its page, moved knives marked."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, strategies as st
from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from tests.plan.sample import sample_plan
from tests.report.conftest import opened
from trimopt.book.model import Stretch
from trimopt.plan.model import Block, Plan, RunPlan
from trimopt.report.pattern_geometry import spans, strips_of
from trimopt.report.words.units import METRIC
from trimopt.report.xlsx.slitter_sheet import CELLS, knife_marks

PAGE_PT = 210 / 25.4 * 72 - (0.7 + 0.65) * 72  # A4 landscape between the sheet's margins


def blocks_at(sheet: Worksheet) -> list[int]:
    """Rows in which a block begins."""
    column = [str(sheet.cell(row, 1).value or "") for row in range(1, sheet.max_row + 1)]
    return [row for row, text in enumerate(column, start=1) if text.startswith(" BLOCK")]


def merged(sheet: Worksheet, row: int) -> list[tuple[int, int]]:
    """Cells of a row that belong together, single ones with content in them too."""
    spans_found = [(r.min_col, r.max_col) for r in sheet.merged_cells.ranges if r.min_row == row]
    covered = {c for first, last in spans_found for c in range(first, last + 1)}
    spans_found += [
        (c, c)
        for c in range(1, CELLS + 1)
        if c not in covered and sheet.cell(row, c).border.top.style == "medium"
    ]
    return sorted(spans_found)


def test_picture_is_drawn_to_scale_and_named(book: Workbook, plan: Plan) -> None:
    """Each strip's cells stand where its cuts stand, to half a cell, with its width and order."""
    sheet = book["Slitter 1 Folding board 250"]
    for row, block in zip(blocks_at(sheet), plan.runs[0].blocks, strict=True):
        strips = strips_of(block)
        drawn = merged(sheet, row + 3)
        assert len(drawn) == len(strips)
        for (first, last), strip in zip(drawn, strips, strict=True):
            assert abs((first - 1) - float(strip.from_mm) * CELLS / 3600) <= 0.51
            assert abs(last - float(strip.to_mm) * CELLS / 3600) <= 0.51
            text = sheet.cell(row + 3, first).value
            if strip.kind in ("reel", "sheeter"):
                assert text == f"{int(strip.width_mm):,}\n{strip.order}"
            else:
                assert text is None


def test_strips_differ_without_colour(book: Workbook) -> None:
    """Edge strips are hatched and a broke reel is crossed, so that a black print tells them."""
    sheet = book["Slitter 1 Folding board 250"]
    row = blocks_at(sheet)[1] + 3
    first = sheet.cell(row, 1)
    assert first.fill.patternType == "lightUp"
    (broke_at,) = [
        span for span in merged(sheet, row) if sheet.cell(row, span[0]).border.diagonalUp
    ]
    assert sheet.cell(row, broke_at[0]).border.diagonalDown


def test_knives_that_move_are_marked(book: Workbook, plan: Plan) -> None:
    """Every knife stands under its cut with its place in mm; those that move are on black."""
    sheet = book["Slitter 1 Folding board 250"]
    for row, block in zip(blocks_at(sheet), plan.runs[0].blocks, strict=True):
        marks = knife_marks(block, METRIC)
        assert len(marks) == len(block.knives_mm)
        for mark, knife, moved in zip(marks, block.knives_mm, block.knives_moved, strict=True):
            cell = sheet.cell(row + 4 + mark.level, mark.first)
            assert cell.value == f"{'▲ ' if moved else ''}{int(knife):,}"
            assert (cell.fill.fgColor.rgb == "FF1C1C1C") == moved
            assert abs(mark.cut - float(knife) * CELLS / 3600) <= 0.51
            assert mark.first - 1 <= mark.cut <= mark.last


def test_block_says_what_the_crew_needs(book: Workbook) -> None:
    """Set length, core, diameter, edges, order, customer, jumbo and metres stand in the block."""
    sheet = book["Slitter 1 Folding board 250"]
    first = blocks_at(sheet)[1]
    said = [
        str(cell.value)
        for row in sheet.iter_rows(min_row=first, max_row=first + 9)
        for cell in row
        if cell.value is not None
    ]
    for words in (
        " BLOCK 2 of 3    2 × 3,150 m    sets 7–8",
        "Core 152 mm",
        "Diameter 1,248 mm",
        "Edge trim  front 20  back 20",
        "Pattern trim 100",
        "SET-UP, 1 knife move, 5 knives",
        "Sheeter A, 2 ups",
        "Quill Print",
        "J02",
        "6300",
        "12600",
    ):
        assert words in said, words


def long_plan(sets: int) -> Plan:
    """The sample plan with a first block of many sets."""
    plan = sample_plan()
    run = plan.runs[0]
    block = run.blocks[0]
    many = tuple(
        replace(
            block.sets[0],
            number=n,
            stretches=(Stretch(jumbo="J01", from_m=0, to_m=3150),),
        )
        for n in range(1, sets + 1)
    )
    blocks = (replace(block, sets=many), *run.blocks[1:])
    return replace(plan, runs=(replace(run, blocks=blocks),))


@pytest.mark.parametrize("sets", [1, 16, 17, 40])
def test_no_block_is_split_over_a_page(sets: int) -> None:
    """However many sets a block has, what lies between two breaks fits on A4."""
    sheet = opened(long_plan(sets))["Slitter plan"]
    breaks = [0, *(mark.id for mark in sheet.row_breaks.brk), sheet.max_row]
    heights = {row: sheet.row_dimensions[row].height or 15.0 for row in range(1, sheet.max_row + 1)}
    repeated = heights[1] + heights[2]
    for before, after in pairwise(breaks):
        body = sum(heights[row] for row in range(max(before, 2) + 1, after + 1))
        assert repeated + body <= PAGE_PT
    starts = set(blocks_at(sheet))
    assert all(mark + 1 in starts for mark in breaks[1:-1])
    assert sheet.print_title_rows == "$1:$2"
    numbers = [sheet.cell(r, c).value for r in range(1, sheet.max_row) for c in (CELLS - 41,)]
    assert [n for n in numbers if isinstance(n, int)][:sets] == list(range(1, sets + 1))


def test_sheet_is_no_wider_than_a4(book: Workbook) -> None:
    """The columns, at 7 pixels a character and 5 of margin in each, fit between the margins."""
    sheet = book["Slitter 1 Folding board 250"]
    widths = [sheet.column_dimensions[get_column_letter(1)].width] * CELLS
    dimensions = list(sheet.column_dimensions.values())
    assert {each.width for each in dimensions} == {widths[0]}
    inches = sum(width * 7 + 0.5 for width in widths) / 96
    assert inches <= 297 / 25.4 - 0.8


def block_of(widths: list[int], front: int, back: int) -> Block:
    """A block of those reels."""
    run: RunPlan = sample_plan().runs[1]
    like = run.blocks[0].positions[0]
    positions = tuple(
        replace(like, number=n, width_mm=Fraction(w)) for n, w in enumerate(widths, start=1)
    )
    knives = [Fraction(front)]
    for width in widths:
        knives.append(knives[-1] + width)
    return replace(
        run.blocks[0],
        positions=positions,
        edge_front_mm=Fraction(front),
        edge_back_mm=Fraction(back),
        knives_mm=tuple(knives),
        knives_moved=(False,) * len(knives),
    )


@given(
    widths=st.lists(st.integers(100, 3000), min_size=1, max_size=25),
    front=st.integers(0, 60),
    back=st.integers(0, 60),
)
def test_any_set_can_be_drawn(widths: list[int], front: int, back: int) -> None:
    """Strips fill the picture without gap or overlap, and knife marks never cover one another."""
    block = block_of(widths, front, back)
    strips = strips_of(block)
    shares = spans([strip.width_mm for strip in strips], CELLS)
    assert shares[0][0] == 0
    assert shares[-1][1] == CELLS
    assert all(a[1] == b[0] and a[1] > a[0] for a, b in pairwise(shares))
    marks = knife_marks(block, METRIC)
    assert all(1 <= mark.first <= mark.last <= CELLS for mark in marks)
    for level in {mark.level for mark in marks}:
        line = [mark for mark in marks if mark.level == level]
        assert all(one.last < other.first for one, other in pairwise(line))


def test_too_few_cells_are_refused() -> None:
    """A picture that cannot show every strip is not drawn wrong."""
    with pytest.raises(ValueError, match="need at least 3 cells"):
        spans([Fraction(1)] * 3, 2)
