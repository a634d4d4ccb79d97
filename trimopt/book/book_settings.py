"""What a book states about itself in pairs of cells: a name, and the value to its right."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from typing import Any

from trimopt.book.book_columns import BookColumn, name_key
from trimopt.book.dates_and_times import read_moment
from trimopt.book.raw_tables import Cells
from trimopt.book.table_kinds import KINDS
from trimopt.book.trade_words import FLAGS, Words, heading_words
from trimopt.book.units_of_measure import Dimension
from trimopt.book.written_figures import as_text, read_flag
from trimopt.errors import Fault
from trimopt.mill import Export
from trimopt.paper.typed import CellFaultError

_DATED = re.compile(r"(.*?)[\s:]+(\d{1,4}[./-]\d{1,2}[./-]\d{1,4}.*)")  # "Stand: 26.11.2026"
_AT_MIDNIGHT = re.compile(r".*[ T]0?0:00(:00(\.0+)?)?")  # a date alone is shown without
_OF_EXPORTS = ("decimal_sign", "thousands_sign", "date_order", "size_order", "fill_down")
_OTHER_SIGN = {",": ".", ".": ","}  # where the one groups thousands, the other is for decimals
_MIDNIGHT = "write the last minute, 23:59 of the day that it ends"
_SIGNS = {"comma": ",", "point": "."}


@dataclass(frozen=True, slots=True, kw_only=True)
class BookSettings:
    """The settings of a book, or else of its mill's exports; None where nobody states one."""

    decimal_sign: str | None = None  # "," or "."
    thousands_sign: str | None = None
    date_order: str | None = None  # "d/m/y", "m/d/y" or "y/m/d"
    size_order: str | None = None  # which dimension of a sheet comes first in one cell
    fill_down: tuple[str, ...] | None = None  # columns whose blanks repeat the line above
    words: Words = field(default_factory=Words)  # what words in cells mean
    as_of: date | None = None
    only_listed_jumbos: bool = False
    jumbos_in_order: bool = False
    metres_from: str | None = None  # of defects: "outside" or "spool"
    shift_ends: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedSetting:
    """A pair of cells as it stands in the book."""

    column: BookColumn
    value: object
    where: str
    row: int


@cache
def _named() -> dict[str, BookColumn]:
    return {
        name_key(name): column
        for kind in KINDS
        for column in kind.settings
        for name in (column.heading, *column.names, *heading_words(column.key))
    }


def settings_in(where: str, rows: Iterable[tuple[int, Cells]]) -> Iterable[StatedSetting]:
    """The pairs in some rows: above a table, or on a sheet of settings; a day in the same cell."""
    for row, cells in rows:
        for index, cell in enumerate(cells):
            if not isinstance(cell, str):
                continue
            if (column := _named().get(name_key(cell))) is not None:
                value = next((right for right in cells[index + 1 :] if right is not None), None)
                if isinstance(value, str) and name_key(value) in _named():
                    value = None  # the next pair of the row: this one is blank
                yield StatedSetting(column=column, value=value, where=where, row=row)
            elif (dated := _DATED.fullmatch(cell.strip())) is not None:
                column = _named().get(name_key(dated[1]))
                if column is not None and column.dimension is Dimension.MOMENT:
                    yield StatedSetting(column=column, value=dated[2], where=where, row=row)


def read_settings(
    stated: Iterable[StatedSetting], export: Export
) -> tuple[BookSettings, tuple[Fault, ...]]:
    """The settings, and the faults of those that cannot be read.

    What the mill file says of its exports holds where the book says nothing. A name with nothing
    beside it states nothing. A setting stated twice with two values is a fault.
    """
    values: dict[str, Any] = {}  # by the names of `BookSettings`
    faults = []
    words = Words(export.words)
    pairs = [setting for setting in stated if setting.value is not None]
    # The order of the date's parts comes first: the book's own date may need it.
    for setting in sorted(pairs, key=lambda pair: pair.column.key != "date_order"):
        key = setting.column.key
        try:
            value = _read(setting, values.get("date_order", export.date_order), words)
            if values.setdefault(key, value) != value:
                raise CellFaultError("stated a second time with another value", "state it once")
        except CellFaultError as fault:
            faults.append(
                Fault(
                    where=setting.where,
                    row=setting.row,
                    column=setting.column.heading,
                    value=as_text(setting.value),
                    wrong=fault.wrong,
                    right=fault.right,
                )
            )
    by_mill = {key: getattr(export, key) for key in _OF_EXPORTS}
    if values.get("decimal_sign", export.decimal_sign) != export.decimal_sign:
        by_mill["thousands_sign"] = None  # this book groups thousands otherwise
    if (group := by_mill["thousands_sign"]) in _OTHER_SIGN:
        by_mill["decimal_sign"] = _OTHER_SIGN[group]
    return BookSettings(words=words, **{**by_mill, **values}), tuple(faults)


def _read(setting: StatedSetting, date_order: str | None, words: Words) -> object:
    column = setting.column
    if column.dimension is Dimension.MOMENT:
        if column.key != "as_of" and _AT_MIDNIGHT.fullmatch(as_text(setting.value)):
            raise CellFaultError("midnight, of which the day may begin or end", _MIDNIGHT)
        moment = read_moment(setting.value, date_order=date_order)
        return moment.date() if column.key == "as_of" else moment
    if column.dimension is Dimension.FLAG:
        return read_flag(words.cell(setting.value, FLAGS))
    word = column.choice(setting.value)
    return _SIGNS.get(word, word)
