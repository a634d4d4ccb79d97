"""A workbook's bytes before they are read: what is refused unopened, and odd cells."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from trimopt.book.raw_tables import unreadable

MAX_UNPACKED_MB = 100  # a book of 100,000 lines unpacks to 66 MB and is read in half a minute
MAX_CELLS = 10_000_000  # of a sheet, blank ones between others among them
_MAX_ROWS = 1_048_576  # of a sheet, in every spreadsheet program
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # the container of old and of encrypted workbooks
_MACROS = ("a macro workbook; macros are never opened", "save it as .xlsx and read that")
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    SyntaxError,  # both XML parsers raise kinds of it
    KeyError,
    IndexError,
    ValueError,
    TypeError,
    AttributeError,
    NotImplementedError,
)
# A cell's value that is no figure, or has more digits than a spreadsheet keeps.
_ODD_VALUE = re.compile(
    rb"<(?:\w+:)?v>(?!\s*[-+]?[0-9.]{1,30}(?:[eE][-+]?[0-9]{1,3})?\s*<)([^<]*)<"
)
_CELL_TAG = re.compile(rb"<(?:\w+:)?c(?=[\s>])([^>]*)")
_KIND = re.compile(rb'\st\s*=\s*"([^"]*)"')
_FAR_ROW = re.compile(rb'<(?:\w+:)?row\s[^>]*?\br\s*=\s*"([0-9]{7,})"')


def sound_bytes(path: Path, data: bytes, source: str) -> bytes:
    """The bytes of a workbook, fit to be loaded.

    A cell that holds no number and should (NaN, thousands of digits), for which the library gives
    up the whole sheet, shows an error instead, so that it is a fault among others.

    Raises
    ------
    OrderBookError
        For a macro workbook, an old .xls, a workbook with a password, one that unpacks to more
        than `MAX_UNPACKED_MB` or has rows beyond any sheet's end, and a damaged file.
    """
    _refuse_other_kinds(path, data, source)
    with damage_named(source), zipfile.ZipFile(io.BytesIO(data)) as archive:
        names = archive.namelist()
        if any(name.casefold().endswith("vbaproject.bin") for name in names):
            raise unreadable(source, *_MACROS)
        unpacked = sum(member.file_size for member in archive.infolist())
        if unpacked > MAX_UNPACKED_MB * 1_000_000:
            raise unreadable(
                source,
                f"unpacks to {unpacked / 1e6:,.0f} MB; at most {MAX_UNPACKED_MB} MB are read",
                "delete empty rows and other sheets, or keep fewer orders in a book",
            )
        parts = {name: archive.read(name) for name in names}
        mended = {name: _mended(content, source) for name, content in parts.items()}
    if all(content is parts[name] for name, content in mended.items()):
        return data
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as copy:
        for name, content in mended.items():
            copy.writestr(name, content)
    return whole.getvalue()


def _refuse_other_kinds(path: Path, data: bytes, source: str) -> None:
    ending = path.suffix.casefold()
    if not data:
        raise unreadable(source, "the file is empty", "save the workbook again")
    if ending in {".xlsm", ".xltm", ".xlam"}:
        raise unreadable(source, *_MACROS)
    if data.startswith(_OLE):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise unreadable(
                source, "protected with a password", "take the password off and save it again"
            )
        raise unreadable(source, "a workbook of the old .xls kind", "save it as .xlsx")
    if ending in {".xls", ".xlsb", ".ods"} or not data.startswith(b"PK"):
        kind = f"not a workbook of the .xlsx kind ({ending or 'no ending'})"
        raise unreadable(source, kind, "save it as .xlsx or as csv in UTF-8")


@contextmanager
def damage_named(source: str) -> Iterator[None]:
    """Name damage of a workbook that shows while it is read."""
    try:
        yield
    except _DAMAGE as error:
        raise unreadable(
            source,
            f"the workbook is damaged ({type(error).__name__})",
            "open it in a spreadsheet program, save it again as .xlsx",
        ) from error


def _mended(content: bytes, source: str) -> bytes:
    """A part, the odd cells of a sheet shown as errors."""
    if b"sheetData" not in content:
        return content
    if far := [row for row in _FAR_ROW.findall(content) if int(row[:12]) > _MAX_ROWS]:
        raise unreadable(
            source, f"a row {far[0][:12].decode()}", f"rows up to {_MAX_ROWS:,} in a sheet"
        )
    pieces, end = [], 0
    for found in _ODD_VALUE.finditer(content):
        *_, cell = _CELL_TAG.finditer(content, max(0, found.start() - 2000), found.start())
        kind = _KIND.search(cell[1])
        if (kind is None or kind[1] in {b"n", b"b"}) and found[1].strip():
            pieces += [content[end : cell.start()], _KIND.sub(b"", cell[0]), b' t="e"']
            end = cell.end()
    return b"".join([*pieces, content[end:]]) if pieces else content
