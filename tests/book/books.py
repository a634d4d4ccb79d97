"""Small order books for the tests, written as a person would write them."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from trimopt.book import Book, read_book
from trimopt.errors import Fault
from trimopt.mill import Mill, read_mill

AS_OF = date(2026, 11, 23)
ORDERS = Path(__file__).parents[2] / "orders"

REEL: Mapping[str, Any] = {
    "Order": "R1",
    "Customer": "Wrenlow Cartons",
    "Grade": "Folding boxboard",
    "Grammage [g/m²]": 250,
    "Product": "reel",
    "Width across [mm]": 820,
    "Chop [mm]": None,
    "Min. diameter [mm]": 1150,
    "Max. diameter [mm]": 1250,
    "Core [mm]": 152,
    "Quantity": 20,
    "Unit": "reels",
    "Under tolerance [%]": 5,
    "Over tolerance [%]": 5,
}
SHEET: Mapping[str, Any] = {
    **REEL,
    "Order": "S1",
    "Product": "sheet",
    "Width across [mm]": 720,
    "Chop [mm]": 1020,
    "Min. diameter [mm]": None,
    "Max. diameter [mm]": None,
    "Core [mm]": None,
    "Quantity": 40000,
    "Unit": "sheets",
}


@cache
def example_mill() -> Mill:
    """The invented mill beside the example books."""
    return read_mill(ORDERS / "mill.toml")


def headings_of(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """All headings of the rows, in their order."""
    return list(dict.fromkeys(heading for row in rows for heading in row))


def write_csv(
    path: Path,
    rows: Sequence[Mapping[str, Any]],
    *,
    settings: Mapping[str, str] | None = None,
    delimiter: str = ";",
    encoding: str = "utf-8",
) -> Path:
    """A text book: pairs of settings, a blank row, headings, lines."""
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter, lineterminator="\r\n")
    writer.writerows((settings or {}).items())
    writer.writerow([])
    headings = headings_of(rows)
    writer.writerow(headings)
    writer.writerows([row.get(heading, "") for heading in headings] for row in rows)
    path.write_bytes(stream.getvalue().encode(encoding))
    return path


def write_xlsx(
    path: Path,
    rows: Sequence[Mapping[str, Any]],
    *,
    settings: Mapping[str, Any] | None = None,
    touch: Callable[[Workbook, Worksheet], None] | None = None,
) -> Path:
    """A workbook with one sheet, Orders: settings, headings, lines; `touch` changes it."""
    workbook = Workbook()
    sheet = workbook.worksheets[0]
    sheet.title = "Orders"
    for pair in (settings or {}).items():
        sheet.append(pair)
    headings = headings_of(rows)
    sheet.append(headings)
    for row in rows:
        sheet.append([row.get(heading) for heading in headings])
    if touch is not None:
        touch(workbook, sheet)
    workbook.save(path)
    return path


def read_rows(
    folder: Path, *rows: Mapping[str, Any], settings: Mapping[str, Any] | None = None, **asked: Any
) -> Book:
    """The book of these rows, through a workbook."""
    path = write_xlsx(folder / "book.xlsx", rows, settings=settings)
    return read_book(path, asked.pop("mill", None) or example_mill(), as_of=AS_OF)


def one_fault(book: Book) -> Fault:
    """The only fault of a book."""
    assert len(book.faults) == 1, [str(fault) for fault in book.faults]
    return book.faults[0]
