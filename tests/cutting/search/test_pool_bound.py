"""What cuts over a pool prove: never more than the best plan loses, and more than prices do."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given, settings, strategies as st

from tests.bench.mill_like import KINDS, mill_like
from tests.cutting.brute import best_loss
from tests.cutting.lp.test_convexified import guided
from tests.properties.test_cutting_brute import FEATURES, small_run
from trimopt.budget import Budget, SearchEnded
from trimopt.cutting import Instance, solve
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.params import PARAMS, ConvexifiedParams, EngineParams, RestartParams
from trimopt.cutting.search.pool_bound import prove_by_cuts
from trimopt.cutting.search.search_state import Search
from trimopt.cutting.search.single_order_patterns import completed, single_order_patterns

_TO_THE_END = replace(PARAMS, restarts=replace(PARAMS.restarts, target_gap=0.0))
_FROM_TABLES = ConvexifiedParams(max_ways=0, max_cells=10**6)


@pytest.mark.parametrize("feature", [f for f in FEATURES if f not in {"plain", "open"}])
@settings(max_examples=12, derandomize=True)
@given(seed=st.integers(0, 10**6), tables=st.booleans())
def test_no_plan_is_better_than_what_cuts_prove(feature: str, seed: int, tables: bool) -> None:
    """Small runs of every feature, from a first plan with a pattern for each order."""
    params = replace(_TO_THE_END, convexified=_FROM_TABLES) if tables else _TO_THE_END
    instance = small_run(seed, feature)
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    truth = best_loss(instance, max_sets=6)
    search = Search(instance=instance, budget=Budget(), params=params)
    found = guided(search, pricers)
    if truth is None or found is None:
        return
    with suppress(SearchEnded):  # plan and bound meet
        own = single_order_patterns(instance, pricers)
        search.take(completed(instance, (), own), "one order a pattern")
        prove_by_cuts(search, found[0], pricers, margin=1.0)
    assert search.bound is not None
    assert search.bound <= truth


def test_cuts_prove_more_of_the_same_plan() -> None:
    """Of a run whose patterns of small reduced cost are few: a tenth of the gap and more.

    Where there are more of them than may be looked at, those up to half as far prove a part.
    """
    instance = mill_like(next(kind for kind in KINDS if kind.name == "reels_classes"), 12)
    quick = replace(EngineParams.for_effort("quick"), restarts=RestartParams(work=0, min_work=0))
    cuts = PARAMS.pool_bound
    ways = (
        quick.pool_bound,
        replace(cuts, patterns=400),
        replace(cuts, patterns=400, spans=2),
        cuts,
    )
    none, all_or_none, half, full = (
        solve(instance, budget=Budget(), params=replace(quick, pool_bound=w)) for w in ways
    )
    assert none.cuts == all_or_none.cuts == half.cuts == full.cuts
    assert none.loss is not None
    assert none.bound == all_or_none.bound < half.bound < full.bound
    assert full.bound - none.bound > 0.1 * (none.loss - none.bound)


def test_nothing_is_proven_where_no_pieces_are_listed() -> None:
    """Where an order can be made in more ways than are listed, its prices stand."""
    params = replace(_TO_THE_END, convexified=ConvexifiedParams(max_ways=0))
    instance = small_run(2, "ranges")
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    search = Search(instance=instance, budget=Budget(), params=params)
    found = guided(search, pricers)
    assert found is not None
    own = single_order_patterns(instance, pricers)
    search.take(completed(instance, (), own), "one order a pattern")
    before = search.bound
    prove_by_cuts(search, found[0], pricers, margin=1.0)
    assert search.bound == before


def test_tables_prove_what_lists_do() -> None:
    """Where no ways are listed, those read from tables do: prices and cuts come to the same."""
    opened, none = 0, ConvexifiedParams(max_ways=0)
    for seed in range(12):
        instance = small_run(seed, "ranges")
        listed, read, ranges = (
            _proven(instance, replace(_TO_THE_END, convexified=each))
            for each in (PARAMS.convexified, _FROM_TABLES, none)
        )
        if listed is not None and read is not None and ranges is not None:
            opened += ranges[0] < listed[0]
            assert abs(read[0] - listed[0]) <= 0.2 * (listed[0] - ranges[0])
    assert opened == 3


def _in_parts(branch_work: int) -> EngineParams:
    """No cuts but in parts, to the last unit of loss."""
    bound = replace(PARAMS.pool_bound, max_cuts=0, branch_work=branch_work, min_branched=0.0)
    return replace(_TO_THE_END, pool_bound=bound)


def _proven(instance: Instance, params: EngineParams) -> tuple[int, int] | None:
    """Bound and loss from a plan with a pattern for each order."""
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    search = Search(instance=instance, budget=Budget(), params=params)
    found = guided(search, pricers)
    if found is None:
        return None
    with suppress(SearchEnded):  # plan and bound meet
        own = single_order_patterns(instance, pricers)
        search.take(completed(instance, (), own), "one order a pattern")
        prove_by_cuts(search, found[0], pricers, margin=1.0)
    assert search.bound is not None
    assert search.loss is not None
    return search.bound, search.loss


@pytest.mark.parametrize(("feature", "opened"), [("ranges", 5), ("slack", 3), ("all", 5)])
def test_parts_prove_the_best_plan(feature: str, opened: int) -> None:
    """Of small runs, plan and bound of whom are apart: both are brought to what counting says."""
    before = 0
    for seed in range(12):
        instance = small_run(seed, feature)
        whole = _proven(instance, _in_parts(0))
        if whole is not None and whole[0] < whole[1]:
            before += 1
            parts = _proven(instance, _in_parts(10**9))
            assert parts == (best_loss(instance, max_sets=6),) * 2
    assert before == opened
