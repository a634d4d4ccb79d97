"""Orders of blocks in which jumbos are filled, against every order counted out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations
from random import Random

import pytest

from tests.winding.brute import least_butts_m
from trimopt.budget import Budget
from trimopt.plan.planning.replanning.filled_orders import filled_orders
from trimopt.winding import LengthBlock

_JUMBO_M = 1_000


def _block(draw: Random, *, held: bool) -> LengthBlock:
    length_m = draw.randint(200, 450)
    spread = 0 if held else draw.randint(0, 60)
    return LengthBlock(
        sets=draw.randint(1, 3),
        length_m=length_m,
        min_m=length_m - spread,
        max_m=length_m + spread,
    )


@pytest.mark.parametrize("number", range(12))
def test_no_order_leaves_less_on_the_jumbos(number: int) -> None:
    """Held and loose blocks at random; the first jumbo has less left on it."""
    draw = Random(number)
    held = [_block(draw, held=True) for _ in range(draw.randint(1, 3))]
    loose = [_block(draw, held=False) for _ in range(draw.randint(1, 3))]
    usable_m = [draw.randint(450, _JUMBO_M), *[_JUMBO_M] * 12]

    def placed(order: Sequence[int]) -> list[LengthBlock]:
        others = iter(held)
        return [next(others) if at < 0 else loose[at] for at in order]

    orders = set(permutations([-1] * len(held) + list(range(len(loose)))))
    least_m = min(least_butts_m(placed(order), usable_m) for order in orders)
    best, *_ = filled_orders([[block] for block in held], loose, usable_m, 2, Budget())
    assert best.lost_m == least_m == least_butts_m(placed(best.order), usable_m)
    assert list(best.jumbos) == sorted(best.jumbos)
    assert len(best.jumbos) == sum(block.sets for block in (*held, *loose))


def test_none_is_sought_when_the_budget_is_over() -> None:
    """Of a week's orders that are new at once there are many: Ctrl-C and the clock end it."""
    draw = Random(1)
    loose = [_block(draw, held=False) for _ in range(3)]
    assert filled_orders([], loose, [_JUMBO_M], 2, Budget())
    assert filled_orders([], loose, [_JUMBO_M], 2, Budget(max_work=0)) == ()
