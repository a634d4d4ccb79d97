"""Units that a heading or a cell may state, and their exact factors to metric.

Every conversion is a fraction, so that the figure can be shown again as it was written.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction

from trimopt.book.model import Product, Unit
from trimopt.paper import measures
from trimopt.paper.typed import CellFaultError


class Dimension(Enum):
    """What kind of figure a column holds."""

    TEXT = "text"
    WIDTH = "a length across or along the sheet or reel, kept in mm"
    LENGTH = "a length of web, kept in m"
    MASS = "a mass, kept in kg"
    GRAMMAGE = "a mass per area, kept in g/m²"
    SHARE = "a share, written in per cent"
    QUANTITY = "an ordered quantity, in the unit of its line"
    COUNT = "a whole number"
    FLAG = "yes or no"
    MOMENT = "a date, with or without a time"


@dataclass(frozen=True, slots=True)
class QuantityUnit:
    """The unit of an ordered quantity. A ream needs its count: `sheets_a_ream` or a column.

    Of an area the factor is in m²; the mass follows from the grammage.
    """

    shown: str
    unit: Unit
    factor: Fraction
    ream: bool = False
    sheets_a_ream: int | None = None
    area: bool = False

    def same_as(self, other: QuantityUnit) -> bool:
        """Whether figures in both mean the same, however the units are shown."""
        return replace(self, shown="", sheets_a_ream=None) == replace(
            other, shown="", sheets_a_ream=None
        )


_TABLES = {
    Dimension.WIDTH: measures.WIDTHS,
    Dimension.LENGTH: measures.LENGTHS,
    Dimension.MASS: measures.MASSES,
    Dimension.GRAMMAGE: measures.GRAMMAGES,
    Dimension.SHARE: measures.SHARES,
}
MEASURED = frozenset(_TABLES)
"""What has a unit, and no more of it than a heading or a cell states."""
FIGURES = MEASURED | {Dimension.QUANTITY, Dimension.COUNT}
_REAMS = re.compile(r"reams?(?:\s*(?:of|@|x|/|\()?\s*(\d+)\s*(?:sheets?)?\)?)?")
_COUNTS = {
    **dict.fromkeys(("reel", "reels", "roll", "rolls", "rl", "rls"), Unit.REELS),
    **dict.fromkeys(("sheet", "sheets", "sht", "shts"), Unit.SHEETS),
}
_EACH = frozenset({"ea", "each"})
_SHEETS_WORDS = ("sheets", "sheet", "shts", "sht")
_THOUSANDS = frozenset(f"{m} {word}" for m in ("m", "1000", "thousand") for word in _SHEETS_WORDS)
_M_SHEETS = QuantityUnit("M sheets", Unit.SHEETS, Fraction(1000))
_REAM = QuantityUnit("reams", Unit.SHEETS, Fraction(1), ream=True)
AMBIGUOUS_IN_INCHES: Mapping[str, tuple[str, str]] = {
    "T": ("T may be 2000 lb or 1000 kg", "write short tons, or t for 1000 kg"),
    "M": ("M may be metres or a thousand", "write m, ft, MSF or M sheets"),
}


def measure_of(dimension: Dimension, text: str = "") -> measures.Measure | None:
    """The unit that `text` names for a figure of that dimension; None where it names none.

    Without a text: the unit that trimopt assumes (mm, m, kg, g/m², %).

    Raises
    ------
    CellFaultError
        Where a basis weight leaves the size or the count of its ream open.

    Examples
    --------
    >>> measure_of(Dimension.WIDTH, "Inches").factor
    Fraction(127, 5)
    >>> round(float(measure_of(Dimension.GRAMMAGE, "lb 25x38, 500 sheets").factor), 5)
    1.48015
    """
    return _TABLES[dimension].unit(text)


def pounds_alone(text: str) -> bool:
    """Whether a basis weight's unit says lb and not what they are for."""
    return measures.MASSES.named.get(measures.unit_key(text)) == measures.MASSES.named["lb"]


def quantity_unit_of(
    text: str, product: Product | None = None, *, in_inches: bool | None = None
) -> QuantityUnit | None:
    """The unit of a quantity: reels, t, lb, m, ft, MSF, sheets, reams of 250 … None: not one.

    Parameters
    ----------
    text
        The unit as written.
    product
        Of the line: it says what ea and rm are.
    in_inches
        Whether the line's width is in inches; None: not known. Then a T may be a short ton, as ST
        is, which elsewhere is a piece.

    Raises
    ------
    CellFaultError
        For what may be several units here, such as a ton.

    Examples
    --------
    >>> quantity_unit_of("reams of 250")
    QuantityUnit(shown='reams of 250', unit=<Unit.SHEETS: 'sheets'>, factor=Fraction(250, 1), \
ream=True, sheets_a_ream=250, area=False)
    """
    key = measures.unit_key(text)
    if not key:
        return None
    if in_inches and text.strip() in AMBIGUOUS_IN_INCHES:
        raise CellFaultError(*AMBIGUOUS_IN_INCHES[text.strip()])
    if key in _COUNTS:
        unit = _COUNTS[key]
        return QuantityUnit(unit.value, unit, Fraction(1))
    if key in _THOUSANDS:
        return _M_SHEETS
    if key in _EACH or key in {"rm", "st"}:
        return _by_line(key, product, in_inches=in_inches)
    for table, unit in (
        (measures.MASSES, Unit.KG),
        (measures.LENGTHS, Unit.METRES),
        (measures.AREAS, Unit.KG),
    ):
        if (measure := table.unit(key)) is not None:
            shown = text.strip() if text.strip() in AMBIGUOUS_IN_INCHES else measure.shown
            return QuantityUnit(shown, unit, measure.factor, area=table is measures.AREAS)
    return _reams(key)


def _by_line(key: str, product: Product | None, *, in_inches: bool | None) -> QuantityUnit:
    """A word that only its line makes clear."""
    if key == "st":
        if not in_inches:
            raise CellFaultError("ST may be short tons or pieces", "write short tons or reels")
        return QuantityUnit("short tons", Unit.KG, measures.MASSES.named["short tons"].factor)
    if key == "rm":
        if product is None:
            raise CellFaultError("rm may be running metres or reams", "write m or reams")
        return _REAM if product is Product.SHEET else QuantityUnit("m", Unit.METRES, Fraction(1))
    if product is not Product.REEL:
        wrong = f"{key} does not say what is counted"
        raise CellFaultError(wrong, "write reels, sheets, or reams with their count")
    return QuantityUnit("reels", Unit.REELS, Fraction(1))


def _reams(key: str) -> QuantityUnit | None:
    reams = _REAMS.fullmatch(key)
    if reams is None:
        return None
    if reams.group(1) is None:
        return _REAM
    count = int(reams.group(1))
    if count == 0:
        raise CellFaultError("a ream of no sheets", "write it like reams of 500")
    return QuantityUnit(
        f"reams of {count}", Unit.SHEETS, Fraction(count), ream=True, sheets_a_ream=count
    )
