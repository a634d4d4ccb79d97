"""paperconverter.com: kraft, 36 in wide, basis 40 lb (24 × 36 in), 1,275 ft, weighs 51 lb."""

from __future__ import annotations

import pytest

from trimopt.paper import FOOT_M, INCH_MM, POUND_KG, gsm_from_basis_weight, mass_kg


def test_mass_of_1275_ft() -> None:
    """1,275 ft of 40 lb kraft, 36 in wide, weighs 51 lb; the figures make it exact."""
    grammage = gsm_from_basis_weight(40, "kraft")
    mass_lb = mass_kg(36 * INCH_MM, 1275 * FOOT_M, grammage) / float(POUND_KG)
    assert mass_lb == pytest.approx(51, abs=1e-9)
