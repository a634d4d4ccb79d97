"""Basis weights."""

from __future__ import annotations

from fractions import Fraction

import pytest

from trimopt.paper import BASIC_SIZES_IN, POUND_KG, gsm_from_basis_weight, gsm_per_lb


@pytest.mark.parametrize("name", sorted(BASIC_SIZES_IN))
def test_a_ream_weighs_its_basis_weight(name: str) -> None:
    """A ream of the basic size, at the grammage worked from 50 lb, weighs exactly 50 lb."""
    width_in, length_in, sheets = BASIC_SIZES_IN[name]
    area_m2 = width_in * length_in * Fraction(254, 10_000) ** 2
    assert gsm_from_basis_weight(50, name) * area_m2 * sheets / 1000 == 50 * POUND_KG


def test_names_forgive_case_and_unknown_ones_are_refused() -> None:
    """A basic size is found whatever its case; an unknown one is an error with the list."""
    assert gsm_from_basis_weight(20, " Bond ") == gsm_from_basis_weight(20, "bond")
    with pytest.raises(ValueError, match="write one of bond, text"):
        gsm_from_basis_weight(20, "bund")


@pytest.mark.parametrize(("width", "length", "sheets"), [(0, 38, 500), (25, -1, 500), (25, 38, 0)])
def test_an_empty_basic_size_is_refused(width: int, length: int, sheets: int) -> None:
    """A basic size of nothing is an error with a text."""
    with pytest.raises(ValueError, match="holds nothing"):
        gsm_per_lb(width, length, sheets)
