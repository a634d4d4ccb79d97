"""The raw rows of the trend's workbook, written straight as the sheet's XML.

Two years of shifts are a quarter of a million cells. The library takes seconds to make an object of
each; as text they take a fraction of one. Only plain numbers and texts stand here, and a text is
written as a text, whatever it begins with.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable, Sequence
from io import BytesIO
from xml.sax.saxutils import escape

from openpyxl.utils import get_column_letter

from trimopt.ledger.trend_model import Row
from trimopt.text import for_workbook

__all__ = ["filled"]

_END = b"</sheetData>"
_EXTENT = re.compile(rb'<dimension ref="[^"]*"\s*/>')


def filled(book: bytes, part: str, rows: Sequence[Row], columns: int) -> bytes:
    """Give a workbook with rows added below the headings of one sheet.

    Parameters
    ----------
    book
        The workbook as the library saved it.
    part
        Path of the sheet in it, such as ``xl/worksheets/sheet9.xml``; its row 1 has the headings.
    rows
        What to add from row 2 on; a None or a 0 is left blank, which a sum does not mind.
    columns
        How many columns the sheet has.
    """
    extent = f'<dimension ref="A1:{get_column_letter(columns)}{len(rows) + 1}"/>'.encode()
    whole = BytesIO()
    with (
        zipfile.ZipFile(BytesIO(book)) as before,
        zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as after,
    ):
        for name in before.namelist():
            data = before.read(name)
            if name == part:
                head, end, tail = data.partition(_END)
                head = _EXTENT.sub(extent, head)
                data = head + _rows_xml(rows, columns).encode() + end + tail
            after.writestr(name, data)
    return whole.getvalue()


def _rows_xml(rows: Iterable[Row], columns: int) -> str:
    letters = [get_column_letter(column) for column in range(1, columns + 1)]
    parts: list[str] = []
    for number, row in enumerate(rows, start=2):
        parts.append(f'<row r="{number}">')
        for letter, value in zip(letters, row, strict=True):
            if isinstance(value, str):
                text = escape(for_workbook(value))
                parts.append(
                    f'<c r="{letter}{number}" t="inlineStr"><is><t xml:space="preserve">{text}'
                    "</t></is></c>"
                )
            elif value:
                parts.append(f'<c r="{letter}{number}"><v>{value!r}</v></c>')
        parts.append("</row>")
    return "".join(parts)
