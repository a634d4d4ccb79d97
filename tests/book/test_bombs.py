"""Small files that unpack to large ones are refused before they are unpacked."""

from __future__ import annotations

import io
import resource
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook

from tests.book.books import REEL, example_mill, write_xlsx
from trimopt.book import read_book
from trimopt.book.xlsx_file import MAX_UNPACKED_MB
from trimopt.errors import LedgerError, OrderBookError, ReportError
from trimopt.ledger.as_run_file import read_filled
from trimopt.report.read_back.plan_from_workbook import read_back


def _seconds() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def _with_sheet(path: Path, sheet: bytes) -> Path:
    """A workbook whose first sheet's part is the given bytes."""
    whole = io.BytesIO()
    Workbook().save(whole)
    with (
        zipfile.ZipFile(whole) as before,
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as after,
    ):
        for name in before.namelist():
            after.writestr(name, sheet if name.endswith("sheet1.xml") else before.read(name))
    return path


def _sheet(rows: str) -> bytes:
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<worksheet xmlns="{space}"><sheetData>{rows}</sheetData></worksheet>'.encode()


def test_a_bomb_is_refused_at_once(tmp_path: Path) -> None:
    """A quarter of a megabyte that unpacks to 238: the limit is named, in no time."""
    row = "<row><c><v>1</v></c></row>"
    path = _with_sheet(tmp_path / "b.xlsx", _sheet(row * (238_000_000 // len(row))))
    assert path.stat().st_size < 1_000_000
    began = _seconds()
    with pytest.raises(OrderBookError) as refused:
        read_book(path, example_mill())
    said = f"unpacks to 238 MB; at most {MAX_UNPACKED_MB} MB are read"
    assert said in str(refused.value)
    with pytest.raises(LedgerError, match=said):
        read_filled(path)
    with pytest.raises(ReportError, match=said):
        read_back(path)
    assert _seconds() - began < 1


@pytest.mark.parametrize(
    ("rows", "wrong"),
    [
        ('<row r="99999999999"><c><v>1</v></c></row>', "a row 99999999999"),
        ('<row r="1048577"><c r="A1048577"><v>1</v></c></row>', "a row 1048577"),
        ('<row><c r="ZZZ1"><v>1</v></c></row>' * 600, "more than 10,000,000 cells"),
    ],
)
def test_a_sheet_that_ends_nowhere(tmp_path: Path, rows: str, wrong: str) -> None:
    """Rows and columns that stand far off would be filled up with blanks."""
    book = write_xlsx(tmp_path / "sound.xlsx", [REEL])
    with zipfile.ZipFile(book) as parts:
        sheet = parts.read("xl/worksheets/sheet1.xml")
    path = tmp_path / "b.xlsx"
    with zipfile.ZipFile(book) as before, zipfile.ZipFile(path, "w") as after:
        for name in before.namelist():
            changed = sheet.replace(b"</sheetData>", f"{rows}</sheetData>".encode())
            after.writestr(name, changed if name.endswith("sheet1.xml") else before.read(name))
    began = _seconds()
    with pytest.raises(OrderBookError, match=wrong):
        read_book(path, example_mill())
    with pytest.raises(ReportError, match=wrong):
        read_back(path)
    assert _seconds() - began < 20


def test_a_large_book_is_read(tmp_path: Path) -> None:
    """The limit leaves room: a thousand lines come to a hundredth of it."""
    rows = [{**REEL, "Order": f"R{n}"} for n in range(1000)]
    path = write_xlsx(tmp_path / "b.xlsx", rows)
    with zipfile.ZipFile(path) as archive:
        unpacked = sum(member.file_size for member in archive.infolist())
    assert unpacked < MAX_UNPACKED_MB * 1_000_000 / 100
    assert len(read_book(path, example_mill()).orders) == 1000
