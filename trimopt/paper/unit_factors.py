"""Exact factors between the inch, the pound and the metric system.

References
----------
International yard and pound agreement, 1959: 1 in = 25.4 mm and 1 lb = 0.453 592 37 kg, both exact.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from math import gcd, lcm
from typing import TypeAlias

Figure: TypeAlias = float | Fraction
"""A figure that enters a formula: an exact fraction is taken as it is, the result is a float."""

INCH_MM = Fraction(254, 10)
FOOT_M = Fraction(3048, 10000)
POUND_KG = Fraction(45359237, 10**8)
SHORT_TON_KG = 2000 * POUND_KG


def common_step(figures: Iterable[Fraction]) -> Fraction:
    """The greatest step of which every figure is a whole multiple; 1 where all of them are 0.

    Examples
    --------
    >>> common_step([Fraction(1000), Fraction("127/16")])
    Fraction(1, 16)
    """
    some = tuple(figures)
    bottom = lcm(*(figure.denominator for figure in some))
    return Fraction(gcd(*(int(figure * bottom) for figure in some)), bottom) or Fraction(1)
