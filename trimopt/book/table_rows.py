"""The rows of a table of a file, each with a reader of its cells."""

from __future__ import annotations

from dataclasses import dataclass, replace
from os import PathLike
from pathlib import Path

from trimopt.book.book_columns import columns_by_key
from trimopt.book.book_settings import BookSettings
from trimopt.book.csv_file import open_text_file
from trimopt.book.fill_down import fill_down
from trimopt.book.furniture import lines_among
from trimopt.book.locate_tables import FoundTable, find_table
from trimopt.book.match_headings import Vocabulary
from trimopt.book.raw_tables import BookFile, Cells, unreadable
from trimopt.book.row_reader import BookTable, RowReader
from trimopt.book.sheet_sizes import split_sizes
from trimopt.book.table_kinds import TableKind
from trimopt.book.written_figures import as_text
from trimopt.book.xlsx_file import open_workbook
from trimopt.errors import Fault
from trimopt.mill import Mill

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
    if not lines.readers:
        raise unreadable(source, f"no {kind.name} under the headings", "a row for each of them")
    headings = next(cells for row, cells in found.sheet.rows() if row == found.heading_row)
    return TableRows(
        source=source,
        headings=tuple(as_text(cell) for cell in headings),
        readers=lines.readers,
        faults=(*faults, *lines.faults),
        warnings=(*file.warnings, *warnings, *lines.warnings),
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
    """The lines of a table: its rows without furniture, blanks filled down where the mill says so.

    `readers` has one of each line; `spoilt` has the rows that are not to be trusted, and why.
    """

    def __init__(self, found: FoundTable, settings: BookSettings) -> None:
        self._found = found
        self.table = BookTable(
            where=found.sheet.name,
            columns=columns_by_key(found.kind.columns),
            headings=found.headings.known,
            settings=settings,
        )
        among = lines_among(found, settings)
        self.faults = among.faults
        self.warnings = among.warnings
        self.spoilt = among.spoilt
        self.asked: frozenset[int] = frozenset()  # rows with blanks that one question is about
        self._columns = frozenset(one.index for one in found.headings.known.values())
        lines = among.lines
        for row, cells in lines if found.sheet.text_file else ():
            self._refuse_extra(row, cells)
        if found.kind.fills_down:
            lines, headings = split_sizes(lines, self.table.headings, settings.size_order)
            self.table = replace(self.table, headings=headings)
            filled = fill_down(lines, self.table.headings, settings, self.table.where)
            lines = filled.lines
            self.faults.extend(filled.faults)
            self.warnings.extend(filled.warnings)
            self.asked = filled.spoilt
            self.spoilt.update(dict.fromkeys(filled.spoilt, "blank cells that are asked about"))
        self._merged()
        for row in {row for row, _ in lines} & set(found.sheet.struck_rows):
            wrong = "struck out: is the order cancelled?"
            right = "delete the row, or take the line off"
            self.spoil(row, self.table.fault(row, wrong, right))
        self.readers = tuple(RowReader(self.table, row, cells) for row, cells in lines)

    def spoil(self, row: int, fault: Fault) -> None:
        """Keep a fault of the sheet, for which a row is not to be trusted."""
        self.spoilt[row] = fault.wrong
        self.faults.append(fault)

    def _refuse_extra(self, row: int, cells: Cells) -> None:
        """A row of a text file with more cells than there are headings was split wrongly."""
        extra = [cell for cell in cells[self._found.headings.width :] if cell is not None]
        if extra:
            wrong = "more cells than there are headings"
            right = "quotes around a text or figure that holds the separator"
            self.spoil(row, self.table.fault(row, wrong, right, value=extra[0]))

    def _merged(self) -> None:
        """Merged cells leave blanks that look like cells nobody filled in."""
        for top, left, bottom, right in self._found.sheet.merged:
            touched = any(left <= index <= right for index in self._columns)
            if bottom <= self._found.last_heading_row or not touched:
                continue
            rows = range(max(top, self._found.last_heading_row + 1), bottom + 1)
            self.spoilt.update(dict.fromkeys(rows, "merged cells"))
            inside = [one for one in self.table.headings.values() if left <= one.index <= right]
            first = min(inside, key=lambda one: one.index)
            wrong = "merged cells" + (f" down to row {bottom}" if len(rows) > 1 else "")
            cure = "unmerge them and fill in every cell"
            self.faults.append(self.table.fault(rows[0], wrong, cure, key=first.key))
