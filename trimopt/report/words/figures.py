"""How figures and moments are written, alike in the workbook, the page and the terminal.

Thousands are set off with a comma, decimals with a point.
"""

from __future__ import annotations

from datetime import datetime


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
