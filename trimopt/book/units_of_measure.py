"""Units that a heading or a cell may state, and their exact factors to metric.

Every conversion is a fraction, so that the figure can be shown again as it was written.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from trimopt.book.model import Unit
from trimopt.book.written_figures import CellFaultError
from trimopt.paper import INCH_MM, POUND_KG, gsm_per_lb

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
class Measure:
    """A unit: how it is shown, and its exact factor to the unit that trimopt keeps."""

    shown: str
    factor: Fraction


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


_MM = Measure("mm", Fraction(1))
_INCH = Measure("in", INCH_MM)
_FOOT_MM = Measure("ft", 12 * INCH_MM)
_WIDTHS = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), _MM),
    **dict.fromkeys(("cm", "centimetre", "centimetres"), Measure("cm", Fraction(10))),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Measure("m", Fraction(1000))),
    **dict.fromkeys(("in", "inch", "inches", '"', "''"), _INCH),
    **dict.fromkeys(("ft", "foot", "feet"), _FOOT_MM),
}
_LENGTHS = {
    **{
        name: Measure(measure.shown, measure.factor / 1000)
        for name, measure in _WIDTHS.items()
        if measure.shown in {"m", "ft"}
    },
    **dict.fromkeys(("km", "kilometre", "kilometres"), Measure("km", Fraction(1000))),
}
_MASSES = {
    **dict.fromkeys(("kg", "kgs", "kilogram", "kilograms"), Measure("kg", Fraction(1))),
    **dict.fromkeys(("t", "tonne", "tonnes", "metric t"), Measure("t", Fraction(1000))),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds", "#"), Measure("lb", POUND_KG)),
}
_GSM = Measure("g/m²", Fraction(1))
_GRAMMAGES = dict.fromkeys(("g/m2", "gsm", "g m-2", "gm-2", "g/sqm", "grams/m2"), _GSM)
_PERCENT = Measure("%", Fraction(1, 100))
_SHARES = dict.fromkeys(("%", "percent", "per cent", "pct"), _PERCENT)
_TABLES = {
    Dimension.WIDTH: (_WIDTHS, _MM),
    Dimension.LENGTH: (_LENGTHS, _LENGTHS["m"]),
    Dimension.MASS: (_MASSES, _MASSES["kg"]),
    Dimension.GRAMMAGE: (_GRAMMAGES, _GSM),
    Dimension.SHARE: (_SHARES, _PERCENT),
}

_BASIS = re.compile(
    r"(?:lbs?|pounds?|#)[\s,/;]*(?:per\s+)?(\d+(?:[.,]\d+)?)\s*(?:in)?\s*[x×*]\s*(\d+(?:[.,]\d+)?)"
    r"\s*(?:in(?:ch(?:es)?)?|\")?[\s,;/-]*(?:(\d+)\s*(?:sheets?|s)?)?"
)
_BASIS_AREA = re.compile(
    r"(?:lbs?|pounds?|#)[\s,/;]*(?:per\s+)?(?:(\d[\d,]*)\s*(?:ft2|sq ?ft|square feet)|msf)"
)
_REAMS = re.compile(r"reams?(?:\s*(?:of|@|x|/|\()?\s*(\d+)\s*(?:sheets?)?\)?)?")
_COUNTS = {
    **dict.fromkeys(("reel", "reels", "roll", "rolls"), Unit.REELS),
    **dict.fromkeys(("sheet", "sheets", "sht", "shts"), Unit.SHEETS),
}


def unit_key(text: str) -> str:
    """A unit as it is looked up: case, outer spaces and the closing point forgiven."""
    text = unicodedata.normalize("NFKC", text).casefold()
    text = text.replace("\u2032\u2032", '"').replace("\u201d", '"').replace("\u2212", "-")
    return " ".join(text.split()).removesuffix(".")


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
    table, assumed = _TABLES[dimension]
    key = unit_key(text)
    if not key:
        return assumed
    if dimension is Dimension.GRAMMAGE and key not in table:
        return _basis_weight(key)
    return table.get(key)


def _basis_weight(key: str) -> Measure | None:
    """A basis weight: pounds for a ream of a stated size and count, or for an area."""
    area = _BASIS_AREA.fullmatch(key)
    if area is not None:
        feet = int((area.group(1) or "1000").replace(",", ""))
        if not feet:
            raise CellFaultError("a basis weight for no area", "write it like [lb/3000 ft²]")
        return Measure(f"lb/{feet} ft²", gsm_per_lb(12, 12, feet))
    found = _BASIS.fullmatch(key)
    if found is None:
        if re.fullmatch(r"(?:lbs?|pounds?|#)\b.*", key):
            raise CellFaultError(
                "a basis weight in pounds needs the size and count of its ream",
                "write it like [lb 25x38, 500 sheets] or [lb/3000 ft²]",
            )
        return None
    across, along, count = found.groups()
    if count is None:
        raise CellFaultError(
            "a basis weight needs the count of its ream",
            f"write it like [lb {across}x{along}, 500 sheets]",
        )
    across_in, along_in = Fraction(across.replace(",", ".")), Fraction(along.replace(",", "."))
    if not across_in or not along_in or not int(count):
        raise CellFaultError("a ream of no area", "write it like [lb 25x38, 500 sheets]")
    return Measure(f"lb {across}×{along}/{count}", gsm_per_lb(across_in, along_in, int(count)))


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
    if key in {"ton", "tons"}:
        raise CellFaultError(
            "a ton may be 1000 kg, 2000 lb or 2240 lb", "write t (1000 kg), kg or lb"
        )
    if key in _COUNTS:
        unit = _COUNTS[key]
        return QuantityUnit(unit.value, unit, Fraction(1))
    if key in _MASSES:
        measure = _MASSES[key]
        return QuantityUnit(measure.shown, Unit.KG, measure.factor)
    if key in _LENGTHS:
        measure = _LENGTHS[key]
        return QuantityUnit(measure.shown, Unit.METRES, measure.factor)
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
