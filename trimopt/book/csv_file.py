"""Order books as text: csv with semicolons, commas or tabs."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

from trimopt.book.raw_tables import BookFile, Cells, RawSheet, unreadable
from trimopt.errors import Fault

_DELIMITERS = (";", "\t", ",", "|")
_LOOKED_AT = 50  # rows at the top in which the headings must stand


def open_text_file(
    path: Path, data: bytes, headings_in: Callable[[Cells], int], source: str
) -> BookFile:
    """The one sheet of a text file.

    Parameters
    ----------
    data
        The file's bytes: UTF-8 with or without a byte order mark, UTF-16 with one, or Windows
        text (code page 1252 or 1250), which is said as a warning.
    headings_in
        How many known headings a row has; the delimiter that shows most is taken.

    Raises
    ------
    OrderBookError
        Where the bytes are no text or the quotes do not close.
    """
    text, warnings = _decoded(data, headings_in, path.name, source)
    first, _, rest = text.partition("\n")
    stated = first.strip().casefold()
    if stated.startswith("sep=") and len(stated) == 5:
        # A line that spreadsheet programs write for each other; it stays, blank, as row 1.
        delimiter = first.strip()[4]
        text = "\n" + rest
    else:
        delimiter = max(
            _DELIMITERS,
            key=lambda sign: _most_headings(text, sign, headings_in),
        )

    def rows() -> Iterator[tuple[int, Cells]]:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        row = 0
        try:
            for row, record in enumerate(reader, start=1):
                yield row, tuple(cell if cell.strip() else None for cell in record)
        except csv.Error as error:
            raise unreadable(
                source,
                f"a row that cannot be split into cells ({error})",
                "close the quotes of that row, or save the book as .xlsx",
                where=path.name,
                row=row + 1,
            ) from error

    return BookFile(
        sheets=(RawSheet(name=path.name, rows=rows, text_file=True),), warnings=tuple(warnings)
    )


def _top_rows(text: str, delimiter: str) -> Iterator[Cells]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for record in islice(reader, _LOOKED_AT):
            yield tuple(record)
    except csv.Error:
        return  # read with another delimiter, or named when the rows are read


def _decoded(
    data: bytes, headings_in: Callable[[Cells], int], name: str, source: str
) -> tuple[str, list[Fault]]:
    """The text, and a warning where its encoding was taken for granted."""
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    text = _read_as(data, "utf-16" if marked else "utf-8-sig")
    if text is not None:
        return text, []
    # Of the code pages of Western and of Central Europe, the one that makes headings of the bytes.
    read = {page: _read_as(data, f"cp{page}") for page in ((1252, 1250) if not marked else ())}
    known = {
        page: max(_most_headings(text, sign, headings_in) for sign in _DELIMITERS)
        for page, text in read.items()
        if text is not None
    }
    if not known:
        raise unreadable(source, "not a text file", "save the book as .xlsx or as csv in UTF-8")
    page = max(known, key=lambda one: known[one])
    warning = Fault(
        where=name,
        wrong=f"not UTF-8; read as Windows text (code page {page})",
        right="look at names with accents, or save the file as UTF-8",
    )
    return read[page] or "", [warning]


def _read_as(data: bytes, encoding: str) -> str | None:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        return None
    return None if "\x00" in text else text


def _most_headings(text: str, delimiter: str, headings_in: Callable[[Cells], int]) -> int:
    return max((headings_in(cells) for cells in _top_rows(text, delimiter)), default=0)
