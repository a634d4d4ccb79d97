"""The curve against the linear program that it stands for, on the example week and real orders.

`tests.fit.programs` argues the bound. Where curve and program do not meet, the program solved again
must show prices that are as good for the run as its own, and others: then these are not unique.
All fifty widths of each run: `python -m tests.bench.fit_widths`.
"""

from __future__ import annotations

import math

import pytest

from tests.fit.programs import NAMES, SLIP, base_of, run_of, widths_mm
from trimopt.cutting import SCALE, Certificate, Demand, Instance, Option, WindingClass
from trimopt.cutting.lp.bound_certificate import price_bound
from trimopt.cutting.marginal_values import marginal_loss

_WIDTHS = 8  # of the fifty


@pytest.mark.parametrize("name", NAMES)
def test_the_curve_against_the_linear_program(name: str) -> None:
    """Never more than the program's change for a thousandth of a reel; as much, or not unique."""
    base = base_of(name)
    _, mill = run_of(name)
    places = zip(base.classes(_WIDTHS), widths_mm(mill, _WIDTHS), strict=True)
    met = 0
    for at, width_mm in places:
        asked = base.asked(at, width_mm)
        if not math.isfinite(asked.value):
            continue
        met += 1
        cost = base.cost(at)
        # No reel is had for less than nothing, but for rounding, or for more than a set of its own.
        assert -SLIP * cost <= asked.value <= cost
        assert not asked.exceeds(cost), (name, at, asked)
        assert asked.equals(cost) or asked.prices_differ, (name, at, asked)
    assert met > 0


def test_it_equals_the_linear_program_where_prices_are_unique() -> None:
    """Thirty reels of 30 in sets of 100, by hand: three to a set, a third of a set each.

    The only basic optimum, ten sets of 30 + 30 + 30, is not degenerate, so prices are unique. For q
    reels of 40 the best sets are 30 + 30 + 40: (30 - 2q) / 3 of the first and q of these, in all
    10 + q / 3. Reels of 10 ride beside three of 30 for nothing; of 70 (30 + 70) one costs 2 / 3.
    """
    instance = Instance(
        demands=(Demand(low=30, high=None),),
        classes=(WindingClass(cost=100, width=100, max_pieces=10),),
        options=(Option(demand=0, winding_class=0, width=30, gain=1),),
    )
    prices = Certificate(scale=3, gain_price=(100 * SCALE,), worth_price=(0,))
    assert price_bound(instance, prices) == 10 * 100 * SCALE
    losses = marginal_loss(instance, prices, 0) / (100 * SCALE)
    assert losses[[10 - 1, 40 - 1, 70 - 1]] == pytest.approx([0, 1 / 3, 2 / 3])
