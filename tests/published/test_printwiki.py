"""PrintWiki, "Basis Weight": 20 lb bond, basic size 17 × 22 in, is 75.2 g/m²."""

from __future__ import annotations

from trimopt.paper import gsm_from_basis_weight, gsm_per_lb


def test_20_lb_bond() -> None:
    """20 lb of 500 sheets of 17 × 22 in is 75.2 g/m² to the figures printed."""
    assert round(float(20 * gsm_per_lb(17, 22)), 1) == 75.2
    assert gsm_from_basis_weight(20, "bond") == 20 * gsm_per_lb(17, 22)
