"""What a book's file holds before anything in it is understood: sheets of rows of cells."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import TypeAlias

from trimopt.errors import Fault, OrderBookError

__all__ = ["BookFile", "Cells", "Sheet", "unreadable"]

Cells: TypeAlias = tuple[object, ...]
"""A row's cells from the first column; blanks are None."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet. `rows` starts afresh on every call and numbers rows as the spreadsheet does."""

    name: str
    rows: Callable[[], Iterator[tuple[int, Cells]]]
    text_file: bool = False  # cells beyond the headings then mean that a row is split wrongly
    hidden: bool = False
    hidden_rows: tuple[int, ...] = ()
    hidden_columns: tuple[int, ...] = ()  # from 0
    merged: tuple[tuple[int, int, int, int], ...] = ()  # first row, first column, last row, column


@dataclass(frozen=True, slots=True, kw_only=True)
class BookFile:
    """The sheets of a file, the day it was saved where it says so, and what was odd about it."""

    sheets: tuple[Sheet, ...]
    saved: date | None = None
    warnings: tuple[Fault, ...] = ()


def unreadable(
    source: str, wrong: str, right: str, *, where: str = "", row: int | None = None
) -> OrderBookError:
    """The error for a file that gives no order line at all."""
    fault = Fault(where=where, row=row, wrong=wrong, right=right)
    return OrderBookError(source, (fault,))
