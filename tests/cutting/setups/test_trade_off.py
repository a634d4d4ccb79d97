"""The trade-off on small runs against trying everything, and what holds of it always."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings, strategies as st

from tests.bench.mill_like import mill_like_set
from tests.cutting.one_class import exactly, one_class
from tests.cutting.setups.small import every_pattern_of, mill_runs, min_by_count, textbook_runs
from trimopt.budget import Budget
from trimopt.cutting import (
    Cut,
    Instance,
    Pattern,
    Status,
    WindingClass,
    faults_of,
    loss_of,
    patterns_in,
    solve,
)
from trimopt.cutting.params import PARAMS
from trimopt.cutting.search.search_state import paper_cost
from trimopt.cutting.setups import ParetoPoint, TradeOff, fewest_patterns, trade_off
from trimopt.cutting.setups.archive import Archive
from trimopt.cutting.setups.build_tables import BuildTables
from trimopt.cutting.setups.priced_exchanges import PricedExchanges
from trimopt.cutting.setups.ruin_recreate import Recreator
from trimopt.cutting.setups.trade_off_search import _TradeOffSearch

WORK = Budget(max_work=700)
SEARCHED = Budget(max_work=7_000)  # as much as a small run can want
FEW = settings(max_examples=10, suppress_health_check=list(HealthCheck))

#: Widths of an invented run that has too many patterns for trying them all.
WIDTHS = (410, 455, 520, 585, 610, 700, 745, 830, 905, 960, 1050, 1120)


def run_of(max_over: int = 0) -> Instance:
    """Twelve widths, exact or with a range."""
    return one_class(
        WIDTHS,
        (exactly(5 + i, max_over) for i in range(len(WIDTHS))),
        WindingClass(cost=1, width=4800, max_pieces=9),
    )


def holds(instance: Instance, trade: TradeOff) -> None:
    """What is true of every trade-off."""
    counts = [point.patterns for point in trade.points]
    losses = [point.loss for point in trade.points]
    assert counts == sorted(counts, reverse=True)
    assert losses == sorted(losses)
    assert len(set(counts)) == len(counts)
    for point in trade.points:
        assert point.patterns >= trade.patterns_bound_any
        assert point.loss_bound is None or point.loss_bound <= point.loss
        for cuts in (point.cuts, *point.equal):
            assert not faults_of(instance, cuts)
            assert loss_of(instance, cuts) == point.loss
            assert patterns_in(instance, cuts) == point.patterns
    if trade.points:
        assert trade.points[0].patterns >= trade.patterns_bound


def at_most(trade: TradeOff, patterns: int) -> ParetoPoint | None:
    """The least loss with at most so many patterns."""
    return next((point for point in trade.points if point.patterns <= patterns), None)


@FEW
@given(textbook_runs())
def test_textbook_equals_brute_force(instance: Instance) -> None:
    """Least loss for each number of patterns is the true one."""
    outcome = solve(instance)
    assume(outcome.status is Status.OPTIMAL and all(c.sets <= 5 for c in outcome.cuts))
    trade = trade_off(instance, outcome, budget=SEARCHED)
    holds(instance, trade)
    truth = min_by_count(instance, 3)
    for patterns, loss in truth.items():
        point = at_most(trade, patterns)
        assert point is not None
        assert point.loss <= loss
        assert point.loss == loss or any(cut.sets > 5 for cut in point.cuts)


@FEW
@given(mill_runs())
def test_mill_run_equals_brute_force(instance: Instance) -> None:
    """The same with classes, ranges, prices, edge limits and pairs that stay apart."""
    assume(len(every_pattern_of(instance)) <= 12)
    outcome = solve(instance)
    assume(outcome.cuts)
    trade = trade_off(instance, outcome, budget=SEARCHED)
    holds(instance, trade)
    for patterns, loss in min_by_count(instance, 3).items():
        point = at_most(trade, patterns)
        assert point is not None
        assert point.loss <= loss
        # What trying everything leaves out: more than five sets, or one setting in four classes.
        left_out = any(cut.sets > 5 for cut in point.cuts) or len(point.cuts) > 3
        assert point.loss == loss or left_out


@FEW
@given(mill_runs(), st.integers(1, 3))
def test_a_cap_that_the_search_knows(instance: Instance, most: int) -> None:
    """Told of a cap, the search gives the true least loss under it, and a whole trade-off."""
    assume(len(every_pattern_of(instance)) <= 12)
    outcome = solve(instance)
    assume(outcome.cuts)
    trade = trade_off(instance, outcome, budget=SEARCHED, max_patterns=most)
    holds(instance, trade)
    truth = min_by_count(instance, 3).get(most)
    point = at_most(trade, most)
    if truth is not None:
        assert point is not None
        assert point.loss <= truth
    if point is not None and truth is not None and point.loss < truth:
        assert any(cut.sets > 5 for cut in point.cuts) or len(point.cuts) > 3


@pytest.mark.parametrize("run", range(2))
def test_nothing_is_lost_under_a_cap(run: int) -> None:
    """For every cap, no more loss than the search that is not told of it found within it."""
    instance = run_of(run)
    outcome = solve(instance, budget=Budget())
    free = trade_off(instance, outcome, budget=WORK)
    for point in free.points:
        found = at_most(
            trade_off(instance, outcome, budget=WORK, max_patterns=point.patterns), point.patterns
        )
        assert found is not None
        assert found.loss <= point.loss


def test_a_cap_costs_less_where_it_is_known() -> None:
    """Fewer patterns, or less loss, than a search that is not told."""
    instance = run_of(2)
    outcome = solve(instance, budget=Budget())
    losses = []
    for most in (4, None):
        point = at_most(trade_off(instance, outcome, budget=WORK, max_patterns=most), 4)
        losses.append(float("inf") if point is None else point.loss)
    assert losses[0] <= losses[1] < float("inf")


@settings(max_examples=3)
@given(st.integers(0, 1))
def test_more_than_a_few_patterns(over: int) -> None:
    """With many patterns few are still found, with no more loss than the engine's."""
    instance = run_of(over)
    outcome = solve(instance, budget=Budget())
    trade = trade_off(instance, outcome, budget=WORK)
    holds(instance, trade)
    assert outcome.loss is not None
    assert trade.points[0].loss <= outcome.loss
    assert trade.points[0].patterns <= 7


def test_same_seed_same_answer() -> None:
    """Under a limit on work two searches give the same points."""
    instance = run_of()
    outcome = solve(instance, budget=Budget())
    budget = Budget(max_work=500)
    first = trade_off(instance, outcome, budget=budget, seed=3)
    again = trade_off(instance, outcome, budget=budget, seed=3)
    assert first.points == again.points
    assert first.work == again.work


def test_interrupt_gives_what_is_known(
    asking: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C ends the search with whole plans in hand, and the answer says that it was stopped."""
    instance = run_of()
    outcome = solve(instance, budget=Budget())
    done = Recreator.step

    def step(recreator: Recreator, *known: Any) -> bool:
        asking()
        return done(recreator, *known)

    monkeypatch.setattr(Recreator, "step", step)
    trade = trade_off(instance, outcome, budget=Budget())
    assert trade.clock_stopped
    assert trade.points
    holds(instance, trade)


def test_sets_exchanged_at_a_price_find_better_plans_than_sets_dealt(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Where quantities are ranges, with as much work, a pattern at a thousandth of the paper."""
    (instance,) = (made.instance for made in mill_like_set(1, 20) if made.name == "sheets_020")
    outcome = solve(instance, budget=Budget())
    costs = []
    for exchanged in (True, False):
        if not exchanged:
            monkeypatch.setattr(_TradeOffSearch, "_exchanged", lambda search, _: search._dealt())
        trade = trade_off(instance, outcome, budget=Budget(max_work=256))
        holds(instance, trade)
        price = paper_cost(instance, outcome.cuts) / 1_000
        costs.append(min(point.loss + price * point.patterns for point in trade.points) / price)
    assert costs[0] < costs[1] - 1


@pytest.mark.parametrize("over", [0, 3])
def test_fixed_cuts_are_kept(over: int) -> None:
    """A fixed cut stands in every plan with its sets, and the plan without it loses no more."""
    instance = run_of(over)
    outcome = solve(instance, budget=Budget())
    fixed = Cut(Pattern(0, ((10, 2), (11, 2))), 3)
    trade = trade_off(instance, outcome, budget=Budget.lasting(None, 500), fixed=(fixed,))
    holds(instance, trade)
    assert trade.points
    for point in trade.points:
        assert fixed in point.cuts
    assert trade.points[0].loss >= outcome.bound


def test_in_very_fine_steps_only_known_patterns_are_exchanged() -> None:
    """Tables of all patterns near the prices would take a gigabyte."""
    fine = one_class(
        (width * 1_001 + 7 for width in WIDTHS),
        (exactly(5 + i, 3) for i in range(len(WIDTHS))),
        WindingClass(cost=1, width=4800 * 1_001, max_pieces=9),
    )
    outcome = solve(fine, budget=Budget(max_work=100_000_000))
    tables = BuildTables.of(fine, outcome.certificate)
    archive = Archive(tables)
    archive.add(outcome.cuts)
    priced = PricedExchanges(tables, archive, Budget(), 0)
    assert {*priced.exchange.pool.patterns} == {cut.pattern for cut in outcome.cuts}


def test_nothing_to_make_is_a_plan_without_a_cut() -> None:
    """Of a run whose odd jumbos made everything, before any time or work is spent."""
    run = run_of()
    instance = replace(run, demands=tuple(replace(each, low=0) for each in run.demands))
    outcome = solve(instance, budget=Budget(max_work=0))
    trade = trade_off(instance, outcome, budget=Budget(max_work=0))
    assert [point.cuts for point in trade.points] == [()]


def test_least_loss_in_fewer_patterns() -> None:
    """The first point loses no more than the engine's plan, in fewer patterns."""
    instance = run_of()
    outcome = solve(instance, budget=Budget())
    first = trade_off(instance, outcome, budget=Budget(max_work=500)).points[0]
    assert outcome.loss is not None
    assert first.loss <= outcome.loss
    assert first.patterns < len(outcome.cuts)


def test_a_limit_on_work_leaves_the_bound_on_patterns() -> None:
    """The bound at any loss is proven by the engine, whose work the limit on builds is not."""
    instance = run_of()
    outcome = solve(instance, budget=Budget())
    trade = trade_off(instance, outcome, budget=Budget(max_work=64))
    assert trade.patterns_bound_any == fewest_patterns(instance, Budget()) > 0


def test_it_rests_where_nothing_is_found_any_more() -> None:
    """Without any limit it ends by itself, and more work than it took finds the same points."""
    instance = run_of(max_over=2)
    outcome = solve(instance, budget=Budget())
    rested = trade_off(instance, outcome, budget=Budget())
    params = replace(PARAMS, set_ups=replace(PARAMS.set_ups, resting_share=1.0))
    whole = trade_off(instance, outcome, budget=Budget(max_work=rested.work), params=params)
    assert rested.points == whole.points
    assert rested.work > PARAMS.set_ups.resting_builds
