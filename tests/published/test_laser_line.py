"""laser-line.de: a sheet of 61 × 86 cm of 80 g/m² weighs 41.97 g."""

from __future__ import annotations

from trimopt.paper import iso_size_mm, sheet_mass_g


def test_mass_of_a_sheet() -> None:
    """61 × 86 cm, which is RA1, of 80 g/m² weighs 41.97 g to the figures printed."""
    assert round(sheet_mass_g(610, 860, 80), 2) == 41.97
    assert round(sheet_mass_g(*iso_size_mm("RA1"), 80), 2) == 41.97
