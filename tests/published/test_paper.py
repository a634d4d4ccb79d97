"""Figures that dealers, makers and reference works print of paper, each with its source."""

from __future__ import annotations

import pytest

from trimopt.paper import (
    BASIC_SIZES_IN,
    FOOT_M,
    INCH_MM,
    POUND_KG,
    caliper_from_bulk_um,
    gsm_per_lb,
    mass_kg,
    mass_length_m,
    sheets_mass_kg,
)


def test_length_of_100_lb() -> None:
    """Case Paper, calculators: 100 lb of 50 lb text (25 × 38 in), 26 in wide, is 3,045 ft."""
    grammage = 50 * gsm_per_lb(*BASIC_SIZES_IN["text"])
    length_m = mass_length_m(100 * POUND_KG, 26 * INCH_MM, grammage)
    assert round(length_m / float(FOOT_M)) == 3045


def test_mass_of_1275_ft() -> None:
    """paperconverter.com: kraft, 36 in wide, basis 40 lb (24 × 36 in), 1,275 ft, weighs 51 lb."""
    grammage = 40 * gsm_per_lb(*BASIC_SIZES_IN["kraft"])
    mass_lb = mass_kg(36 * INCH_MM, 1275 * FOOT_M, grammage) / float(POUND_KG)
    assert mass_lb == pytest.approx(51, abs=1e-9)


def test_mass_of_a_sheet() -> None:
    """laser-line.de: a sheet of 61 × 86 cm, which is RA1, of 80 g/m² weighs 41.97 g."""
    assert round(1000 * sheets_mass_kg(1, 610, 860, 80), 2) == 41.97


def test_bulk_of_80_gsm() -> None:
    """print-assistant.de: 80 g/m² at 0.104 mm has a bulk of 1.3 cm³/g."""
    assert caliper_from_bulk_um(1.3, 80) == pytest.approx(104, abs=1e-9)


def test_bond() -> None:
    """PrintWiki, "Basis Weight": 20 lb bond, 500 sheets of 17 × 22 in, is 75.2 g/m².

    Sylvamo, basis weight table: 28 lb bond is 105.3 g/m².
    """
    bond = gsm_per_lb(*BASIC_SIZES_IN["bond"])
    assert round(float(20 * bond), 1) == 75.2
    assert round(float(28 * bond), 1) == 105.3
    assert bond == gsm_per_lb(17, 22)
