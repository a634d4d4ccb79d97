"""Exchanges of whole sets: what has been looked at once is not looked at again."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.mill_like import KINDS, mill_like
from trimopt.budget import Budget
from trimopt.cutting import Pattern
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.search.local_search import LocalSearch, _State
from trimopt.cutting.search.search_state import Search
from trimopt.cutting.search.single_order_patterns import completed, single_order_patterns


@pytest.mark.parametrize("set_up", [0.0, 2e9])
def test_what_is_known_of_sets_left_alone_is_what_would_be_found(set_up: float) -> None:
    """After runs with other prices of what lacks, and over a pool that grew; many are met again."""
    instance = mill_like(KINDS[3], 21)
    own = single_order_patterns(instance, [Pricer(instance, o) for o in class_offers(instance)])
    single = [Pattern(o.winding_class, ((k, 1),)) for k, o in enumerate(instance.options)]
    search = Search(instance=instance, budget=Budget(), set_up=set_up)
    search.take(completed(instance, (), own), "one order a pattern")
    exchange = LocalSearch(search, (), seed=1)
    for start, whole in (({}, False), (None, True), (dict.fromkeys(single[:9], 1), True)):
        exchange.run(150, start, whole=whole)
        assert 20 < len(exchange._known) < 140
        for (left, room, first), (put, loss) in exchange._known.items():
            state = _State(dict(left), np.zeros(len(own)), np.zeros(len(own)))
            for p, sets in left:
                state.made += sets * exchange.pool.made[p]
                state.worth += sets * exchange.pool.worth[p]
            assert exchange._in(state, room, first=first) == (put, loss)
