"""What exports put among the lines of a table and is no line: found by its look, left out, said.

What only may be such a row is a fault, never left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from trimopt.book.book_settings import BookSettings
from trimopt.book.locate_tables import FoundTable
from trimopt.book.raw_tables import Cells, is_ruled, spans
from trimopt.book.trade_words import STATES
from trimopt.book.written_figures import as_text, read_figure
from trimopt.errors import Fault
from trimopt.paper.typed import CellFaultError, split_figure_and_unit

Row = tuple[int, Cells]

_TOTALS, _ASKED = "totals", "asked about"
_DELETE = "delete the row; what it says of the lines below belongs into a column of theirs"
_ONE_TABLE = "put this table into a file of its own, or its columns in the same order"
_SUMMED = frozenset({"quantity", "made", "length"})  # what a totals row sums


@dataclass(slots=True, kw_only=True)
class LinesFound:
    """The rows that are lines, and what was found of the others."""

    lines: list[Row] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)
    spoilt: dict[int, str] = field(default_factory=dict)  # rows that are not to be trusted, and why


def lines_among(found: FoundTable, settings: BookSettings) -> LinesFound:
    """The lines of a table, its furniture left out and said in a warning of each kind."""
    return _Sorter(found, settings).sorted()


class _Sorter:
    def __init__(self, found: FoundTable, settings: BookSettings) -> None:
        self._found = found
        self._settings = settings
        self._at = {key: one.index for key, one in found.headings.known.items()}
        self._needed = {column.key for column in found.kind.columns if column.required}
        self._figures_at = "quantity" if "quantity" in self._at else "length"
        self._sums = [Fraction(0), Fraction(0)]  # of all lines, and since the last total
        self._broken = False  # by other headings among the lines
        self._left: dict[str, list[int]] = defaultdict(list)
        self._states: dict[str, list[int]] = defaultdict(list)
        self._result = LinesFound()

    def sorted(self) -> LinesFound:
        rows = (pair for pair in self._found.sheet.rows() if pair[0] > self._found.last_heading_row)
        for row, cells in rows:
            if all(cell is None for cell in cells):
                continue
            kind = self._furniture(row, cells) if self._found.kind.of_orders else ""
            if kind:
                self._left[kind].append(row)
                if kind == _TOTALS:
                    self._sums[1] = Fraction(0)
                continue
            if any(self._cell(cells, key) is not None for key in self._at):
                self._result.lines.append((row, cells))
                self._add_up(cells)
                if self._broken:
                    self._result.spoilt.setdefault(row, "stands below other headings")
        self._result.warnings.extend(self._said())
        self._result.faults.extend(self._unknown_states())
        return self._result

    def _cell(self, cells: Cells, key: str) -> object:
        index = self._at.get(key)
        return cells[index] if index is not None and index < len(cells) else None

    def _furniture(self, row: int, cells: Cells) -> str:
        """What a row is where it is no line; empty for a line."""
        if self._has_all(cells):
            return self._state(row, cells)
        filled = [cell for cell in cells if cell is not None]
        texts = [cell for cell in filled if isinstance(cell, str)]
        kind = self._of_texts(row, cells, texts) if len(texts) == len(filled) else ""
        if not kind and self._is_total(cells, texts):
            kind = _TOTALS
        return kind or self._state(row, cells)

    def _has_all(self, cells: Cells) -> bool:
        """Whether a row has what every line needs, and a figure where headings have none."""
        amount = as_text(self._cell(cells, self._figures_at))[:1]
        return amount.isdigit() and all(self._cell(cells, key) is not None for key in self._needed)

    def _of_texts(self, row: int, cells: Cells, texts: Sequence[str]) -> str:
        """What a row without a number or date in it is."""
        if all(map(is_ruled, texts)):
            return "ruled lines"
        if len(self._found.vocabulary.known_in(cells)) >= max(self._found.kind.min_known, 3):
            return self._of_headings(row, cells)
        if self._found.vocabulary.with_units(self._found.heading_cells, cells):
            return "units repeated"
        amount = self._cell(cells, "quantity")  # in a text file a sum is a text too
        if len(texts) > 1 or amount or self._settings.words.begins(texts[0], "total"):
            return ""
        if self._settings.words.begins(texts[0], "page"):
            return "page lines"
        wrong = "a text alone among the lines"
        fault = self._found.sheet.fault(wrong, _DELETE, row=row, value=texts[0])
        self._result.faults.append(fault)
        return _ASKED

    def _of_headings(self, row: int, cells: Cells) -> str:
        """A row that repeats the headings; other headings spoil what stands below them."""
        if _texts(cells) == _texts(self._found.heading_cells):
            return "headings repeated"
        wrong = f"other headings than in row {self._found.heading_row}"
        self._result.faults.append(self._found.sheet.fault(wrong, _ONE_TABLE, row=row))
        self._broken = True
        return _ASKED

    def _is_total(self, cells: Cells, texts: Sequence[str]) -> bool:
        """Whether no line can be meant: a sum, with a word for it or without one."""
        filled = {key for key in self._at if self._cell(cells, key) is not None}
        labelled = [text for text in texts if self._settings.words.begins(text, "total")]
        if labelled:
            own = {key for key in filled if self._cell(cells, key) in labelled}
            return not (filled & self._needed) - own - _SUMMED
        figure = self._figure(cells) if filled == {"quantity"} else None
        return figure is not None and figure in self._sums

    def _figure(self, cells: Cells) -> Fraction | None:
        value = self._cell(cells, "quantity")
        try:
            sign = self._settings.decimal_sign
            figure, _ = split_figure_and_unit(value)
            return None if value is None else read_figure(figure, decimal_sign=sign)
        except CellFaultError:
            return None

    def _add_up(self, cells: Cells) -> None:
        figure = self._figure(cells)
        if figure is not None:
            self._sums = [so_far + figure for so_far in self._sums]

    def _state(self, row: int, cells: Cells) -> str:
        """Whether the status column says that a line is not to be made."""
        cell = self._cell(cells, "status")
        if cell is None:
            return ""
        word = self._settings.words.state(as_text(cell))
        if word == "cancelled":
            return f'cancelled ("{as_text(cell)}")'
        if word not in STATES:
            self._states[as_text(cell)].append(row)
        return ""

    def _unknown_states(self) -> Iterator[Fault]:
        for state, rows in self._states.items():
            many = f", also in rows {spans(rows[1:])}" if len(rows) > 1 else ""
            for row in rows:
                self._result.spoilt[row] = f'its status "{state}" is not known'
            yield self._found.sheet.fault(
                f"may mean that the line is not to be made{many}",
                f'say in the mill file under [words]: cancelled = ["{state}"], '
                f'or open = ["{state}"], or later = ["{state}"] for the next run of its paper',
                row=rows[0],
                column=self._found.headings.known["status"].text,
                value=state,
            )

    def _said(self) -> Iterator[Fault]:
        self._left.pop(_ASKED, None)
        for kind, rows in self._left.items():
            wrong = f"{kind} in row{'s' if len(rows) > 1 else ''} {spans(rows)}: left out"
            yield self._found.sheet.fault(wrong, "nothing to do, unless a line is among them")


def _texts(cells: Cells) -> list[str]:
    texts = [as_text(cell, max_characters=120) for cell in cells]
    while texts and not texts[-1]:
        texts.pop()
    return texts
