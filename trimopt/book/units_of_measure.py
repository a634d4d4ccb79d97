"""Units that a heading or a cell may state, and their exact factors to metric.

Every conversion is a fraction, so that the figure can be shown again as it was written.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from trimopt.book.model import Unit
from trimopt.paper.measures import (
    GRAMMAGES,
    LENGTHS,
    MASSES,
    SHARES,
    WIDTHS,
    Measure,
    unit_key,
)
from trimopt.paper.typed import CellFaultError

__all__ = ["Dimension", "Measure", "QuantityUnit", "measure_of", "quantity_unit_of", "unit_key"]


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
    """The unit of an ordered quantity. A ream needs its count: `sheets_a_ream` or a column."""

    shown: str
    unit: Unit
    factor: Fraction
    ream: bool = False
    sheets_a_ream: int | None = None

    def same_as(self, other: QuantityUnit) -> bool:
        """Whether figures in both mean the same, however the units are shown."""
        return (self.unit, self.factor, self.ream) == (other.unit, other.factor, other.ream)


_TABLES = {
    Dimension.WIDTH: WIDTHS,
    Dimension.LENGTH: LENGTHS,
    Dimension.MASS: MASSES,
    Dimension.GRAMMAGE: GRAMMAGES,
    Dimension.SHARE: SHARES,
}
_REAMS = re.compile(r"reams?(?:\s*(?:of|@|x|/|\()?\s*(\d+)\s*(?:sheets?)?\)?)?")
_COUNTS = {
    **dict.fromkeys(("reel", "reels", "roll", "rolls"), Unit.REELS),
    **dict.fromkeys(("sheet", "sheets", "sht", "shts"), Unit.SHEETS),
}


def measure_of(dimension: Dimension, text: str = "") -> Measure | None:
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


def quantity_unit_of(text: str) -> QuantityUnit | None:
    """The unit of a quantity: reels, kg, t, lb, m, km, ft, sheets, reams, reams of 250.

    Raises
    ------
    CellFaultError
        For a ton, which is of three sizes.

    Examples
    --------
    >>> quantity_unit_of("reams of 250")
    QuantityUnit(shown='reams of 250', unit=<Unit.SHEETS: 'sheets'>, factor=Fraction(250, 1), \
ream=True, sheets_a_ream=250)
    """
    key = unit_key(text)
    if not key:
        return None
    if key in _COUNTS:
        unit = _COUNTS[key]
        return QuantityUnit(unit.value, unit, Fraction(1))
    for table, unit in ((MASSES, Unit.KG), (LENGTHS, Unit.METRES)):
        if (measure := table.unit(key)) is not None:
            return QuantityUnit(measure.shown, unit, measure.factor)
    reams = _REAMS.fullmatch(key)
    if reams is None:
        return None
    if reams.group(1) is None:
        return QuantityUnit("reams", Unit.SHEETS, Fraction(1), ream=True)
    count = int(reams.group(1))
    if count == 0:
        raise CellFaultError("a ream of no sheets", "write it like reams of 500")
    return QuantityUnit(
        f"reams of {count}", Unit.SHEETS, Fraction(count), ream=True, sheets_a_ream=count
    )
