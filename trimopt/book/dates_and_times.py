"""Dates and times as an order book writes them."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from functools import lru_cache

from trimopt.book.written_figures import CellFaultError, ErrorValue, NoResult, read_text

__all__ = ["END_OF_DAY", "read_moment"]

END_OF_DAY = time(23, 59)
"""A due date without a time means: by the end of that day."""

_CLOCK = r"(?:[ T]+(\d{1,2}):(\d{2})(?::\d{2}(?:\.\d+)?)?)?"
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})" + _CLOCK)
_POINTS = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})" + _CLOCK)
_SLASHES = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})" + _CLOCK)
_NAMED = re.compile(r"(\d{1,2})[ .-]+([a-z]{3,9})[ .,-]+(\d{4})" + _CLOCK, re.IGNORECASE)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_RIGHT = "write it like 2026-04-03 or 3.4.2026"


def read_moment(value: object, *, date_order: str | None = None) -> datetime:
    """The date in a cell, at `END_OF_DAY` where it has no time.

    Parameters
    ----------
    value
        A date of the spreadsheet, or a text: 2026-04-03, 3.4.2026, 3 Apr 2026, 23/04/2026, each
        with or without a time such as 14:30.
    date_order
        ``"d/m/y"`` or ``"m/d/y"`` where the book states it; only dates with slashes need it.

    Raises
    ------
    CellFaultError
        Where the cell holds no date, or one that can be read two ways.

    Examples
    --------
    >>> read_moment("2026-04-03")
    datetime.datetime(2026, 4, 3, 23, 59)
    >>> read_moment("3.4.2026 06:00")
    datetime.datetime(2026, 4, 3, 6, 0)
    """
    if isinstance(value, datetime):
        clock = value.time() if value.time() != time(0) else END_OF_DAY
        return _checked(value.year, value.month, value.day, clock)
    if isinstance(value, date):
        return _checked(value.year, value.month, value.day, END_OF_DAY)
    if isinstance(value, (ErrorValue, NoResult)):
        read_text(value)
    if not isinstance(value, str):
        raise CellFaultError("not a date", f"format the cell as a date, or {_RIGHT}")
    return _of_text(" ".join(value.split()), date_order)


@lru_cache(maxsize=2000)  # a book has few days and many lines
def _of_text(text: str, date_order: str | None) -> datetime:
    if found := _ISO.fullmatch(text):
        year, month, day = found.group(1, 2, 3)
    elif found := _POINTS.fullmatch(text):
        day, month, year = found.group(1, 2, 3)
    elif found := _SLASHES.fullmatch(text):
        first, second, year = found.group(1, 2, 3)
        day, month = _day_and_month(first, second, year, date_order)
    elif found := _NAMED.fullmatch(text):
        day, name, year = found.group(1, 2, 3)
        if name[:3].casefold() not in _MONTHS:
            raise CellFaultError("no month of that name", _RIGHT)
        month = str(_MONTHS.index(name[:3].casefold()) + 1)
    else:
        raise CellFaultError("not a date", _RIGHT)
    hour, minute = found.group(4, 5)
    try:
        clock = END_OF_DAY if hour is None else time(int(hour), int(minute))
    except ValueError:
        raise CellFaultError("no such time of day", "write it like 14:30") from None
    return _checked(int(year), int(month), int(day), clock)


def _day_and_month(first: str, second: str, year: str, date_order: str | None) -> tuple[str, str]:
    if date_order == "d/m/y":
        return first, second
    if date_order == "m/d/y":
        return second, first
    if int(first) > 12 or first == second:
        return first, second
    if int(second) > 12:
        return second, first
    raise CellFaultError(
        f"can be read as {year}-{int(second):02d}-{int(first):02d} "
        f"or as {year}-{int(first):02d}-{int(second):02d}",
        "write it with the year first, or state the book's date order in a pair of cells above "
        "the table: Date order | d/m/y or m/d/y",
    )


def _checked(year: int, month: int, day: int, clock: time) -> datetime:
    try:
        moment = datetime.combine(date(year, month, day), clock.replace(second=0, microsecond=0))
    except ValueError:
        raise CellFaultError("no such day", _RIGHT) from None
    if not 2000 <= year <= 2099:
        raise CellFaultError("the year is out of range", "a date between 2000 and 2099")
    return moment
