"""The least cost of all running orders."""

from __future__ import annotations

from itertools import pairwise, permutations

from trimopt.budget import Budget
from trimopt.winding.knives.move_bounds import path_bound


def test_path_bound_is_the_shortest_path() -> None:
    """Of all orders of five lots none is shorter, and the order given has that length."""
    least = [[abs(3 * i * i - 7 * j) % 9 for j in range(5)] for i in range(5)]
    firsts = [4, 1, 3, 2, 5]
    bound, order = path_bound(least, firsts, Budget())

    def length(path: tuple[int, ...]) -> int:
        return firsts[path[0]] + sum(least[a][b] for a, b in pairwise(path))

    assert bound == min(length(path) for path in permutations(range(5))) == length(tuple(order))


def test_one_lot_needs_only_its_first_step() -> None:
    """Without a neighbour there is nothing to add."""
    assert path_bound([[0]], [3], Budget()) == (3, [0])
