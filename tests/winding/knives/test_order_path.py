"""The least cost of all running orders."""

from __future__ import annotations

from itertools import pairwise, permutations, product

from trimopt.budget import Budget
from trimopt.winding.knives.order_path import Steps, path_bound


def test_path_bound_is_the_shortest_path() -> None:
    """Of all orders of five lots none is shorter, and the order given has that length."""
    least = [[abs(3 * i * i - 7 * j) % 9 for j in range(5)] for i in range(5)]
    firsts = [4, 1, 3, 2, 5]
    bound, order = path_bound(Steps(least=least, firsts=firsts), Budget())

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

    steps = Steps(least=least, firsts=[0] * 5, extra=extra)
    assert all(steps.cost(path) == length(path) for path in permutations(range(5)))
    shortest = min(length(path) for path in permutations(range(5)))
    assert path_bound(steps, Budget())[0] == shortest
    assert path_bound(Steps(least=least, firsts=[0] * 5), Budget())[0] < shortest


def test_one_lot_needs_only_its_first_step() -> None:
    """Without a neighbour there is nothing to add."""
    assert path_bound(Steps(least=[[0]], firsts=[3]), Budget()) == (3, [0])
