"""print-assistant.de: 80 g/m² at 0.104 mm has a bulk of 1.3 cm³/g."""

from __future__ import annotations

import pytest

from trimopt.paper import bulk_cm3_g, caliper_from_bulk_um


def test_bulk_of_80_gsm() -> None:
    """80 g/m² at 104 µm is 1.3 cm³/g, and back."""
    assert bulk_cm3_g(104, 80) == pytest.approx(1.3, abs=1e-12)
    assert caliper_from_bulk_um(1.3, 80) == pytest.approx(104, abs=1e-9)
