"""Basis weights."""

from __future__ import annotations

from fractions import Fraction

import pytest

from trimopt.paper import BASIC_SIZES_IN, POUND_KG, gsm_per_lb


@pytest.mark.parametrize("name", sorted(BASIC_SIZES_IN))
def test_a_ream_weighs_its_basis_weight(name: str) -> None:
    """A ream of the basic size, at the grammage worked from 50 lb, weighs exactly 50 lb."""
    width_in, length_in, sheets = BASIC_SIZES_IN[name]
    area_m2 = width_in * length_in * Fraction(254, 10_000) ** 2
    assert 50 * gsm_per_lb(width_in, length_in, sheets) * area_m2 * sheets / 1000 == 50 * POUND_KG


@pytest.mark.parametrize(("width", "length", "sheets"), [(0, 38, 500), (25, -1, 500), (25, 38, 0)])
def test_an_empty_basic_size_is_refused(width: int, length: int, sheets: int) -> None:
    """A basic size of nothing is an error with a text."""
    with pytest.raises(ValueError, match="holds nothing"):
        gsm_per_lb(width, length, sheets)
