"""The walk over running orders."""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations
from random import Random

from trimopt.winding.knives.move_bounds import Steps
from trimopt.winding.knives.order_annealing import OrderWalk
from trimopt.winding.knives.order_costs import MovePrices, Running
from trimopt.winding.knives.recombination import pool_size
from trimopt.winding.model import Lot, Strip

_LEAST = [[abs(3 * i * i - 7 * j) % 9 for j in range(6)] for i in range(6)]
_STEPS = Steps(min_moves=_LEAST, first_moves=[0] * 6)


def _running(levels: list[int]) -> Running:
    strips = (Strip(key="a", width_mm=Fraction(1000)),)
    lots = [
        Lot(number=n, strips=strips, sets=1, length_m=5000, core_mm=76.0, precedence=level)
        for n, level in enumerate(levels)
    ]
    return Running(lots, MovePrices())


def test_the_walk_comes_to_the_order_that_promises_most() -> None:
    """From the worst order of six lots, a few hundred steps pass by the best of all 720."""
    walk = OrderWalk(_STEPS, _running([0] * 6), Random(1))
    promises = sorted((walk.promise(order), order) for order in permutations(range(6)))
    order, least = list(promises[-1][1]), promises[-1][0]
    for _ in range(100):
        order, promise = walk.on(order)
        assert promise == walk.promise(order)
        least = min(least, promise)
    assert least == promises[0][0] < promises[-1][0]


def test_the_walk_keeps_precedence() -> None:
    """Lots of a lower precedence stay in front."""
    walk = OrderWalk(_STEPS, _running([0, 0, 0, 1, 1, 1]), Random(1))
    order = list(range(6))
    seen = set()
    for _ in range(30):
        order, _ = walk.on(order)
        assert sorted(order[:3]) == [0, 1, 2]
        seen.add(tuple(order))
    assert len(seen) > 1


def test_layouts_in_pools_stay_few_where_lots_are_many() -> None:
    """Two bytes for each pair of slots: of 138 lots the table took 244 MB with pools of 48."""
    for lots in range(1, 600):
        slots = lots * (pool_size(lots) + min(32, pool_size(lots)))
        assert 2 * slots**2 < 100_000_000
