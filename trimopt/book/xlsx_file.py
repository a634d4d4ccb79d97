"""Order books as workbooks (.xlsx), read row by row so that a large one fits in memory.

Some are refused unopened, and odd cells become error cells first.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trimopt.book.number_formats import as_shown, moment_shown
from trimopt.book.raw_tables import BookFile, Cells, RawSheet, unreadable
from trimopt.book.written_figures import NoValue

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook

_TAG = re.compile(rb"<(?:\w+:)?(row|col|mergeCell|f|filterColumn)(?=[\s/>])([^>]*)>")
_CELL = re.compile(rb"<(?:\w+:)?c(?=\s)([^>]*[^/])>")
_ATTRIBUTE = re.compile(rb'(?<![\w:])(\w+)\s*=\s*"([^"]*)"')
_RANGE = re.compile(rb"([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})")
_SAVED = re.compile(rb"<dcterms:modified[^>]*>\s*(\d{4})-(\d\d)-(\d\d)T")
_BATCH = 50  # no more are parsed in vain where only the top of a sheet is looked at
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


def open_workbook(path: Path, data: bytes, source: str) -> BookFile:
    """The sheets of a workbook.

    Raises
    ------
    OrderBookError
        For a macro workbook, an old .xls, a workbook with a password, and a damaged file.
    """
    data = sound_bytes(path, data, source)
    with damage_named(source):
        archive = zipfile.ZipFile(io.BytesIO(data))
        values = _loaded(data, data_only=True)
        struck = _struck_styles(values)
        sheets: list[RawSheet] = []
        formulas: Workbook | None = None
        for worksheet in values.worksheets:
            # The row-by-row reader keeps the path of the sheet's part to itself, and tells neither
            # hidden rows nor merged cells; the part is looked through for those.
            part = archive.read(worksheet._worksheet_path)  # type: ignore[attr-defined]
            look = _look_through(part)
            twin = None
            if look.formulas:
                if formulas is None:
                    formulas = _loaded(data, data_only=False)
                twin = formulas[worksheet.title]
            sheets.append(
                RawSheet(
                    name=worksheet.title,
                    rows=_rows_of(worksheet, twin, source),
                    hidden=worksheet.sheet_state != "visible",
                    hidden_rows=tuple(look.hidden_rows),
                    filtered=look.filtered,
                    struck_rows=_struck_rows(part, struck),
                    hidden_columns=tuple(look.hidden_columns),
                    merged=tuple(look.merged),
                )
            )
        saved = _saved(archive) if "docProps/core.xml" in archive.namelist() else None
    return BookFile(sheets=tuple(sheets), saved=saved)


def _loaded(data: bytes, *, data_only: bool) -> Workbook:
    from openpyxl import load_workbook  # noqa: PLC0415  # slow to import; only workbooks need it

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of drop-downs and styles that are not kept
        return load_workbook(
            io.BytesIO(data), read_only=True, data_only=data_only, keep_links=False
        )


def _saved(archive: zipfile.ZipFile) -> date | None:
    found = _SAVED.search(archive.read("docProps/core.xml"))
    if found is None:
        return None
    year, month, day = (int(part) for part in found.groups())
    return date(year, month, day)


@dataclass(slots=True)
class _SheetPart:
    """What a sheet's part says beside its cells."""

    filtered: bool = False
    formulas: bool = False
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[int] = field(default_factory=list)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)


def _look_through(content: bytes) -> _SheetPart:
    from openpyxl.utils import column_index_from_string  # noqa: PLC0415

    look = _SheetPart()
    row = 0
    for found in _TAG.finditer(content):
        tag, rest = found.groups()
        if tag == b"f":
            look.formulas = True
            continue
        if tag == b"filterColumn":
            look.filtered = True
            continue
        said = dict(_ATTRIBUTE.findall(rest))
        if tag == b"row":
            row = int(said.get(b"r", row + 1))
            if said.get(b"hidden") in {b"1", b"true"}:
                look.hidden_rows.append(row)
        elif tag == b"col":
            if said.get(b"hidden") in {b"1", b"true"}:
                first, last = int(said[b"min"]), min(int(said[b"max"]), 500)
                look.hidden_columns.extend(range(first - 1, last))
        elif corners := _RANGE.fullmatch(said.get(b"ref", b"")):
            left, right = (column_index_from_string(corners[k].decode()) - 1 for k in (1, 3))
            look.merged.append((int(corners[2]), left, int(corners[4]), right))
    return look


def _struck_styles(workbook: Workbook) -> frozenset[bytes]:
    """The numbers of the cell styles that put a line through the text."""
    fonts, styles = workbook._fonts, workbook._cell_styles  # type: ignore[attr-defined]
    struck = {number for number, font in enumerate(fonts) if font.strike}
    return frozenset(
        str(number).encode() for number, style in enumerate(styles) if style.fontId in struck
    )


def _struck_rows(part: bytes, struck: frozenset[bytes]) -> tuple[int, ...]:
    """The rows with a filled cell of one of these styles."""
    rows = set()
    for found in _CELL.finditer(part) if struck else ():
        said = dict(_ATTRIBUTE.findall(found.group(1)))
        if said.get(b"s") in struck and (place := re.search(rb"\d+", said.get(b"r", b""))):
            rows.add(int(place.group()))
    return tuple(sorted(rows))


def _rows_of(
    worksheet: Any, twin: Any | None, source: str
) -> Callable[[], Iterator[tuple[int, Cells]]]:
    """The rows of a sheet, from the top on every call; `twin` has its formulas."""
    # A stated extent is often wrong in exported books and would cut columns off.
    worksheet.reset_dimensions()
    if twin is not None:
        twin.reset_dimensions()

    def rows() -> Iterator[tuple[int, Cells]]:
        left, row, count = _cells(worksheet, twin), 0, 0
        while True:
            # In batches: between them the caller's own warning filters hold.
            with damage_named(source), warnings.catch_warnings():
                warnings.simplefilter("ignore")  # of dates out of range: they come as errors
                batch = list(islice(left, _BATCH))
            for cells in batch:
                row += 1
                count += len(cells)
                if count > MAX_CELLS:
                    wrong = f"more than {MAX_CELLS:,} cells in a sheet"
                    raise unreadable(source, wrong, "delete empty columns and rows")
                yield row, cells
            if len(batch) < _BATCH:
                return

    return rows


def _cells(worksheet: Any, twin: Any | None) -> Iterator[Cells]:
    if twin is None:
        for cells in worksheet.iter_rows():
            yield tuple(map(_value, cells))
    else:
        for cells, formulas in zip(worksheet.iter_rows(), twin.iter_rows(), strict=True):
            yield tuple(map(_value_or_formula, cells, formulas))


def _value(cell: Any) -> object:
    value = cell.value
    if value is None:
        return None
    if isinstance(value, str):
        if cell.data_type == "e":
            return NoValue(value)
        return value if value.strip() else None
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return as_shown(value, cell.number_format)
    if isinstance(value, datetime):
        return moment_shown(value, cell.number_format)
    return value


def _value_or_formula(cell: Any, formula: Any) -> object:
    # A formula whose result is an empty text is saved with the type of a text: that is a blank.
    if cell.value is None and formula.data_type == "f" and cell.data_type == "n":
        return NoValue.of_formula(str(getattr(formula.value, "text", formula.value)))
    return _value(cell)
