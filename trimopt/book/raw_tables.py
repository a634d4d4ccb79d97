"""What a book's file holds before anything in it is understood: sheets of rows of cells."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeAlias

from trimopt.errors import Fault, OrderBookError
from trimopt.paper import consecutive

_RULES = frozenset("-\u2013\u2014_=*.~ ")
Cells: TypeAlias = tuple[object, ...]
"""A row's cells from the first column; blanks are None."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RawSheet:
    """One sheet. `rows` starts afresh on every call and numbers rows as the spreadsheet does."""

    name: str
    rows: Callable[[], Iterator[tuple[int, Cells]]]
    text_file: bool = False  # cells beyond the headings then mean that a row is split wrongly
    hidden: bool = False
    hidden_rows: tuple[int, ...] = ()
    filtered: bool = False  # hidden rows are those that a filter leaves out
    struck_rows: tuple[int, ...] = ()  # with a line through a cell
    hidden_columns: tuple[int, ...] = ()  # from 0
    merged: tuple[tuple[int, int, int, int], ...] = ()  # first row, first column, last row, column

    def fault(
        self, wrong: str, right: str, *, row: int | None = None, column: str = "", value: str = ""
    ) -> Fault:
        return Fault(where=self.name, row=row, column=column, value=value, wrong=wrong, right=right)

    def out_of_sight(self, rows: Sequence[int], columns: Mapping[int, str]) -> list[Fault]:
        """Say that what a person does not see is read all the same: hidden `rows`, the sheet
        itself, and those of `columns` (the heading of each) that are hidden.
        """
        odd = []
        if self.hidden:
            odd.append(("", "the sheet is hidden; read all the same"))
        if rows:
            many = "hidden rows" if len(rows) > 1 else "hidden row"
            by_filter = ", by a filter" if self.filtered else ""
            odd.append(("", f"{many} {spans(rows)}{by_filter}: read all the same"))
        odd.extend(
            (heading, "a hidden column; read all the same")
            for index, heading in columns.items()
            if index in self.hidden_columns
        )
        right = "show them, or delete what is not meant"
        return [self.fault(wrong, right, column=column) for column, wrong in odd]


@dataclass(frozen=True, slots=True, kw_only=True)
class BookFile:
    """The sheets of a file, the day it was saved where it says so, and what was odd about it."""

    sheets: tuple[RawSheet, ...]
    saved: date | None = None
    warnings: tuple[Fault, ...] = ()


def unreadable(
    source: str, wrong: str, right: str, *, where: str = "", row: int | None = None
) -> OrderBookError:
    """The error for a file that gives no order line at all."""
    fault = Fault(where=where, row=row, wrong=wrong, right=right)
    return OrderBookError(source, (fault,))


def is_ruled(text: str) -> bool:
    """Whether a text is a line of dashes or the like."""
    return set(text) <= _RULES


def spans(rows: Sequence[int]) -> str:
    """Row numbers as spans: 5, 7–9."""
    found = consecutive(rows)
    shown = [str(a) if a == b else f"{a}–{b}" for a, b in found[:20]]
    return ", ".join(shown) + (" …" if len(found) > 20 else "")
