"""The Summary of a plan of many runs, as it prints."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from itertools import pairwise

import pytest
from openpyxl import load_workbook

from tests.plan.sample import sample_plan
from trimopt.report.words.units import METRIC
from trimopt.report.xlsx.summary_sheet import add_summary
from trimopt.report.xlsx.workbook_writer import Workbook

PAGE_PT = 595 - 2 * 0.75 * 72  # A4 landscape between its margins


@pytest.mark.parametrize("runs", [9, 24])
def test_no_table_lies_over_two_pages(runs: int) -> None:
    """Pages begin as printed: a table of the runs is on one, its headings in front of its rows."""
    plan = sample_plan()
    many = tuple(replace(plan.runs[0], name=f"Board {n}") for n in range(runs))
    book = Workbook(METRIC)
    add_summary(book, replace(plan, runs=many))
    sheet = load_workbook(BytesIO(book.saved()))["Summary"]
    fitted = sheet.sheet_properties.pageSetUpPr
    assert fitted is None or not fitted.fitToPage
    assert sheet.page_setup.scale
    page_pt = 100 * PAGE_PT / int(sheet.page_setup.scale)
    heights = [sheet.row_dimensions[row].height or 15 for row in range(1, sheet.max_row + 1)]
    asked = [mark.id for mark in sheet.row_breaks.brk]
    begins, used = [1], 0.0
    for row, height in enumerate(heights, start=1):
        if row - 1 in asked or used + height > page_pt:
            begins.append(row)
            used = heights[0]
        used += height
    begins.append(sheet.max_row + 1)
    heads, named = set(), 0
    for first, after in pairwise(begins):
        head = None
        for row in range(first, after):
            cells = [sheet.cell(row, column).value for column in (1, 2, 3)]
            head = row if cells[0] == "Run" else head
            if cells[1] == "kg" or (str(cells[0]).startswith("Board") and cells[2] == 10):
                assert head is not None, (runs, row)
                assert sheet.cell(row + 1, 2).value != "of used" or row + 1 < after
                heads.add(head)
                named += 1
    assert named == 2 * runs
    assert len(heads) == 1 + -(-runs // 10)
