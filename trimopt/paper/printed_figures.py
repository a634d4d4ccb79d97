"""Figures as a mill writes them: in its unit system, inches as its knife scale has them.

Everything is kept metric and exact; here it becomes a figure in the unit in which it is read.
Widths lose nothing: what the text says, read again, is the width.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import Enum
from fractions import Fraction

from trimopt.paper.measures import GRAMMAGES, LENGTHS, MASSES, SPEEDS, WIDTHS, Measure
from trimopt.paper.unit_factors import INCH_MM, Figure


class UnitSystem(Enum):
    """In which units figures are read."""

    METRIC = "metric"
    INCH_POUND = "inch-pound"


class Measured(Enum):
    """What a figure measures, with the unit in which trimopt keeps it."""

    WIDTH = "a width, knife position, core or stated limit of diameter, mm: exact"
    DIAMETER = "a diameter that was reckoned, mm: to the nearest sixteenth of an inch"
    LENGTH = "a length of web, m: to the nearest foot"
    MASS = "a mass, kg"
    TONNAGE = "a large mass, kg, in tonnes or short tons"
    SPEED = "a speed, m/min"
    CALIPER = "a caliper, µm, in µm or points: thousandths of an inch"


INCHES: Mapping[str, int] = {"sixteenths": 16, "thirty-seconds": 32, "decimals": 0}
"""How a mill writes inches, and the parts that its scale divides one into."""

_DECIMALS_OF_INCH = 4  # of a width that lies on no part of an inch: 0.0025 mm
_FINEST = 128  # parts of an inch that a book may state
_DIAMETER_PARTS = 16  # of an inch, of a diameter that was reckoned
_PLACES = {
    Measured.WIDTH: 4,
    Measured.DIAMETER: 0,
    Measured.LENGTH: 0,
    Measured.MASS: 0,
    Measured.TONNAGE: 1,
    Measured.SPEED: 0,
    Measured.CALIPER: 1,
}
_KEPT_IN = {"mm": Measured.WIDTH, "m": Measured.LENGTH, "kg": Measured.MASS}
_FIGURE = re.compile(r"\d+(?:,\d{3})*(?:\.\d+)?")
_FIGURES = re.compile(rf"((?:{_FIGURE.pattern}(?:, | or | to ))*{_FIGURE.pattern}) (mm|m|kg)\b")
_INCH = WIDTHS.named["in"]
_POINT = Measure("pt", INCH_MM)
_UNITS: Mapping[UnitSystem, Mapping[Measured, Measure]] = {
    UnitSystem.METRIC: {
        Measured.WIDTH: WIDTHS.assumed,
        Measured.DIAMETER: WIDTHS.assumed,
        Measured.LENGTH: LENGTHS.assumed,
        Measured.MASS: MASSES.assumed,
        Measured.TONNAGE: MASSES.named["t"],
        Measured.SPEED: SPEEDS.assumed,
        Measured.CALIPER: Measure("µm", Fraction(1)),
    },
    UnitSystem.INCH_POUND: {
        Measured.WIDTH: _INCH,
        Measured.DIAMETER: _INCH,
        Measured.LENGTH: LENGTHS.named["ft"],
        Measured.MASS: MASSES.named["lb"],
        Measured.TONNAGE: MASSES.named["short tons"],
        Measured.SPEED: SPEEDS.named["ft/min"],
        Measured.CALIPER: _POINT,
    },
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """How an output writes its figures: the unit system, the parts of an inch, metric beside it.

    Examples
    --------
    >>> inch = Written(system=UnitSystem.INCH_POUND)
    >>> inch.text(Measured.WIDTH, Fraction("1389.0625")), inch.text(Measured.DIAMETER, 1422.39)
    ('54 11/16 in', '56 in')
    >>> inch.text(Measured.LENGTH, 3069), inch.text(Measured.MASS, 1000.0)
    ('10,069 ft', '2,205 lb')
    """

    system: UnitSystem = UnitSystem.METRIC
    inches: str = "sixteenths"  # one of `INCHES`
    metric_beside: bool = False

    @property
    def metric(self) -> bool:
        """Whether figures are read in metric units."""
        return self.system is UnitSystem.METRIC

    def unit(self, what: Measured) -> str:
        """The unit in which such figures are read."""
        return _UNITS[self.system][what].shown

    def factor(self, what: Measured) -> Fraction:
        """What one of that unit is in the unit in which trimopt keeps it, exactly."""
        return _UNITS[self.system][what].factor

    def value(self, what: Measured, kept: Figure) -> Fraction:
        """The exact figure in that unit, as a cell of a workbook holds it.

        A float is the decimals that it is written in: a core of 76.2 mm is 3 in.
        """
        exact = Fraction(repr(kept)) if isinstance(kept, float) else Fraction(kept)
        return exact / self.factor(what)

    def figure(self, what: Measured, kept: Figure, places: int | None = None) -> str:
        """The figure in that unit, without it.

        Parameters
        ----------
        what
            What it measures.
        kept
            The figure as trimopt keeps it.
        places
            Most decimals; None: as is usual for it. Inches of widths and diameters have as many as
            they need.
        """
        value = self.value(what, kept)
        if self.metric or what not in (Measured.WIDTH, Measured.DIAMETER):
            return number(value, _PLACES[what] if places is None else places)
        parts = INCHES[self.inches]
        if what is Measured.DIAMETER:
            value = Fraction(round(value * _DIAMETER_PARTS), _DIAMETER_PARTS)
        return inches_text(value, parts)

    def text(self, what: Measured, kept: Figure, places: int | None = None) -> str:
        """The figure with its unit, and the metric one behind it where the mill asks for it."""
        written = f"{self.figure(what, kept, places)} {self.unit(what)}"
        if self.metric or not self.metric_beside:
            return written
        return f"{written} ({Written().text(what, kept, places)})"

    def translated(self, text: str) -> str:
        """A text with its millimetres, metres and kilograms in these units, those behind them.

        For words that are composed before it is known how they are read, every figure of which was
        tried: in its own unit it stays exact.

        Examples
        --------
        >>> Written(system=UnitSystem.INCH_POUND).translated("a width of 4572 to 5080 mm is")
        'a width of 180 to 200 in (4572 to 5080 mm) is'
        """
        if self.metric:
            return text

        def one(found: re.Match[str]) -> str:
            what = _KEPT_IN[found[2]]
            figures = _FIGURE.sub(
                lambda each: self.figure(what, Fraction(each[0].replace(",", ""))), found[1]
            )
            return f"{figures} {self.unit(what)} ({found[0]})"

        return _FIGURES.sub(one, text)

    def grammage(self, grammage_gsm: Figure, basis: Measure | None = None) -> str:
        """A grammage in g/m², or as a basis weight where figures are in pounds and one is known.

        Examples
        --------
        >>> from trimopt.paper.measures import basis_weight_unit
        >>> liner = basis_weight_unit("lb/1000 ft²")
        >>> Written(system=UnitSystem.INCH_POUND).grammage(float(42 * liner.factor), liner)
        '42 lb/1000 ft²'
        """
        metric = f"{number(grammage_gsm, 3)} {GRAMMAGES.assumed.shown}"
        if self.metric or basis is None:
            return metric
        written = f"{number(Fraction(grammage_gsm) / basis.factor, 3)} {basis.shown}"
        return f"{written} ({metric})" if self.metric_beside else written


def inches_text(inches: Fraction, parts: int = 16) -> str:
    """Inches as a scale of so many parts has them; 0 parts: as a decimal.

    What lies between the marks is written in 64ths or 128ths, what lies on none of them with four
    decimals, from which the hundredth of a millimetre is read again.

    Examples
    --------
    >>> inches_text(Fraction("54.6875")), inches_text(Fraction("54.6875"), 0)
    ('54 11/16', '54.6875')
    >>> inches_text(Fraction(1, 64)), inches_text(Fraction(820) / INCH_MM)
    ('1/64', '32.2835')
    """
    if _FINEST % inches.denominator:
        return number(inches, _DECIMALS_OF_INCH)
    if not parts or inches.denominator == 1:
        return number(inches, 7)  # 1/128 has seven decimals
    whole, rest = divmod(abs(inches), 1)
    sign = "-" if inches < 0 else ""
    return f"{sign}{whole} {rest}" if whole else f"{sign}{rest}"


def number(value: Figure, places: int = 4) -> str:
    """Give `value` with thousands set off and no more decimals than it has.

    Examples
    --------
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


def consecutive(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """First and last of whole numbers that follow each other, in their order."""
    found: list[tuple[int, int]] = []
    for each in numbers:
        if found and each == found[-1][1] + 1:
            found[-1] = found[-1][0], each
        else:
            found.append((each, each))
    return found


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
