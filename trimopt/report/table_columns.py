"""Columns of a table: one list for what a column is called and what stands in it.

The workbook and the page draw the same columns, each in its own way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from trimopt.report.words.texts import heading

__all__ = ["Column", "Strong", "Value", "chosen", "values_of"]

Value = str | int | float | Fraction | date | datetime | bool | None


class Strong(str):
    """A text that stands out from the others of its column."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    `kind` is one of "text", "strong" (a text that stands out), "count", "mm", "m", "kg", "t",
    "share", "min", "time", "moment" (a time without its year).
    """

    key: str  # of its heading among the texts; empty: none
    width: float  # on a workbook's sheet, characters
    kind: str
    of: Callable[[Any], Value] = lambda _: None  # its value, of what the row is about
    heading: str = ""

    def __post_init__(self) -> None:
        """Look the heading up where none is given."""
        if self.key and not self.heading:
            object.__setattr__(self, "heading", heading(self.key))


def values_of(columns: Sequence[Column], subject: object) -> tuple[Value, ...]:
    """Give a row: the value of each column."""
    return tuple(column.of(subject) for column in columns)


def chosen(columns: Sequence[Column], *keys: str, **kinds: str) -> tuple[Column, ...]:
    """Give the columns of `keys`, in that order, some with another kind."""
    named = {column.key: column for column in columns}
    return tuple(replace(named[key], kind=kinds.get(key, named[key].kind)) for key in keys)
