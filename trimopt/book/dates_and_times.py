"""Dates and times as an order book writes them."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from functools import lru_cache

from trimopt.book.trade_words import month_of
from trimopt.book.written_figures import NoValue, read_text
from trimopt.paper.typed import CellFaultError

END_OF_DAY = time(23, 59)
"""A due date without a time means: by the end of that day. So does 00:00, which many programs
write behind a date alone."""

_CLOCK = r"(?:[ T]+(\d{1,2}):(\d{2})(?::\d{2}(?:\.\d+)?)?)?"
_NUMBERS = re.compile(r"(\d{1,4})([./-]) ?(\d{1,2})\2 ?(\d{4}|\d{1,2})" + _CLOCK)
_PACKED = re.compile(r"(20\d\d)(\d\d)(\d\d)" + _CLOCK)
_DAY_FIRST = re.compile(
    r"(\d{1,2})[ .-]+(?:de )?([^\W\d_]{3,14})\.?[ .,-]+(?:de )?(\d{4}|\d\d)" + _CLOCK
)
_MONTH_FIRST = re.compile(r"([^\W\d_]{3,14})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})" + _CLOCK)
_PACKED_DAYS = range(2000_01_01, 2100_01_01)  # 20260403 in a cell of numbers
_HOUR = re.compile(r"\d{1,2}:\d{2}(?::\d{2})?")
_RIGHT = "write it like 2026-04-03 or 3.4.2026"
_STATE_IT = (
    "state the book's date order in a pair of cells above the table (Date order | d/m/y or m/d/y) "
    'or under [export] in the mill file (date_order = "d/m/y" or "m/d/y")'
)


def read_moment(value: object, *, date_order: str | None = None, at: time = END_OF_DAY) -> datetime:
    """The date in a cell.

    Parameters
    ----------
    value
        A date of the spreadsheet, or a text: 2026-04-03, 20260403, 3.4.2026, 3 Apr 2026, Apr 3,
        2026, 3. huhtikuuta 2026, 23/04/2026, each with or without a time such as 14:30.
    date_order
        ``"d/m/y"``, ``"m/d/y"`` or ``"y/m/d"`` where the book states it; only dates with slashes
        and years of two figures need it.
    at
        The time of a date that has none, or 00:00.

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
        return _checked(value.year, value.month, value.day, value.time(), at)
    if isinstance(value, date):
        return _checked(value.year, value.month, value.day, time(0), at)
    if isinstance(value, NoValue):
        read_text(value)
    if isinstance(value, (int, float)) and not isinstance(value, bool) and value in _PACKED_DAYS:
        value = str(int(value))
    if isinstance(value, time) or (isinstance(value, str) and _HOUR.fullmatch(value.strip())):
        raise CellFaultError("a time without its day", "write both, like 2026-04-03 14:30")
    if not isinstance(value, str):
        raise CellFaultError("not a date", f"format the cell as a date, or {_RIGHT}")
    return _of_text(" ".join(value.split()), date_order, at)


@lru_cache(maxsize=2000)  # a book has few days and many lines
def _of_text(text: str, date_order: str | None, at: time) -> datetime:
    if found := _NUMBERS.fullmatch(text):
        year, month, day = _of_numbers(found, date_order)
    elif found := _PACKED.fullmatch(text):
        year, month, day = found.group(1, 2, 3)
    elif found := _DAY_FIRST.fullmatch(text):
        day, month, year = found.group(1), _month(found.group(2)), found.group(3)
        if len(year) == 2 and date_order == "y/m/d":
            day, year = year, day
    elif found := _MONTH_FIRST.fullmatch(text):
        month, day, year = _month(found.group(1)), found.group(2), found.group(3)
    else:
        raise CellFaultError("not a date", _RIGHT)
    hour, minute = found.groups()[-2:]
    try:
        clock = time(int(hour or 0), int(minute or 0))
    except ValueError:
        raise CellFaultError("no such time of day", "write it like 14:30") from None
    full_year = int(year) + (2000 if len(year) == 2 else 0)
    return _checked(full_year, int(month), int(day), clock, at)


def _month(name: str) -> str:
    month = month_of(name)
    if month is None:
        raise CellFaultError("no month of that name", _RIGHT)
    return str(month)


def _of_numbers(found: re.Match[str], date_order: str | None) -> tuple[str, str, str]:
    """Year, month and day of a date in three numbers."""
    first, sign, middle, last = found.group(1, 2, 3, 4)
    if len(first) == 4:
        return first, middle, last
    if len(first) == 3 or len(last) == 1:
        raise CellFaultError("not a date", _RIGHT)
    readings = {
        "d/m/y": (last, middle, first),
        "m/d/y": (last, first, middle),
        "y/m/d": (first, middle, last),
    }
    if len(last) == 2:
        if date_order is None:
            raise CellFaultError("a year of two figures", f"write it with four, or {_STATE_IT}")
        return readings[date_order]
    ours, other = readings["d/m/y"], readings["m/d/y"]
    if sign == ".":
        if date_order == "m/d/y" and int(middle) <= 12 and int(first) <= 12 and first != middle:
            raise CellFaultError(
                "points, which stand behind the day first, where the month is stated to come first",
                "write it with the year first",
            )
        return ours
    if date_order in {"d/m/y", "m/d/y"}:
        return readings[date_order or ""]
    if int(first) > 12 or first == middle:
        return ours
    if int(middle) > 12:
        return other
    raise CellFaultError(
        f"can be read as {last}-{int(middle):02d}-{int(first):02d} "
        f"or as {last}-{int(first):02d}-{int(middle):02d}",
        f"write it with the year first, or {_STATE_IT}",
    )


def _checked(year: int, month: int, day: int, clock: time, at: time) -> datetime:
    """The minute of that day; `at` where the clock says midnight, as behind a date alone."""
    clock = clock.replace(second=0, microsecond=0) if clock != time(0) else at
    try:
        moment = datetime.combine(date(year, month, day), clock)
    except ValueError:
        raise CellFaultError("no such day", _RIGHT) from None
    if not 2000 <= year <= 2099:
        raise CellFaultError("the year is out of range", "a date between 2000 and 2099")
    return moment
