"""The trend's workbook: what its cells hold whatever the names in it begin with."""

from __future__ import annotations

import re
import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from tests.ledger.filling import load
from tests.ledger.history import Shift, shifts
from trimopt.ledger.ledger_file import ledger_url
from trimopt.ledger.trend_model import Asked, Trend
from trimopt.ledger.trend_sums import trend
from trimopt.report.xlsx.trend_workbook import ROWS, trend_workbook
from trimopt.whole_files import write_whole

_GRADE = "=HYPERLINK(\"http://x\") <b> & 'liner'"


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Trend:
    """The trend of two days, with a grade and a customer that look like formulae and markup."""
    url = ledger_url(str(tmp_path_factory.mktemp("ledger") / "ledger.sqlite"))

    def renamed(shift: Shift) -> Shift:
        plans = []
        for plan, entries in shift.plans:
            runs = tuple(
                replace(
                    run,
                    grade=_GRADE,
                    orders=tuple(replace(line, customer="+1 & Co") for line in run.orders),
                )
                for run in plan.runs
            )
            plans.append((replace(plan, mill_name="@mill & sons", runs=runs), entries))
        return Shift(plans=tuple(plans))

    load(url, [renamed(shift) for shift in shifts(2, first=date(2025, 3, 1))])
    return trend(url, Asked(), by="shift", target_percent=2.0)


def test_names_are_never_formulae(found: Trend, tmp_path: Path) -> None:
    """Names that begin with =, + or @ stand as texts on every sheet, and come back as they were."""
    write_whole(tmp_path / "trend.xlsx", trend_workbook(found))
    book = load_workbook(tmp_path / "trend.xlsx")
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f", (sheet.title, cell.coordinate)
    rows = book[ROWS]
    headings = [cell.value for cell in rows[1]]
    assert rows.cell(2, headings.index("Grade") + 1).value == _GRADE
    assert rows.cell(2, headings.index("Mill") + 1).value == "@mill & sons"
    assert book["Orders"].cell(2, 2).value == "+1 & Co"


def test_raw_rows_are_all_there(found: Trend, tmp_path: Path) -> None:
    """Every row of the trend stands on the last sheet, value for value."""
    write_whole(tmp_path / "trend.xlsx", trend_workbook(found))
    book = load_workbook(tmp_path / "trend.xlsx")
    sheet = book[ROWS]
    assert sheet.max_row == len(found.rows) + 1
    assert sheet.max_column == len(found.row_headings)
    for row, expected in zip(sheet.iter_rows(min_row=2, values_only=True), found.rows, strict=True):
        for value, wanted in zip(row, expected, strict=True):
            assert (value or 0) == (wanted or 0)
    assert sheet.auto_filter.ref.endswith(str(len(found.rows) + 1))


def test_a_later_workbook_takes_the_place(found: Trend, tmp_path: Path) -> None:
    """An older file of that name is replaced, and nothing else is left beside it."""
    path = tmp_path / "trend.xlsx"
    path.write_bytes(b"old")
    write_whole(path, trend_workbook(found))
    assert path.read_bytes()[:2] == b"PK"
    assert [each.name for each in tmp_path.iterdir()] == ["trend.xlsx"]


def test_the_periods_that_missed_are_named(found: Trend, tmp_path: Path) -> None:
    """The front sheet says the target and the periods above it; the table marks them."""
    write_whole(tmp_path / "trend.xlsx", trend_workbook(found))
    book = load_workbook(tmp_path / "trend.xlsx")
    texts = [str(cell.value) for row in book["Trim loss"]["A1:A6"] for cell in row]
    missed = [line.label for line in found.lines if line.run_missed]
    said = next(text for text in texts if text.startswith("Target: 2 %"))
    assert f"{found.by}s as run: {len(missed)} of {len(found.lines)} missed" in said
    assert all(period in said for period in missed[-12:])
    marks = [row[4] for row in book["Periods"].iter_rows(min_row=2, values_only=True)]
    for line, mark in zip(found.lines, marks, strict=True):
        assert ("run" in str(mark)) == bool(line.run_missed)


def test_total_loss_and_its_lower_bound_are_drawn(found: Trend, tmp_path: Path) -> None:
    """Each period's bound stands in the table and is a line of the chart, below its total loss."""
    write_whole(tmp_path / "trend.xlsx", trend_workbook(found))
    with zipfile.ZipFile(tmp_path / "trend.xlsx") as parts:
        chart = parts.read("xl/charts/chart1.xml").decode()
    book = load_workbook(tmp_path / "trend.xlsx")
    headings, *rows = book["Periods"].iter_rows(values_only=True)
    for heading in ("Total loss planned", "Lower bound of total loss"):
        letter = get_column_letter(headings.index(heading) + 1)
        assert f"Periods!${letter}$2:${letter}$" in chart, heading
    bounds = [row[headings.index("Lower bound of total loss")] for row in rows]
    assert bounds == pytest.approx([line.bound_share for line in found.lines])
    for line in found.lines:
        assert 0 < (line.bound_share or 0) <= (line.planned.total_loss.share or 0)


def test_a_ledger_of_one_period_is_seen_on_the_charts(found: Trend, tmp_path: Path) -> None:
    """Lines of one point have a marker, and no two causes of loss share a colour."""
    write_whole(tmp_path / "one.xlsx", trend_workbook(replace(found, lines=found.lines[:1])))
    with zipfile.ZipFile(tmp_path / "one.xlsx") as parts:
        lines, causes = (parts.read(f"xl/charts/chart{n}.xml").decode() for n in (1, 2))
    markers = re.findall(r'<c:marker><c:symbol val="(\w+)"', lines)
    assert len(markers) == lines.count("<c:ser>")
    assert "none" not in markers
    colours = re.findall(r'<c:spPr><a:solidFill><a:srgbClr val="(\w+)"', causes)
    assert len(set(colours)) == len(colours) == causes.count("<c:ser>")
