"""Figures that dealers, makers and reference works print of paper, each with its source."""

from __future__ import annotations

import pytest

from trimopt.paper import (
    FOOT_M,
    INCH_MM,
    POUND_KG,
    bulk_cm3_g,
    caliper_from_bulk_um,
    gsm_from_basis_weight,
    gsm_per_lb,
    iso_size_mm,
    mass_kg,
    mass_length_m,
    sheet_mass_g,
)


def test_length_of_100_lb() -> None:
    """Case Paper, calculators: 100 lb of 50 lb text (25 × 38 in), 26 in wide, is 3,045 ft."""
    grammage = gsm_from_basis_weight(50, "text")
    length_m = mass_length_m(100 * POUND_KG, 26 * INCH_MM, grammage)
    assert round(length_m / float(FOOT_M)) == 3045


def test_mass_of_1275_ft() -> None:
    """paperconverter.com: kraft, 36 in wide, basis 40 lb (24 × 36 in), 1,275 ft, weighs 51 lb."""
    grammage = gsm_from_basis_weight(40, "kraft")
    mass_lb = mass_kg(36 * INCH_MM, 1275 * FOOT_M, grammage) / float(POUND_KG)
    assert mass_lb == pytest.approx(51, abs=1e-9)


def test_mass_of_a_sheet() -> None:
    """laser-line.de: a sheet of 61 × 86 cm, which is RA1, of 80 g/m² weighs 41.97 g."""
    assert round(sheet_mass_g(610, 860, 80), 2) == 41.97
    assert round(sheet_mass_g(*iso_size_mm("RA1"), 80), 2) == 41.97


def test_bulk_of_80_gsm() -> None:
    """print-assistant.de: 80 g/m² at 0.104 mm has a bulk of 1.3 cm³/g; and back."""
    assert bulk_cm3_g(104, 80) == pytest.approx(1.3, abs=1e-12)
    assert caliper_from_bulk_um(1.3, 80) == pytest.approx(104, abs=1e-9)


def test_bond() -> None:
    """PrintWiki, "Basis Weight": 20 lb bond, 500 sheets of 17 × 22 in, is 75.2 g/m².

    Sylvamo, basis weight table: 28 lb bond is 105.3 g/m².
    """
    assert round(float(gsm_from_basis_weight(20, "bond")), 1) == 75.2
    assert round(float(gsm_from_basis_weight(28, "bond")), 1) == 105.3
    assert gsm_from_basis_weight(20, "bond") == 20 * gsm_per_lb(17, 22)


ISO_SIZES_MM = {
    "A": (
        *((841, 1189), (594, 841), (420, 594), (297, 420), (210, 297), (148, 210)),
        *((105, 148), (74, 105), (52, 74), (37, 52), (26, 37)),
    ),
    "B": (
        *((1000, 1414), (707, 1000), (500, 707), (353, 500), (250, 353), (176, 250)),
        *((125, 176), (88, 125), (62, 88), (44, 62), (31, 44)),
    ),
    "RA": ((860, 1220), (610, 860), (430, 610), (305, 430), (215, 305)),
    "SRA": ((900, 1280), (640, 900), (450, 640), (320, 450), (225, 320)),
}
"""ISO 216:2007 (trimmed) and ISO 217:2013 (untrimmed); the tables are written from memory."""


@pytest.mark.parametrize("series", ISO_SIZES_MM)
def test_the_whole_series(series: str) -> None:
    """Every size is the standard's, and the series ends with the last of them."""
    table = ISO_SIZES_MM[series]
    assert tuple(iso_size_mm(f"{series}{number}") for number in range(len(table))) == table
    with pytest.raises(ValueError, match="ends at"):
        iso_size_mm(f"{series}{len(table)}")
