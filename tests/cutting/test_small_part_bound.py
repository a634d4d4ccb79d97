"""Small parts of a run are searched through for its bound; large ones get what prices prove."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import given, settings, strategies as st

from tests.cutting.brute import all_patterns, best_loss, certified_bound
from tests.cutting.one_class import one_class
from tests.properties.test_cutting_brute import FEATURES, small_run
from trimopt.budget import Budget
from trimopt.cutting import SCALE, Demand, Instance, Option, Status, WindingClass, prove, solve
from trimopt.cutting.decomposition import parts_of
from trimopt.cutting.lp.bound_certificate import price_bound
from trimopt.cutting.search.pool_program import choose_sets
from trimopt.cutting.search.search_state import Search
from trimopt.cutting.search.single_order_patterns import completed


def beside(*runs: Instance) -> Instance:
    """Runs as one instance, each on classes of its own, so that they are parts of it."""
    whole = runs[0]
    for run in runs[1:]:
        demands, classes = len(whole.demands), len(whole.classes)
        whole = Instance(
            demands=whole.demands + run.demands,
            classes=whole.classes + run.classes,
            options=whole.options
            + tuple(
                replace(o, demand=o.demand + demands, winding_class=o.winding_class + classes)
                for o in run.options
            ),
            apart=whole.apart + tuple((a + demands, b + demands) for a, b in run.apart),
            together=whole.together + tuple((a + demands, b + demands) for a, b in run.together),
            barred=whole.barred + tuple((c + classes, widths) for c, widths in run.barred),
        )
    return whole


def one_order(low: int, high: int) -> Instance:
    """An order by mass: three reels lie in a set, of 30 kg each, or of 27 kg in shorter sets."""
    return Instance(
        demands=(
            Demand(
                low=low,
                high=high,
                ordered=low,
                under_price=100,
                over_price=100,
                surplus_worth=1,
            ),
        ),
        classes=(
            WindingClass(cost=100, width=10, max_pieces=9),
            WindingClass(cost=90, width=10, max_pieces=9),
        ),
        options=(
            Option(demand=0, winding_class=0, width=3, gain=30, worth=30),
            Option(demand=0, winding_class=1, width=3, gain=27, worth=27),
        ),
    )


def many_orders(count: int) -> Instance:
    """Orders of many widths on one class."""
    draw = random.Random(count)
    widths = draw.sample(range(150, 480), count)
    return one_class(
        widths,
        (
            Demand(
                low=n, high=n + 2, ordered=n * w, under_price=100, over_price=100, surplus_worth=w
            )
            for n, w in zip(draw.choices(range(3, 30), k=count), widths, strict=True)
        ),
        WindingClass(cost=1000, width=1000, max_pieces=9),
        worth=1,
    )


def test_a_small_part_of_weak_prices_is_proven() -> None:
    """118 kg take two whole sets: prices make a set and a third of them."""
    large, small = many_orders(12), one_order(118, 125)
    whole = beside(large, small)
    assert len(parts_of(whole)) == 2
    prices = solve(whole, budget=Budget(), gap=1.0)
    proven = prove(whole, budget=Budget())
    truth = best_loss(small, max_sets=4)
    # Two short sets, of which 125 kg count, 7 kg above what was ordered.
    assert truth == SCALE * (2 * 90 - 125) + 100 * 7
    alone = solve(small, budget=Budget(), gap=1.0)
    assert alone.bound < truth
    assert proven.bound == prices.bound + truth - alone.bound
    # What the prices prove stays beside it, and can be proven again from them.
    assert proven.price_bound == prices.price_bound < proven.bound
    assert proven.certificate is not None
    assert price_bound(whole, proven.certificate) == proven.price_bound


def test_a_run_that_is_one_small_part_is_proven_too() -> None:
    """Nothing else in the run: the bound is its least loss."""
    run = one_order(205, 220)
    assert prove(run, budget=Budget()).bound == best_loss(run, max_sets=5)


def test_a_large_part_is_not_searched() -> None:
    """Its bound is that of its prices, and the work stays that of the linear program."""
    run = many_orders(12)
    assert prove(run, budget=Budget()).bound == solve(run, budget=Budget(), gap=1.0).bound


@settings(max_examples=40, derandomize=True)
@given(
    seed=st.integers(0, 10**6),
    features=st.lists(st.sampled_from(FEATURES), min_size=2, max_size=3),
)
def test_no_bound_is_above_the_least_loss(seed: int, features: list[str]) -> None:
    """Runs of two and three parts of every feature, against all their plans counted out.

    The loss of a run is the sum over its parts, so the least is the sum of theirs.
    """
    runs = [small_run(seed + k, feature) for k, feature in enumerate(features)]
    truths = [best_loss(run, max_sets=5) for run in runs]
    proven = prove(beside(*runs), budget=Budget())
    if proven.status is Status.INFEASIBLE:
        assert None in truths
        return
    assert proven.price_bound <= proven.bound
    least = [truth for truth in truths if truth is not None]
    if len(least) == len(truths):
        assert proven.bound <= sum(least)
    assert proven.loss is not None
    assert proven.bound <= proven.loss
    if proven.certificate is not None:
        assert certified_bound(beside(*runs), proven.certificate) == proven.price_bound


def test_what_an_unfinished_integer_program_proves_holds() -> None:
    """Stopped early or not at all, it proves no more than the least loss, and that in the end."""
    unfinished = finished = 0
    for seed in range(60):
        run = small_run(seed, "all")
        patterns = all_patterns(run)
        truth = best_loss(run, max_sets=6)
        held = [{run.options[k].demand for k, _ in pattern.pieces} for pattern in patterns]
        own = [
            next(
                (pattern for pattern, demands in zip(patterns, held, strict=True) if i in demands),
                None,
            )
            for i in range(len(run.demands))
        ]
        if truth is None or None in own:
            continue
        hint = completed(run, (), own)
        for effort in (1e-5, 3e-5, 1.0):
            search = Search(instance=run, budget=Budget())
            search.take(hint, "start")
            bound = choose_sets(search, patterns, effort=effort, seed=0)
            assert search.loss is not None
            if effort == 1.0:
                assert bound == search.loss <= truth
                finished += 1
            elif bound is not None:
                assert bound <= truth
                unfinished += bound < search.loss
    assert unfinished > 0
    assert finished > 20


def test_figures_too_great_for_the_solver_prove_nothing() -> None:
    """The solver adds up in 64 bits; a run that is beyond it is left to its prices."""
    large = replace(
        one_order(118, 125),
        demands=(replace(one_order(118, 125).demands[0], ordered=2**62),),
    )
    patterns = all_patterns(large)
    search = Search(instance=large, budget=Budget())
    search.take({patterns[0]: 4}, "start")
    assert choose_sets(search, patterns, effort=0.1, seed=0) is None
    proven = prove(large, budget=Budget())
    assert proven.bound == solve(large, budget=Budget(), gap=1.0).bound
