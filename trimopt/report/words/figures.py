"""How figures and moments are written, alike in the workbook, the page and the terminal.

Thousands are set off with a comma, decimals with a point.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from trimopt.book.raw_tables import consecutive


def percent(share: float | None, places: int = 2) -> str:
    """Give a share of one as per cent, or a dash where there is none.

    >>> percent(0.0123), percent(-0.000001), percent(None)
    ('1.23 %', '0.00 %', '–')
    """
    return "–" if share is None else f"{round(100 * share, places) + 0.0:.{places}f} %"


def moment(when: datetime | None) -> str:
    """Give a date and a time to the minute, or a dash."""
    return when.strftime("%Y-%m-%d %H:%M") if when else "–"


def short_moment(when: datetime | None) -> str:
    """Give day, month and time, for tables that hold a week."""
    return f"{when.day} {when:%b %H:%M}" if when else ""


def span(low: float, high: float) -> str:
    """Give two whole numbers as a range, or the one that they are.

    >>> span(4, 9), span(1250, 1250)
    ('4–9', '1,250')
    """
    return f"{low:,}" if low == high else f"{low:,}–{high:,}"


def in_spans(numbers: Iterable[int]) -> str:
    """Give whole numbers shortly, in their order: those that follow each other as a range.

    >>> in_spans([1, 2, 3, 6]), in_spans([45, 1, 2])
    ('1–3, 6', '45, 1–2')
    """
    return ", ".join(span(low, high) for low, high in consecutive(numbers))
