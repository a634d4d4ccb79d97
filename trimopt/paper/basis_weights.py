"""Basis weights: pounds for a stated number of sheets of a stated size, in inches.

Factors are exact fractions, worked from the pound and the inch alone; published tables of them
carry slips.
"""

from __future__ import annotations

from fractions import Fraction

from trimopt.paper.unit_factors import INCH_MM, POUND_KG

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
