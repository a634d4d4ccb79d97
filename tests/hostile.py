"""Cells that nobody means to write, and workbooks that hold them as a spreadsheet would."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path

from openpyxl import Workbook

#: Figures that no mill has; none of them may be taken for one.
FIGURES: tuple[object, ...] = (
    1e308, -1e308, 1.7976931348623157e308, 5e-324, 1e-300, 10**300, -(10**300),
    "1" + "0" * 399, "-" + "9" * 400, "0." + "0" * 390 + "1", "9" * 5000, "1/" + "9" * 400,
    "1" + "0" * 400 + "/7", "7 1/" + "9" * 400, "1e308", "1E+400", "nan", "NaN", "inf", "-inf",
    "Infinity", "0x10", "1_000", "١٢٣٤٥٦٧٨٩" * 50, "²" * 40, "½" * 40, "--5", "5-", "1..5", "1,2,3",
)  # fmt: skip
#: What is no figure at all, and what may be one.
OTHERS: tuple[object, ...] = (
    True, False, date(2026, 11, 23), datetime.fromisoformat("2026-11-23T06:30"), time(6, 30),
    date(1900, 1, 1), datetime.fromisoformat("9999-12-31T23:59"), "#REF!", "=1+1", "=1/0",
    "x" * 32_000, " ", "\u200b", "\ufeff", "a\nb", "'", '"', "٣", "１２", "⅓", "5 %", "5 mm",
    "5 kg", "1,250", "1.250,00", "0", "-0", "-1", 0, -1, -0.5, 0.1 + 0.2, "null", "../..", "%s%n",
    "{0}", "💥", "\u202e5",
)  # fmt: skip
#: What stands in the XML of a cell where a program other than a spreadsheet wrote it.
RAW: tuple[str, ...] = (
    "<v>1e999</v>", "<v>-1e999</v>", "<v>NaN</v>", "<v>INF</v>", "<v>1e308</v>", "<v>abc</v>",
    "<v></v>", "<v>0x1F</v>", "<v>1_0</v>", f"<v>{'9' * 5000}</v>", "<f>1+1</f>", "<v>-1e-400</v>",
)  # fmt: skip

_CELL = re.compile(rb'<c r="([A-Z]+\d+)"[^>]*?(?:/>|>.*?</c>)', re.DOTALL)


def hostile_workbook(
    path: Path,
    tables: Mapping[str, Sequence[Sequence[object]]],
    raw: Mapping[tuple[str, str], str] | None = None,
) -> Path:
    """Write sheets of rows; `raw` puts XML into a cell, by sheet and place such as B7."""
    book = Workbook()
    del book[book.sheetnames[0]]
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([float(v) if isinstance(v, int) and abs(v) > 1e15 else v for v in row])
    book.save(path)
    by_part: dict[str, dict[str, str]] = {}
    for (name, place), xml in (raw or {}).items():
        part = f"xl/worksheets/sheet{list(tables).index(name) + 1}.xml"
        by_part.setdefault(part, {})[place] = xml
    if by_part:
        raw_cells(path, path, by_part)
    return path


def raw_cells(source: Path, path: Path, cells: Mapping[str, Mapping[str, str]]) -> None:
    """Write a workbook anew with XML put into cells, by the part of their sheet and their place."""
    with zipfile.ZipFile(io.BytesIO(source.read_bytes())) as before:
        parts = {name: before.read(name) for name in before.namelist()}
    for part, places in cells.items():
        for place, xml in places.items():
            parts[part] = _replaced(parts[part], place.encode(), xml.encode())
    with zipfile.ZipFile(path, "w") as after:
        for name, data in parts.items():
            after.writestr(name, data)


def as_csv(path: Path, rows: Sequence[Sequence[object]]) -> Path:
    """Write rows as a text file with semicolons."""
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, delimiter=";").writerows(rows)
    return path


def _replaced(data: bytes, place: bytes, xml: bytes) -> bytes:
    def change(found: re.Match[bytes]) -> bytes:
        return b'<c r="%b">%b</c>' % (place, xml) if found[1] == place else found[0]

    changed = _CELL.sub(change, data)
    assert changed != data, place
    return changed
