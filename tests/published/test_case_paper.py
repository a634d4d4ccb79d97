"""Case Paper, calculators: 100 lb of 50 lb text (25 × 38 in), 26 in wide, is 3,045 ft."""

from __future__ import annotations

from trimopt.paper import FOOT_M, INCH_MM, POUND_KG, gsm_from_basis_weight, mass_length_m


def test_length_of_100_lb() -> None:
    """100 lb of 50 lb text, 26 in wide, is 3,045 ft to the foot."""
    grammage = gsm_from_basis_weight(50, "text")
    length_m = mass_length_m(100 * POUND_KG, 26 * INCH_MM, grammage)
    assert round(length_m / float(FOOT_M)) == 3045
