"""Caliper, bulk and density."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, strategies as st

from trimopt.paper import bulk_cm3_g, caliper_from_bulk_um, caliper_from_density_um, density_kg_m3


@given(caliper=st.floats(20, 2000), grammage=st.floats(20, 1000))
def test_bulk_and_density_give_the_caliper_back(caliper: float, grammage: float) -> None:
    """A caliper turned into bulk or density and back is the same caliper."""
    bulk, density = bulk_cm3_g(caliper, grammage), density_kg_m3(caliper, grammage)
    assert caliper_from_bulk_um(bulk, grammage) == pytest.approx(caliper)
    assert caliper_from_density_um(density, grammage) == pytest.approx(caliper)
    assert bulk * density == pytest.approx(1000)


@pytest.mark.parametrize(
    ("formula", "first", "second"),
    [(bulk_cm3_g, 400, 0), (density_kg_m3, 0, 250), (caliper_from_density_um, 0, 250)],
)
def test_division_by_nothing_is_refused(
    formula: Callable[[float, float], float], first: float, second: float
) -> None:
    """A grammage, caliper or density of nothing is an error with a text."""
    with pytest.raises(ValueError, match="not above 0"):
        formula(first, second)
