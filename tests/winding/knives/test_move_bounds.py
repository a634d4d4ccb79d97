"""Bounds on knife moves."""

from __future__ import annotations

from collections import Counter
from itertools import permutations

from hypothesis import given, settings, strategies as st

from trimopt.winding.knives.move_bounds import max_blocks

_widths = st.lists(st.integers(min_value=1, max_value=7), min_size=1, max_size=5)


def _meet(one: tuple[int, ...], two: tuple[int, ...], *, same_number: bool) -> int:
    """Places inside both that knives share, the front edges at one place; ends counted."""
    sums = [[sum(row[:k]) for k in range(len(row) + 1)] for row in (one, two)]
    if same_number:
        return sum(a == b for a, b in zip(*sums, strict=False))
    return len(set(sums[0]) & set(sums[1]))


@settings(max_examples=60)
@given(first=_widths, second=_widths, same_number=st.booleans())
def test_blocks_equal_brute_force(first: list[int], second: list[int], same_number: bool) -> None:
    """Over all layouts of both lots, knives meet in one place more than there are blocks."""
    most = max(
        _meet(one, two, same_number=same_number)
        for one in set(permutations(first))
        for two in set(permutations(second))
    )
    assert 1 + max_blocks(Counter(first), Counter(second), same_number=same_number) == most
