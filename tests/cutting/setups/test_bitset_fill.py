"""The fullest pattern against trying every pattern."""

from __future__ import annotations

from itertools import product
from random import Random

from hypothesis import given, strategies as st

from tests.cutting.one_class import one_class
from trimopt.cutting import Demand, WindingClass
from trimopt.cutting.setups.bitset_fill import fullest
from trimopt.cutting.setups.build_tables import BuildTables


@given(
    st.lists(st.tuples(st.integers(3, 30), st.integers(1, 3)), min_size=1, max_size=5),
    st.integers(30, 60),
    st.integers(1, 6),
    st.integers(0, 1000),
)
def test_fullest_equals_brute_force(
    widths: list[tuple[int, int]], deckle: int, stations: int, seed: int
) -> None:
    """The used width is the greatest of all patterns inside the caps; with too many pieces, of
    those inside the stations."""
    instance = one_class(
        (w for w, _ in widths),
        (Demand(low=n, high=n) for _, n in widths),
        WindingClass(cost=1, width=deckle, max_pieces=stations),
    )
    tables = BuildTables.of(instance, None)
    limits = tables.classes[0]
    items = [
        (i, tables.width[i], min(n, limits.width // tables.width[i]))
        for i, (_, n) in enumerate(widths)
        if tables.width[i] <= limits.width
    ]
    found = fullest(limits, items, 0, Random(seed))
    every = [
        (sum(n * w for n, (_, w, _) in zip(counts, items, strict=True)), sum(counts))
        for counts in product(*(range(cap + 1) for _, _, cap in items))
    ]
    best = max(
        (used for used, pieces in every if used <= limits.width and 0 < pieces <= stations),
        default=0,
    )
    if found is None:
        assert best == 0
        return
    used = sum(tables.width[k] * n for k, n in found.items())
    assert used <= limits.width
    assert used >= best
    assert sum(found.values()) <= stations
    assert used == best
