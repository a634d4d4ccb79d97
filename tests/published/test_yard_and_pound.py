"""Basis weight factors worked from definitions: 1 in = 25.4 mm, 1 lb = 0.453 592 37 kg, exact.

International yard and pound agreement, 1959. Published tables of these factors carry slips (one
prints 4.831 g/m² for 1 lb per 1,000 ft²), so the factors are compared with the definitions.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from trimopt.paper import BASIC_SIZES_IN, FOOT_M, INCH_MM, POUND_KG, SHORT_TON_KG, gsm_per_lb


def test_the_definitions() -> None:
    """The inch, the foot, the pound and the short ton are the exact ones."""
    assert Fraction("25.4") == INCH_MM
    assert Fraction("0.3048") == FOOT_M
    assert Fraction("0.45359237") == POUND_KG
    assert Fraction("907.18474") == SHORT_TON_KG


@pytest.mark.parametrize(
    ("name", "grams", "square_inches"),
    [
        ("text", 453.59237, 500 * 25 * 38),
        ("bond", 453.59237, 500 * 17 * 22),
        ("cover", 453.59237, 500 * 20 * 26),
        ("kraft", 453.59237, 500 * 24 * 36),
        ("board", 453.59237, 1000 * 144),
    ],
)
def test_factors_follow_from_the_definitions(name: str, grams: float, square_inches: int) -> None:
    """A pound in grams over the ream's area in square inches of 0.00064516 m² is the factor."""
    factor = gsm_per_lb(*BASIC_SIZES_IN[name])
    assert float(factor) == pytest.approx(grams / (square_inches * 0.00064516), rel=1e-12)


def test_the_text_factor_to_five_places() -> None:
    """25 × 38 in, 500 sheets: 1.48015 g/m² in a pound."""
    assert round(float(gsm_per_lb(25, 38, 500)), 5) == 1.48015


def test_the_slip_is_not_repeated() -> None:
    """1 lb per 1,000 ft² is 4.88243 g/m², more than one per cent off the printed 4.831."""
    exact = float(gsm_per_lb(12, 12, 1000))
    assert round(exact, 5) == 4.88243
    assert abs(exact / 4.831 - 1) > 0.01
