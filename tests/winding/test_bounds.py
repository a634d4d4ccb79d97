"""Bounds on knife moves."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise, permutations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from trimopt.winding.bounds import blocks_most, path_bound

_widths = st.lists(st.integers(min_value=1, max_value=7), min_size=1, max_size=5)


def _meet(one: tuple[int, ...], two: tuple[int, ...], *, same_number: bool) -> int:
    """Places inside both that knives share, the front edges at one place; ends counted."""
    sums = [[sum(row[:k]) for k in range(len(row) + 1)] for row in (one, two)]
    if same_number:
        return sum(a == b for a, b in zip(*sums, strict=False))
    return len(set(sums[0]) & set(sums[1]))


@settings(max_examples=60, deadline=None)
@given(first=_widths, second=_widths, same_number=st.booleans())
def test_blocks_equal_brute_force(first: list[int], second: list[int], same_number: bool) -> None:
    """Over all layouts of both lots, knives meet in one place more than there are blocks."""
    most = max(
        _meet(one, two, same_number=same_number)
        for one in set(permutations(first))
        for two in set(permutations(second))
    )
    assert 1 + blocks_most(Counter(first), Counter(second), same_number=same_number) == most


def test_path_bound_is_the_shortest_path() -> None:
    """Of all orders of five lots none is shorter, and the order given has that length."""
    least = [[abs(3 * i * i - 7 * j) % 9 for j in range(5)] for i in range(5)]
    firsts = [4, 1, 3, 2, 5]
    bound, order = path_bound(least, firsts)

    def length(path: tuple[int, ...]) -> int:
        return firsts[path[0]] + sum(least[a][b] for a, b in pairwise(path))

    assert bound == min(length(path) for path in permutations(range(5))) == length(tuple(order))


def test_path_bound_with_what_two_steps_cost_together() -> None:
    """Shortest over all orders, where what lies beyond two steps may be put on either of them."""
    least = [[abs(3 * i * i - 7 * j) % 4 for j in range(5)] for i in range(5)]
    extra = {
        (i, j, k): (i + 2 * j + k) % 3
        for i, j, k in permutations(range(5), 3)
        if (i + 2 * j + k) % 3
    }

    def length(path: tuple[int, ...]) -> int:
        steps = sum(least[a][b] for a, b in pairwise(path))
        wanted = [extra.get(three, 0) for three in zip(path, path[1:], path[2:], strict=False)]
        beyond = min(
            sum(put)
            for put in product(range(3), repeat=4)
            if all(a + b >= most for a, b, most in zip(put, put[1:], wanted, strict=False))
        )
        return steps + beyond

    shortest = min(length(path) for path in permutations(range(5)))
    assert path_bound(least, [0] * 5, extra)[0] == shortest
    assert path_bound(least, [0] * 5)[0] < shortest


def test_one_lot_needs_only_its_first_step() -> None:
    """Without a neighbour there is nothing to add."""
    assert path_bound([[0]], [3]) == (3, [0])
