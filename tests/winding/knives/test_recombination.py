"""Pools of layouts."""

from __future__ import annotations

from trimopt.winding.knives.recombination import pool_size


def test_layouts_in_pools_stay_few_where_lots_are_many() -> None:
    """Two bytes for each pair of slots: of 138 lots the table took 244 MB with pools of 48."""
    for lots in range(1, 600):
        slots = lots * (pool_size(lots) + min(32, pool_size(lots)))
        assert 2 * slots**2 < 100_000_000
