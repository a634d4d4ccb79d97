"""The sheet Run days: from when to when the winder runs a paper."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.book.books import AS_OF, REEL, example_mill, write_xlsx
from trimopt.book import Book, RunDay, read_book

_HEADINGS: list[object] = ["Grade", "Grammage [g/m²]", "From", "To"]


def _book(tmp_path: Path, *rows: list[object]) -> Book:
    path = write_xlsx(tmp_path / "book.xlsx", [REEL])
    workbook = load_workbook(path)
    sheet = workbook.create_sheet("Run days")
    for row in rows:
        sheet.append(row)
    workbook.save(path)
    return read_book(path, example_mill(), as_of=AS_OF)


def test_days_and_times_are_read(tmp_path: Path) -> None:
    """A day without a time begins with it and ends with it; the grade is the mill file's."""
    book = _book(
        tmp_path,
        _HEADINGS,
        ["kraft LINER", 175, "2026-11-24", "2026-11-24"],
        ["Folding boxboard", 250, datetime.fromisoformat("2026-11-25T14:00"), "26.11.2026 06:00"],
    )
    assert not book.faults
    assert book.run_days == (
        RunDay(
            grade="Kraft liner", grammage_gsm=175.0,
            begins=datetime.fromisoformat("2026-11-24T00:00"),
            ends=datetime.fromisoformat("2026-11-24T23:59"),
        ),
        RunDay(
            grade="Folding boxboard", grammage_gsm=250.0,
            begins=datetime.fromisoformat("2026-11-25T14:00"),
            ends=datetime.fromisoformat("2026-11-26T06:00"),
        ),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        (["Kraft", 175, "2026-11-24", "2026-11-24"], "Grade", "no such grade"),
        (["Kraft liner", None, "2026-11-24", "2026-11-24"], "Grammage [g/m²]", "blank"),
        (["Kraft liner", 175, None, "2026-11-24"], "From", "blank"),
        (["Kraft liner", 175, "2026-11-24", "soon"], "To", "not a date"),
        (["Kraft liner", 175, "2026-11-25", "2026-11-24"], "To", "no later than its beginning"),
        (["Kraft liner", 175, "03/04/2026", "2026-11-24"], "From", "can be read as"),
        (["Folding boxboard", 250, "2026-12-01", "2026-12-02"], "From", "the hours of row 3"),
    ],
)
def test_every_fault_is_named(tmp_path: Path, row: list[object], column: str, said: str) -> None:
    """Each with its place; the other rows are read all the same."""
    sound: list[object] = ["Folding boxboard", 250, "2026-12-01", "2026-12-01"]
    book = _book(tmp_path, _HEADINGS, ["Duplex board", 1, 1, 1], sound, row)
    (fault,) = [one for one in book.faults if one.row == 4]
    assert (fault.where, fault.column) == ("Run days", column)
    assert said in fault.wrong
    assert len(book.run_days) == 1
    assert "run day in row 4" in {each.order for each in book.left_out}
