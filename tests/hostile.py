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

__all__ = ["FIGURES", "OTHERS", "RAW", "as_csv", "hostile_workbook"]

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
    whole = io.BytesIO()
    book.save(whole)
    if not raw:
        path.write_bytes(whole.getvalue())
        return path
    with zipfile.ZipFile(whole) as before, zipfile.ZipFile(path, "w") as after:
        for part in before.namelist():
            data = before.read(part)
            if part.startswith("xl/worksheets/sheet"):
                name = list(tables)[int(part.removeprefix("xl/worksheets/sheet")[:-4]) - 1]
                for (sheet_name, place), xml in raw.items():
                    if sheet_name == name:
                        data = _replaced(data, place.encode(), xml.encode())
            after.writestr(part, data)
    return path


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
