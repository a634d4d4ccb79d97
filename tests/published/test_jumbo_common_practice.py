"""Common practice: a jumbo of 80 km of an 8.5 m web weighs about 120 t.

The figures say which paper it is: 120 t over 680,000 m² is 176.5 g/m².
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from trimopt.mill import Jumbo
from trimopt.paper import mass_kg, mass_length_m

GRAMMAGE_GSM = 120e6 / (80_000 * 8.5)


def test_mass_and_length_agree() -> None:
    """80 km of 8.5 m at 176.5 g/m² weighs 120 t to 0.1 %, and 120 t of it is 80 km long."""
    assert mass_kg(8500, 80_000, 176.5) == pytest.approx(120_000, rel=1e-3)
    assert mass_length_m(120_000, 8500, 176.5) == pytest.approx(80_000, rel=1e-3)


def test_a_jumbo_stated_by_mass_has_that_length() -> None:
    """A mill that states its jumbo as 120 t gets 80 km of it, to the metre let go in rounding."""
    jumbo = Jumbo(
        width_mm=Fraction(8500), length_m=0, loss_start_m=0, loss_end_m=0, mass_kg=120_000
    )
    assert jumbo.for_paper(GRAMMAGE_GSM, 200).length_m == pytest.approx(80_000, abs=1)
