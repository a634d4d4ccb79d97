"""Units that a heading, a cell, an option or a mill file may state, with exact factors to metric.

Every conversion is a fraction, so that the figure can be shown again as it was written. A basis
weight is the pounds of a stated number of sheets of a stated size, in inches; its factors are
worked from the pound and the inch alone, as published tables of them carry slips.

References
----------
International yard and pound agreement, 1959. Short ton, long ton and hundredweights: NIST Handbook
44, Appendix C. What the trade calls a basis weight without its size and count is common practice.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.paper.typed import CellFaultError
from trimopt.paper.unit_factors import FOOT_M, INCH_MM, POUND_KG, SHORT_TON_KG

BASIC_SIZES_IN: dict[str, tuple[Fraction, Fraction, int]] = {
    # name in the trade: width and length of the sheet in inches, sheets in the ream
    "bond": (Fraction(17), Fraction(22), 500),
    "text": (Fraction(25), Fraction(38), 500),
    "cover": (Fraction(20), Fraction(26), 500),
    "bristol": (Fraction(45, 2), Fraction(57, 2), 500),
    "index": (Fraction(51, 2), Fraction(61, 2), 500),
    "tag": (Fraction(24), Fraction(36), 500),
    "kraft": (Fraction(24), Fraction(36), 500),
    "newsprint": (Fraction(24), Fraction(36), 500),
    "book": (Fraction(25), Fraction(38), 500),
    "offset": (Fraction(25), Fraction(38), 500),
    "board": (Fraction(12), Fraction(12), 1000),  # lb per 1,000 ft²
    "liner": (Fraction(12), Fraction(12), 1000),
    "medium": (Fraction(12), Fraction(12), 1000),
}


def gsm_per_lb(width_in: int | Fraction, length_in: int | Fraction, sheets: int = 500) -> Fraction:
    """Grammage in g/m² of one pound of basis weight, exact.

    Parameters
    ----------
    width_in, length_in
        Basic size, inches.
    sheets
        Sheets that the pounds are for.

    Raises
    ------
    ValueError
        The size or the number of sheets is not above 0.

    Examples
    --------
    >>> round(float(gsm_per_lb(25, 38)), 5)
    1.48015
    >>> round(float(gsm_per_lb(12, 12, 1000)), 5)
    4.88243
    """
    if width_in <= 0 or length_in <= 0 or sheets < 1:
        raise ValueError(f"basic size {width_in} × {length_in} in of {sheets} sheets holds nothing")
    area_m2 = Fraction(width_in) * Fraction(length_in) * (INCH_MM / 1000) ** 2
    return 1000 * POUND_KG / (sheets * area_m2)


@dataclass(frozen=True, slots=True)
class Measure:
    """A unit: how it is shown, and its exact factor to the unit that trimopt keeps."""

    shown: str
    factor: Fraction


@dataclass(frozen=True, slots=True)
class UnitTable:
    """The units of one kind of figure: `assumed` where none is stated, the rest by their words.

    `refused` holds words that name several units, with what they may mean and what to write;
    `others` reads units that no list holds.
    """

    assumed: Measure
    named: Mapping[str, Measure]
    refused: Mapping[str, tuple[str, str]]
    others: Callable[[str], Measure | None] | None = None

    def unit(self, text: str) -> Measure | None:
        """The unit that a text names; None where it names none of them.

        Raises
        ------
        CellFaultError
            Where it names several.
        """
        key = unit_key(text)
        if key in self.refused:
            raise CellFaultError(*self.refused[key])
        if not key:
            return self.assumed
        return self.named.get(key) or (self.others(text) if self.others is not None else None)


def unit_key(text: str) -> str:
    """A unit as it is looked up: case, outer spaces and the closing point forgiven."""
    text = unicodedata.normalize("NFKC", text).casefold()
    text = text.replace("\u2032\u2032", '"').replace("\u201d", '"').replace("\u2212", "-")
    return " ".join(text.split()).removesuffix(".")


def _table(
    assumed: str, units: Iterable[tuple[str, str, Fraction | int]], **refused: tuple[str, str]
) -> UnitTable:
    """A table of rows: the unit as shown, the other words for it, its factor."""
    named: dict[str, Measure] = {}
    for shown, words, factor in units:
        measure = Measure(shown, Fraction(factor))
        named |= dict.fromkeys((unit_key(shown), *filter(None, words.split(", "))), measure)
    return UnitTable(named[unit_key(assumed)], named, refused)


_FEET = "foot, feet, lf, lft, ln ft, lin ft, linear foot, linear feet, lineal foot, lineal feet"
_METRES = "metre, metres, meter, meters, lm, lin m, running metre, running metres, running meters"

WIDTHS = _table(
    "mm",
    (
        ("mm", "millimetre, millimetres, millimeter, millimeters", 1),
        ("cm", "centimetre, centimetres, centimeter, centimeters", 10),
        ("m", "metre, metres, meter, meters", 1000),
        ("in", "inch, inches, \", ''", INCH_MM),
        ("ft", "foot, feet", 1000 * FOOT_M),
    ),
)
"""Lengths across the web and along a sheet, diameters: kept in mm."""

LENGTHS = _table(
    "m", (("m", _METRES, 1), ("ft", _FEET, FOOT_M), ("km", "kilometre, kilometres", 1000))
)
"""Lengths of web: kept in m."""

_TON = ("a ton may be 1000 kg, 2000 lb or 2240 lb", "write t (1000 kg), short tons (2000 lb) or lb")
MASSES = _table(
    "kg",
    (
        ("kg", "kgs, kilo, kilos, kilogram, kilograms", 1),
        ("t", "tonne, tonnes, metric t, metric ton, metric tons, mt, m/t", 1000),
        ("lb", "lbs, pound, pounds, #", POUND_KG),
        (
            "short tons",
            "short ton, ston, stons, sh ton, sh tons, sh tn, us ton, us tons, ton (us), tons (us)",
            SHORT_TON_KG,
        ),
        ("long tons", "long ton, imperial ton, imperial tons", 2240 * POUND_KG),
        ("cwt", "us cwt, short cwt", 100 * POUND_KG),
        ("long cwt", "uk cwt, cwt (uk)", 112 * POUND_KG),
    ),
    ton=_TON,
    tons=_TON,
)
"""Masses: kept in kg. A cwt is the American one of 100 lb."""

SPEEDS = _table(
    "m/min",
    (
        ("m/min", "mpm, metres per minute, meters per minute", 1),
        ("ft/min", "fpm, feet per minute", FOOT_M),
        ("m/s", "", 60),
    ),
)
"""Speeds: kept in m/min."""

ACCELERATIONS = _table(
    "m/min/s", (("m/min/s", "m/min s-1, mpm/s", 1), ("ft/min/s", "fpm/s", FOOT_M))
)
"""Changes of speed: kept in m/min in each second."""

CALIPERS = _table(
    "µm",
    (
        ("µm", "um, micron, microns", 1),
        ("mm", "", 1000),
        ("pt", "pts, point, points, mil, mils, thou", INCH_MM),
        ("in", "inch, inches", 1000 * INCH_MM),
    ),
)
"""Calipers: kept in µm. A point is a thousandth of an inch."""

DENSITIES = _table(
    "kg/m³", (("kg/m³", "", 1), ("g/cm³", "", 1000), ("lb/ft³", "pcf", POUND_KG / FOOT_M**3))
)
"""Densities: kept in kg/m³."""

AREAS = _table(
    "m²",
    (
        ("m²", "sqm, sq m, square metre, square metres, square meters", 1),
        ("ft²", "sf, sq ft, sqft, square foot, square feet", FOOT_M**2),
        ("MSF", "1000 ft2, 1,000 ft2, 1000 sq ft, thousand square feet", 1000 * FOOT_M**2),
    ),
)
"""Areas: kept in m². M is the trade's thousand."""

SHARES = _table("%", (("%", "percent, per cent, pct", Fraction(1, 100)),))
"""Shares: kept as parts of one."""

_POUNDS = r"(?:lbs?|pounds?|#)"
_BASIS = re.compile(
    rf"(?:{_POUNDS}[\s,/;(]*)?(?:per\s+)?(?:ream\s*(?:of\s*)?)?[\s(]*"
    r"(\d+(?:[.,]\d+)?)\s*(?:in(?:ch(?:es)?)?|\")?\s*[x×*]\s*(\d+(?:[.,]\d+)?)"
    r"\s*(?:in(?:ch(?:es)?)?|\")?[\s,;/)-]*(?:(\d+)\s*(?:sheets?|s)?)?\)?"
)
_BASIS_AREA = re.compile(
    rf"{_POUNDS}[\s,/;]*(?:per\s+)?(?:(\d[\d,]*)\s*(?:ft2|sq ?ft|sf|square feet)|(\d*) ?msf)"
)
_BASIS_NAMED = re.compile(rf"{_POUNDS}[\s/(]*([a-z]+)\)?")
_RIGHT_BASIS = "write it like [lb 25x38, 500 sheets], [lb/1000 ft²] or [lb text]"


def basis_weight_unit(text: str) -> Measure | None:
    """A basis weight: pounds for a ream of a stated size and count, for an area, or by its name.

    None where the text is none.

    Raises
    ------
    CellFaultError
        Where it leaves the size or the count of its ream open.

    Examples
    --------
    >>> basis_weight_unit("lb/MSF").shown, basis_weight_unit("# 25 x 38 - 500").shown
    ('lb/1000 ft²', 'lb 25×38/500')
    """
    key = unit_key(text)
    area = _BASIS_AREA.fullmatch(key)
    if area is not None:
        feet = int(area[1].replace(",", "")) if area[1] else 1000 * int(area[2] or 1)
        if not feet:
            raise CellFaultError("a basis weight for no area", "write it like [lb/3000 ft²]")
        return Measure(f"lb/{feet} ft²", gsm_per_lb(12, 12, feet))
    named = _BASIS_NAMED.fullmatch(key)
    if named is not None and named[1] in BASIC_SIZES_IN:
        return Measure(f"lb {named[1]}", gsm_per_lb(*BASIC_SIZES_IN[named[1]]))
    found = _BASIS.fullmatch(key)
    if found is None:
        if re.match(rf"{_POUNDS}(?![a-z])", key):
            raise CellFaultError(
                "a basis weight in pounds needs the size and count of its ream", _RIGHT_BASIS
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
        raise CellFaultError("a ream of no area", _RIGHT_BASIS)
    return Measure(f"lb {across}×{along}/{count}", gsm_per_lb(across_in, along_in, int(count)))


_GSM = "gsm, g m-2, gm-2, g/sqm, g/qm, grams/m2, grams per square metre"
GRAMMAGES = replace(_table("g/m²", (("g/m²", _GSM, 1),)), others=basis_weight_unit)
"""Masses per area, basis weights among them: kept in g/m²."""
