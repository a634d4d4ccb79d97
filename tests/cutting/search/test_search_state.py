"""When a search rests: by work, and only where plan and bound are close."""

from __future__ import annotations

import pytest

from tests.bench.mill_like import KINDS, mill_like
from trimopt.budget import Budget
from trimopt.cutting import solve
from trimopt.cutting.params import PARAMS
from trimopt.cutting.search.search_state import Search, paper_cost

STAGES = PARAMS.stages
MUCH = 10.0 * STAGES.resting_work


@pytest.fixture(name="search")
def _search() -> Search:
    """A search whose plan was taken after half of much work."""
    run = mill_like(KINDS[1], 0)
    found = solve(run, budget=Budget())
    search = Search(instance=run, budget=Budget())
    search.budget.work = MUCH / 2
    assert search.take({cut.pattern: cut.sets for cut in found.cuts}, "a plan")
    return search


def _closed_to(search: Search, gap: float) -> None:
    assert search.loss is not None
    search.bound = round(search.loss - gap * paper_cost(search.instance, search.cuts))


def test_it_rests_where_the_last_half_brought_nothing(search: Search) -> None:
    _closed_to(search, STAGES.resting_gap * 0.99)
    search.budget.work = MUCH * 0.99
    assert not search.rests(), "the plan was found within the last half"
    search.budget.work = MUCH * 1.01
    assert search.rests()


def test_it_goes_on_where_the_gap_is_open(search: Search) -> None:
    _closed_to(search, STAGES.resting_gap * 1.01)
    search.budget.work = 100 * MUCH
    assert not search.rests()


def test_a_little_progress_is_rest_and_more_is_not(search: Search) -> None:
    _closed_to(search, STAGES.resting_gap * 0.5)
    paper = paper_cost(search.instance, search.cuts)
    assert search.loss is not None
    for share, rests in ((0.9, True), (1.1, False)):
        better = search.loss - round(share * STAGES.resting_progress * paper)
        search.taken = [(1.0, search.loss), (0.9 * MUCH, better)]
        search.budget.work = MUCH
        assert search.rests() is rests


@pytest.mark.parametrize(
    ("gap", "work"),
    [(STAGES.near_gap * 1.01, STAGES.resting_work), (STAGES.near_gap * 0.99, STAGES.near_work)],
)
def test_it_searches_for_a_second_at_the_least(search: Search, gap: float, work: int) -> None:
    """Or for two thirds of one where plan and bound are nearer."""
    _closed_to(search, gap)
    assert search.loss is not None
    search.taken = [(1.0, search.loss)]
    search.budget.work = work * 0.99
    assert not search.rests()
    search.budget.work = work + 1.0
    assert search.rests()
