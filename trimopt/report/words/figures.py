"""How figures and moments are written, alike in the workbook, the page and the terminal.

Thousands are set off with a comma, decimals with a point.
"""

from __future__ import annotations

from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

__all__ = ["moment", "number", "percent", "short_moment", "span"]


def number(value: Fraction | float, places: int = 4) -> str:
    """Give `value` with thousands set off and no more decimals than it has.

    >>> number(Fraction(2151, 2)), number(1234567), number(0.25), number(472.5, 0)
    ('1,075.5', '1,234,567', '0.25', '473')
    """
    if isinstance(value, Fraction) and value.denominator == 1:
        return f"{value.numerator:,}"
    # Half a kilogram rounds up, as in a spreadsheet; the language itself rounds half to even.
    exact = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    text = f"{exact:,f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


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
