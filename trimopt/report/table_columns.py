"""Columns of a table: one list for what a column is called and what stands in it.

The workbook and the page draw the same columns, each in its own way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from textwrap import wrap
from typing import Any

from trimopt.report.words.texts import heading
from trimopt.report.words.units import METRIC, Units, percent, short_moment

_NO_BREAK = "\u00a0"
RUN_WIDTH = 34  # of a column of runs: Kraft linerboard 42 lb/1000 ft² on one line
Value = str | int | float | Fraction | date | datetime | bool | None


class Strong(str):
    """A text that stands out from the others of its column."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class TableColumn:
    """A column of a table.

    `kind` is one of "text", "names" (a text of lines), "strong" (one that stands out), "count",
    "mm", "diameter", "m", "kg", "t", "share", "min", "time", "moment" (a time without its year).
    Where a figure has a unit, the heading carries it: that of the kind, or of `unit`, the kind of
    figures within a text.
    """

    key: str  # of its heading among the texts; empty: none
    width: float  # on a workbook's sheet, characters
    kind: str
    of: Callable[[Any], Value] = lambda _: None  # its value, of what the row is about
    heading: str = ""  # in place of a key
    said: Callable[[Any, Units], Value] | None = None  # a text that says units, in place of `of`
    unit: str = ""

    def title(self, units: Units) -> str:
        """Give the heading, with the unit of the figures below it in place of the metric one.

        Any but a metric unit stands in brackets, as order books write it: "in" is a word, too.
        """
        words = self.heading or (heading(self.key) if self.key else "")
        kind = self.unit or self.kind
        metric, sign = METRIC.sign(kind), units.sign(kind)
        if not metric:
            return words
        for ending in (f" [{metric}]", f" {metric}"):
            if words.endswith(ending) and units.written.metric:
                return words
            words = words.removesuffix(ending)
        return f"{words} {sign}" if units.written.metric else f"{words} [{sign}]"

    def value(self, subject: object, units: Units) -> Value:
        """Give what stands in it, figures as the plan keeps them."""
        return self.of(subject) if self.said is None else self.said(subject, units)


def whole_names(names: Iterable[str], between: str = ", ", width: int = 23) -> str:
    """Give names on lines of that width, none of them broken where it has a hyphen or a space.

    >>> whole_names(["J-12-001-1", "J-12-001-2", "Bay 3-7"])
    'J-12-001-1, J-12-001-2,\\nBay 3-7'
    """
    joined = between.join(name.replace(" ", _NO_BREAK) for name in names)
    lines = wrap(joined, width, break_long_words=False, break_on_hyphens=False)
    return "\n".join(lines).replace(_NO_BREAK, " ")


def shown(column: TableColumn, value: Value, units: Units) -> str:
    """Give the text of a cell, where figures are no cells of a spreadsheet."""
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, datetime):
        return short_moment(value)
    assert not isinstance(value, date)
    return percent(float(value)) if column.kind == "share" else units.bare(value, column.kind)


def chosen(columns: Sequence[TableColumn], *keys: str, **kinds: str) -> tuple[TableColumn, ...]:
    """Give the columns of `keys`, in that order, some with another kind."""
    named = {column.key: column for column in columns}
    return tuple(replace(named[key], kind=kinds.get(key, named[key].kind)) for key in keys)
