"""The pattern that each demand begins from."""

from __future__ import annotations

import time

from hypothesis import given, settings, strategies as st

from tests.cutting.brute import all_patterns
from tests.properties.test_cutting_brute import FEATURES, small_run
from trimopt.cutting import (
    Demand,
    Instance,
    Option,
    Status,
    WindingClass,
    blocked,
    held_demands,
    solve,
)


def test_a_class_that_allows_no_pattern_at_all_blocks_its_demand() -> None:
    """One station, and whatever is cut leaves a strip that is a broke reel: nothing can be made."""
    instance = Instance(
        demands=(Demand(low=10, high=10),),
        classes=(
            WindingClass(cost=178, width=178, max_pieces=1, slack=2, min_broke=5, max_broke=178),
        ),
        options=(Option(demand=0, winding_class=0, width=40, gain=1),),
    )
    assert blocked(instance) == (0,)
    assert solve(instance).status is Status.INFEASIBLE


@settings(max_examples=200)
@given(st.integers(0, 10**6), st.sampled_from(FEATURES))
def test_what_lies_in_some_pattern_is_what_enumeration_says(seed: int, feature: str) -> None:
    """Demand by demand, under every rule, also where no piece of it may lie alone."""
    instance = small_run(seed, feature)
    patterns = all_patterns(instance)
    within = {instance.options[k].demand for pattern in patterns for k, _ in pattern.pieces}
    wanted = [i for i, demand in enumerate(instance.demands) if demand.low > 0]
    assert blocked(instance) == tuple(i for i in wanted if i not in within)
    assert held_demands(instance) & set(wanted) == within & set(wanted)


@settings(max_examples=300)
@given(st.data())
def test_edge_strips_and_no_edge_pieces_decide_together(data: st.DataObject) -> None:
    """Wide sets of few stations, narrow slack: most demands need others, or broke reels, beside."""
    draw = data.draw
    count = draw(st.integers(2, 4))
    limits = WindingClass(
        cost=30,
        width=draw(st.integers(20, 40)),
        max_pieces=draw(st.integers(1, 4)),
        slack=draw(st.integers(0, 3)),
        min_broke=draw(st.integers(1, 9)),
        max_broke=draw(st.one_of(st.none(), st.integers(9, 20))),
    )
    options = tuple(
        Option(
            demand=i,
            winding_class=0,
            width=draw(st.integers(5, 19)),
            gain=1,
            no_edge=draw(st.booleans()),
        )
        for i in range(count)
    )
    instance = Instance(
        demands=(Demand(low=1, high=None),) * count, classes=(limits,), options=options
    )
    within = {options[k].demand for pattern in all_patterns(instance) for k, _ in pattern.pieces}
    assert blocked(instance) == tuple(i for i in range(count) if i not in within)


def test_widths_in_tenths_of_a_millimetre_are_held() -> None:
    """Three pieces of 20,000 units fill a set of 60,000: no table of pieces overflows."""
    limits = WindingClass(
        cost=30, width=60_000, max_pieces=3, slack=100, min_broke=2_000, max_broke=4_000
    )
    options = tuple(
        Option(demand=i, winding_class=0, width=width, gain=1)
        for i, width in enumerate((19_990, 20_020, 19_001))
    )
    instance = Instance(demands=(Demand(low=1, high=None),) * 3, classes=(limits,), options=options)
    assert held_demands(instance) == {0, 1}


def test_many_demands_that_no_set_holds_are_named_in_a_moment() -> None:
    """Three narrow reels never fill a wide web: seen at once, not demand by demand."""
    limits = WindingClass(
        cost=7000, width=6980, max_pieces=3, slack=10, min_broke=200, max_broke=400
    )
    options = tuple(
        Option(demand=i, winding_class=c, width=1000 + 7 * i, gain=1)
        for i in range(50)
        for c in range(12)
    )
    instance = Instance(
        demands=(Demand(low=1, high=None),) * 50, classes=(limits,) * 12, options=options
    )
    begun = time.process_time()
    assert blocked(instance) == tuple(range(50))
    assert time.process_time() - begun < 10
