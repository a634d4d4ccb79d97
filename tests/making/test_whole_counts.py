"""Whether a whole number of reels can land inside a range, against plain enumeration."""

from __future__ import annotations

from itertools import product

from hypothesis import given, strategies as st

from trimopt.making.required_ranges import nearest_counts


@given(
    gains=st.lists(st.integers(3, 40), min_size=1, max_size=3, unique=True),
    low=st.integers(1, 90),
    width=st.integers(0, 12),
)
def test_nearest_counts_equal_enumeration(gains: list[int], low: int, width: int) -> None:
    """Sums of every number of pieces up to the range decide, and the nearest are given."""
    high = low + width
    counts = [range(high // gain + 2) for gain in gains]
    sums = {sum(n * g for n, g in zip(ns, gains, strict=True)) for ns in product(*counts)}
    inside = any(low <= total <= high for total in sums)
    expected = None
    if not inside:
        expected = (max(s for s in sums if s < low), min(s for s in sums if s > high))
    assert nearest_counts(gains, low, high) == expected


def test_a_wide_range_needs_no_search() -> None:
    """A range as wide as a piece always holds a whole number of them."""
    assert nearest_counts([1000], 5_000_500, 5_001_499) is None


def test_no_tolerance_at_all_is_answered() -> None:
    """37,000 kg to the kilogram of reels of some length: a wide search, and none is just that."""
    gains = [1464 * metres for metres in (31_250, 22_987, 15_625)]
    kilogram = 37_000 * 1_000_000 // 80
    counts = [range(kilogram // gain + 2) for gain in gains]
    sums = {sum(n * g for n, g in zip(ns, gains, strict=True)) for ns in product(*counts)}
    below = max(total for total in sums if total < kilogram)
    above = min(total for total in sums if total > kilogram)
    assert nearest_counts(gains, kilogram, kilogram) == (below, above)
