"""Figures of a mill file, kept exact: TOML numbers, and widths written as text.

A width may be written as a number of millimetres, or as text with its unit: ``"1500 mm"``,
``"0.5"``, ``"59 1/16 in"``, ``"59.0625 in"``. All of them become fractions of a millimetre.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from trimopt.paper import INCH_MM

__all__ = ["exact_number", "length_mm", "plain"]

# Beyond these a figure is a slip of the keyboard, and making it exact could fill the memory.
_DIGITS_BEFORE_POINT = 12
_DIGITS_AFTER_POINT = 12

_LENGTH = re.compile(
    r"""\s*(?P<sign>-?)
    (?:(?P<decimal>\d{1,12}(?:\.\d{1,12})?)
      |(?:(?P<whole>\d{1,6})[ -]+)?(?P<over>\d{1,6})\s*/\s*(?P<under>\d{1,6}))
    \s*(?P<unit>mm|in\.?|inch|inches|"|”)?\s*""",
    re.VERBOSE | re.IGNORECASE,
)


def exact_number(value: object) -> Fraction | None:
    """A TOML integer or float as an exact fraction; None where it is neither, or out of all reason.

    Floats arrive as `decimal.Decimal`, so that 0.1 is one tenth.

    Examples
    --------
    >>> exact_number(Decimal("0.1"))
    Fraction(1, 10)
    >>> exact_number(True) is None
    True
    """
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return Fraction(value) if abs(value) < 10**_DIGITS_BEFORE_POINT else None
    if isinstance(value, Decimal) and value.is_finite():
        exponent = value.as_tuple().exponent
        assert isinstance(exponent, int)  # it is finite
        if value.adjusted() < _DIGITS_BEFORE_POINT and exponent >= -_DIGITS_AFTER_POINT:
            return Fraction(value)
    return None


def length_mm(value: object) -> Fraction | None:
    """A length in mm from a TOML number (mm) or a text with its unit; None where it is neither.

    Examples
    --------
    >>> length_mm("59 1/16 in")
    Fraction(24003, 16)
    >>> length_mm("0.5")
    Fraction(1, 2)
    >>> length_mm("0,5") is None
    True
    """
    if not isinstance(value, str):
        return exact_number(value)
    match = _LENGTH.fullmatch(value)
    if match is None:
        return None
    if match["decimal"] is not None:
        size = Fraction(match["decimal"])
    else:
        if int(match["under"]) == 0:
            return None
        size = int(match["whole"] or 0) + Fraction(int(match["over"]), int(match["under"]))
    if match["sign"]:
        size = -size
    unit = (match["unit"] or "mm").casefold()
    return size if unit == "mm" else size * INCH_MM


def plain(figure: Fraction) -> str:
    """An exact figure for an error text: a decimal number where it ends, else to four places.

    Examples
    --------
    >>> plain(Fraction(3, 2)), plain(Fraction(1500)), plain(Fraction(1, 3))
    ('1.5', '1500', '0.3333')
    """
    if figure.denominator == 1:
        return str(figure.numerator)
    text = f"{float(figure):.4f}" if figure.denominator % 3 == 0 else f"{float(figure):.10f}"
    return text.rstrip("0").rstrip(".")
