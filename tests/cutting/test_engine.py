"""The engine as a whole: what it gives where its work ends early."""

from __future__ import annotations

import pytest

from tests.bench.mill_like import mill_like_set
from tests.cutting.one_class import one_class
from trimopt.budget import Budget
from trimopt.cutting import Demand, Outcome, WindingClass, faults_of, solve
from trimopt.cutting.engine import _Stages
from trimopt.cutting.search.search_state import Search, paper_cost

RUNS = {made.name: made.instance for made in mill_like_set(1)}


def gap(name: str, work: float) -> float:
    """Loss above the bound, as a share of the paper, after so much work."""
    outcome: Outcome = solve(RUNS[name], budget=Budget.lasting(None, work))
    assert outcome.loss is not None
    assert not faults_of(RUNS[name], outcome.cuts)
    return (outcome.loss - outcome.bound) / paper_cost(RUNS[name], outcome.cuts)


@pytest.mark.parametrize("name", ["reels_classes_000", "edge_strips_000"])
def test_work_that_ends_in_the_linear_program_leaves_its_plan(name: str) -> None:
    """A program cut short is rounded: not the first plan alone, one order a pattern."""
    first, rounded = gap(name, 1.0), gap(name, 1e7)
    assert rounded < 0.25 * first


@pytest.mark.parametrize("name", list(RUNS))
def test_a_clock_that_is_over_leaves_a_plan_of_filled_sets(name: str) -> None:
    """However busy the machine: sets of one order each lose up to a sixth of the paper."""
    outcome = solve(RUNS[name], budget=Budget(ends_at=0.0))
    assert outcome.loss is not None
    assert outcome.clock_stopped
    assert not faults_of(RUNS[name], outcome.cuts)
    assert outcome.loss - outcome.bound < 0.07 * paper_cost(RUNS[name], outcome.cuts)


@pytest.mark.parametrize("name", ["reels_classes_000", "sheets_000"])
def test_a_clock_that_is_over_leaves_sets_that_suit_each_other(name: str) -> None:
    """A program over patterns takes so little that it is solved anyway, and rounded."""
    instance = RUNS[name]
    outcome = solve(instance, budget=Budget(ends_at=0.0))
    proved = solve(instance, budget=Budget(), gap=1.0)  # the program and its bound alone
    assert outcome.loss is not None
    assert outcome.loss - proved.bound < 0.008 * paper_cost(instance, outcome.cuts)


def test_what_is_said_before_any_price_is_known_is_true() -> None:
    """All that demands can give back, for nothing: no plan loses less."""
    instance = one_class(
        (45, 30),
        (Demand(low=5, high=6, surplus_worth=worth) for worth in (45, 30)),
        WindingClass(cost=100, width=100, max_pieces=4),
        worth=1,
    )
    before = _Stages(Search(instance=instance, budget=Budget()), 0).outcome()
    assert (before.bound, before.certificate) == (-1000 * 6 * (45 + 30), None)
    assert before.bound < solve(instance, budget=Budget()).bound
