"""Sylvamo, basis weight table: 28 lb bond (17 × 22 in) is 105.3 g/m²."""

from __future__ import annotations

from trimopt.paper import gsm_from_basis_weight


def test_28_lb_bond() -> None:
    """28 lb of 500 sheets of 17 × 22 in is 105.3 g/m² to the figures printed."""
    assert round(float(gsm_from_basis_weight(28, "bond")), 1) == 105.3
