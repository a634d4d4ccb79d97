"""The rows of a table of a file, each with a reader of its cells."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from os import PathLike
from pathlib import Path

from trimopt.book.book_columns import columns_by_key
from trimopt.book.book_settings import Settings
from trimopt.book.csv_file import open_text_file
from trimopt.book.locate_tables import FoundTable, TableKind, find_table
from trimopt.book.match_headings import Vocabulary
from trimopt.book.raw_tables import BookFile, Cells, unreadable
from trimopt.book.row_reader import RowReader, Table
from trimopt.book.written_figures import as_text
from trimopt.book.xlsx_file import open_workbook
from trimopt.errors import Fault
from trimopt.mill import Mill

__all__ = ["Lines", "TableRows", "file_bytes", "opened", "read_rows"]

_TEXT_ENDINGS = frozenset({".csv", ".tsv", ".tab", ".txt"})


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRows:
    """A table that stands alone in a file: its headings as written, and a reader for every row."""

    source: str
    headings: tuple[str, ...]
    readers: tuple[RowReader, ...]
    faults: tuple[Fault, ...]  # of the sheet, not of a cell
    warnings: tuple[Fault, ...]


def read_rows(path: str | PathLike[str], kind: TableKind, mill: Mill) -> TableRows:
    """The rows of a file with one table.

    Raises
    ------
    OrderBookError
        It cannot be read, has no such headings, or no row under them.
    """
    path = Path(path)
    source = str(path)
    file = opened(path, file_bytes(path, source), kind.vocabulary(mill), source)
    found, settings, faults, warnings = find_table(file, kind, mill, source)
    lines = Lines(found, settings)
    readers = tuple(lines.readers())
    if not readers:
        raise unreadable(source, f"no {kind.name} under the headings", "a row for each of them")
    headings = next(cells for row, cells in found.sheet.rows() if row == found.heading_row)
    return TableRows(
        source=source,
        headings=tuple(as_text(cell) for cell in headings),
        readers=readers,
        faults=(*faults, *lines.faults),
        warnings=(*file.warnings, *warnings),
    )


def file_bytes(path: Path, source: str) -> bytes:
    """What the file holds.

    Raises
    ------
    OrderBookError
        It cannot be opened.
    """
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise unreadable(source, "no such file", "the path of an order book") from None
    except IsADirectoryError:
        raise unreadable(source, "a folder", "the path of an order book in it") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise unreadable(
            source, f"cannot be opened ({reason})", "close it where else it is open, or copy it"
        ) from error


def opened(path: Path, data: bytes, words: Vocabulary, source: str) -> BookFile:
    """The file as sheets of rows; `words` tell how a text file is split."""
    if path.suffix.casefold() in _TEXT_ENDINGS:
        return open_text_file(path, data, lambda cells: len(words.known_in(cells)), source)
    return open_workbook(path, data, source)


class Lines:
    """The rows of a table under its headings, blank rows left out."""

    def __init__(self, found: FoundTable, settings: Settings) -> None:
        self._found = found
        self.table = Table(
            where=found.sheet.name,
            columns=columns_by_key(found.kind.columns),
            headings=found.headings.known,
            settings=settings,
        )
        self.faults: list[Fault] = []
        self.spoilt: set[int] = set()  # rows that a fault of the sheet makes unsure
        self._columns = frozenset(one.index for one in found.headings.known.values())
        self._merged()

    def readers(self) -> Iterator[RowReader]:
        """A reader for every line."""
        for row, cells in self._found.sheet.rows():
            if row <= self._found.heading_row:
                continue
            if all(cell is None for cell in cells):
                continue
            if self._found.sheet.text_file:
                self._refuse_extra(row, cells)
            if any(index < len(cells) and cells[index] is not None for index in self._columns):
                yield RowReader(self.table, row, cells)

    def _refuse_extra(self, row: int, cells: Cells) -> None:
        """A row of a text file with more cells than there are headings was split wrongly."""
        extra = [cell for cell in cells[self._found.headings.width :] if cell is not None]
        if extra:
            self.spoilt.add(row)
            self.faults.append(
                Fault(
                    where=self.table.where,
                    row=row,
                    value=as_text(extra[0]),
                    wrong="more cells than there are headings",
                    right="quotes around a text or figure that holds the separator",
                )
            )

    def _merged(self) -> None:
        """Merged cells leave blanks that look like cells nobody filled in."""
        for top, left, bottom, right in self._found.sheet.merged:
            touched = any(left <= index <= right for index in self._columns)
            if bottom <= self._found.heading_row or not touched:
                continue
            rows = range(max(top, self._found.heading_row + 1), bottom + 1)
            self.spoilt.update(rows)
            self.faults.append(
                Fault(
                    where=self.table.where,
                    row=rows[0],
                    column=self._heading_at(left, right),
                    wrong="merged cells" + (f" down to row {bottom}" if len(rows) > 1 else ""),
                    right="unmerge them and fill in every cell",
                )
            )

    def _heading_at(self, left: int, right: int) -> str:
        inside = [one for one in self.table.headings.values() if left <= one.index <= right]
        return min(inside, key=lambda one: one.index).text
