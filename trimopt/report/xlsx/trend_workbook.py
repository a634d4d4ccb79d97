"""The trend's workbook: its sheets in order, written whole or not at all."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from trimopt.ledger.trend_model import Trend
from trimopt.plan.codec import write_whole
from trimopt.report.xlsx.styles import add_styles
from trimopt.report.xlsx.trend_rows import filled
from trimopt.report.xlsx.trend_sheets import (
    ROWS,
    add_bound,
    add_carriers,
    add_culled,
    add_front,
    add_groups,
    add_periods,
    add_rows,
    add_rules,
)

__all__ = ["write_trend_workbook"]


def write_trend_workbook(trend: Trend, path: Path) -> None:
    """Write the workbook of a trend.

    Parameters
    ----------
    trend : Trend
        What it shows.
    path : Path
        Where to; an older file there is replaced in one step.

    Raises
    ------
    ReportError
        The file cannot be written.
    """
    book = _build(trend)
    saved = BytesIO()
    book.save(saved)
    # The library numbers the parts of a workbook's sheets in their order.
    part = f"xl/worksheets/sheet{book.sheetnames.index(ROWS) + 1}.xml"
    write_whole(path, filled(saved.getvalue(), part, trend.rows, len(trend.row_headings)))


def _build(trend: Trend) -> Workbook:
    """Lay the sheets out; the raw rows have their headings only."""
    book = Workbook()
    first = book.active
    assert isinstance(first, Worksheet)
    book.remove(first)
    add_styles(book)
    add_front(book, trend)
    add_periods(book, trend)
    add_groups(book, trend)
    add_bound(book, trend)
    add_carriers(book, trend)
    add_culled(book, trend)
    add_rules(book, trend)
    add_rows(book, trend)
    book.properties.title = "Trim loss, planned and run"
    return book
