"""Sheets: mass and counts.

Counts are exact: a sheet that is cut short is no sheet.
"""

from __future__ import annotations

import math
from fractions import Fraction

from trimopt.paper.unit_factors import Figure


def sheets_mass_kg(sheets: int, across_mm: Figure, chop_mm: Figure, grammage_gsm: Figure) -> float:
    """Mass of a number of sheets, kg.

    Parameters
    ----------
    across_mm, chop_mm
        Dimension across and along the machine direction, mm.
    grammage_gsm
        Grammage, g/m².

    Examples
    --------
    >>> sheets_mass_kg(500, 500, 1000, 80)
    20.0
    """
    sheet_g = float(across_mm) * float(chop_mm) * float(grammage_gsm) / 1e6
    return sheets * sheet_g / 1000.0


def sheets_from_length(length_m: int | Fraction, chop_mm: int | Fraction, ups: int) -> int:
    """Whole sheets from a sheeter reel: ups × floor(length / chop), before any waste.

    Parameters
    ----------
    length_m
        Length of the reel, m, exact.
    chop_mm
        Dimension of the sheet along the web, mm, exact and above 0.
    ups
        Sheets side by side across the reel.

    Raises
    ------
    ValueError
        The chop is not above 0.

    Examples
    --------
    >>> sheets_from_length(4000, 860, 3)
    13953
    """
    if chop_mm <= 0:
        raise ValueError(f"a chop of {chop_mm} mm is not above 0")
    return ups * math.floor(Fraction(length_m) * 1000 / Fraction(chop_mm))
