"""The pattern that each demand begins from."""

from __future__ import annotations

from trimopt.cutting import Demand, Instance, Option, Status, WindingClass, blocked, solve


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
