"""Patterns of small reduced cost: all of them, so that a proof over them holds."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings, strategies as st

from tests.cutting.brute import all_patterns
from trimopt.budget import Budget
from trimopt.cutting import Demand, Instance, Option, WindingClass
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import values_at
from trimopt.cutting.lp.master import LPSolution
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.search.pattern_enumeration import near_patterns
from trimopt.cutting.search.search_state import Search


@st.composite
def _runs(draw: st.DrawFn) -> tuple[Instance, list[float]]:
    """A small run of one class, and a price for each order: nothing or less than nothing too."""
    count = draw(st.integers(1, 3))
    slack = draw(st.sampled_from([None, 2, 4]))
    instance = Instance(
        demands=tuple(Demand(low=50, high=60) for _ in range(count)),
        classes=(
            WindingClass(
                cost=draw(st.integers(8, 14)),
                width=draw(st.integers(6, 14)),
                max_pieces=draw(st.integers(2, 6)),
                slack=slack,
                min_broke=1,
            ),
        ),
        options=tuple(
            Option(
                demand=i,
                winding_class=0,
                width=draw(st.integers(2, 6)),
                gain=1,
                no_edge=draw(st.booleans()) and i == 0,
            )
            for i in range(count)
        ),
    )
    prices = [SCALE * draw(st.sampled_from([-0.5, 0.0, 1.0, 2.0, 3.0])) for _ in range(count)]
    return instance, prices


@settings(max_examples=300)
@given(run=_runs(), most=st.sampled_from([0.5, 1.0, 4.0]))
def test_no_pattern_below_the_threshold_is_left_out(
    run: tuple[Instance, list[float]], most: float
) -> None:
    """Of every allowed pattern, counted out, those of small reduced cost are given."""
    instance, prices = run
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    if not pricers:
        return
    count = len(instance.demands)
    point = LPSolution(
        loss=0.0, sets=np.zeros(0), gain_price=np.array(prices), worth_price=np.zeros(count)
    )
    search = Search(instance=instance, budget=Budget())
    values = values_at(instance, point)
    near = near_patterns(pricers, values, search, wanted=10_000, max_cost=most * SCALE)
    assert near.complete == most * SCALE
    expected = set()
    for pattern in all_patterns(instance):
        worth = sum(prices[instance.options[k].demand] * n for k, n in pattern.pieces)
        if SCALE * instance.classes[0].cost - worth < most * SCALE - 1e-3:
            expected.add(pattern)
    assert expected <= set(near.patterns)
