"""Caliper, bulk and density."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from trimopt.paper import caliper_from_bulk_um, caliper_from_density_um


@given(caliper=st.floats(20, 2000), grammage=st.floats(20, 1000))
def test_bulk_and_density_give_the_same_caliper(caliper: float, grammage: float) -> None:
    """Bulk is caliper over grammage, density its inverse (ISO 534): both lead back to it."""
    bulk = caliper / grammage
    assert caliper_from_bulk_um(bulk, grammage) == pytest.approx(caliper)
    assert caliper_from_density_um(1000 / bulk, grammage) == pytest.approx(caliper)


def test_a_density_of_nothing_is_refused() -> None:
    """It is an error with a text."""
    with pytest.raises(ValueError, match="not above 0"):
        caliper_from_density_um(0, 250)
