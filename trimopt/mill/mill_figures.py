"""Figures of a mill file, kept exact: TOML numbers, and texts with their units.

A figure may be a number in the unit that ends its key, or a text with another: ``"1500 mm"``,
``"59 1/16 in"``, ``"4600 ft/min"``, ``"42 lb/1000 ft²"``. All of them become fractions.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from trimopt.paper.measures import Measure, UnitTable
from trimopt.paper.typed import CellFaultError, read_number, split_figure_and_unit

# Beyond these a figure is a slip of the keyboard, and making it exact could fill the memory.
_DIGITS_BEFORE_POINT = 12
_DIGITS_AFTER_POINT = 12

_GROUPED = re.compile(r"[,'’]|\d \d{3}(?!\d* ?[/⁄])")


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


def typed_figure(value: object, units: UnitTable, unit: Measure) -> Fraction | None:
    """A figure in `unit`, from a TOML number or a text with one of `units` behind it.

    None where it is neither. Decimals take a point, and thousands stand together.

    Raises
    ------
    CellFaultError
        Where its unit may mean several.

    Examples
    --------
    >>> from trimopt.paper.measures import WIDTHS
    >>> typed_figure("59 1/16 in", WIDTHS, WIDTHS.assumed)
    Fraction(24003, 16)
    >>> typed_figure("0.5", WIDTHS, WIDTHS.assumed), typed_figure("0,5", WIDTHS, WIDTHS.assumed)
    (Fraction(1, 2), None)
    """
    if not isinstance(value, str):
        return exact_number(value)
    figure, behind = split_figure_and_unit(value)
    measure = units.unit(behind) if behind else unit
    if measure is None or _GROUPED.search(str(figure)):
        return None
    try:
        number = read_number(str(figure), decimal_sign=".", fractions=True)
    except CellFaultError:
        return None
    return number * measure.factor / unit.factor


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
