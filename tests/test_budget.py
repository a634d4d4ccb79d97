"""What is left of time and work, and who is told that it ran out."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from math import inf

import pytest

from trimopt.budget import Budget, SearchEnded


def test_a_share_is_of_what_is_left() -> None:
    """A phase gets a part of the time that those before it have left."""
    whole = Budget.lasting(100)
    assert 49 < whole.share(0.5).left_s <= 50
    assert Budget().share(0.5).left_s == inf


def test_a_share_leaves_the_rest_what_is_enough_for_it() -> None:
    """So no phase is cut while there is time to spare, on however slow a machine."""
    run = Budget.lasting(100).share(0.25, enough_s=5)  # 15 s for the others
    assert 84 < run.left_s <= 85
    assert 82 < run.share(0.5).left_s <= 82.5
    assert 81 < run.share(0.5).share(0.6).left_s <= 81.5
    assert pickle.loads(pickle.dumps(run)).share(0.5).left_s == pytest.approx(82.5, abs=1)
    short = Budget.lasting(10).share(0.25, enough_s=5)
    assert 2 < short.left_s <= 2.5
    assert 1 < short.share(0.5).left_s <= 1.25
    assert Budget().share(0.25, enough_s=5).left_s == inf


def test_time_that_ends_a_share_is_told_upwards() -> None:
    """The whole knows that one of its phases was stopped, another phase does not."""
    whole = Budget.lasting(100)
    other, short = whole.share(1), whole.share(0)
    assert short.over()
    assert short.stopped
    assert whole.stopped
    assert not other.stopped
    assert not whole.over()


def test_work_that_ends_a_share_stops_nobody() -> None:
    """Work is repeatable: a search that ends by it is as it would be on any day."""
    whole = Budget.lasting(100)
    share = whole.share(1, max_work=10)
    share.spend(9)
    with pytest.raises(SearchEnded):
        share.spend(1)
    assert not share.stopped
    assert not whole.stopped


def test_whoever_asks_to_stop_ends_every_budget(asking: Callable[[], None]) -> None:
    """Also one without a clock."""
    budget = Budget().share(1)
    assert not budget.over()
    asking()
    with pytest.raises(SearchEnded):
        budget.check()
    assert budget.stopped


def test_what_is_done_anyway_ends_by_its_work_alone(asking: Callable[[], None]) -> None:
    """Neither a clock that is over nor whoever asks to stop ends it, nor a share of it."""
    asking()
    share = Budget(ends_at=0.0, max_work=10, anyway=True).share(1, 5)
    assert not share.over()
    with pytest.raises(SearchEnded):
        share.spend(5)


def test_another_process_gets_what_is_left() -> None:
    """Its monotonic clock may be another one."""
    sent = Budget.lasting(100, max_work=7)
    sent.work = 3
    got = pickle.loads(pickle.dumps(sent))
    assert 99 < got.left_s <= 100
    assert got.max_work == 4
    assert pickle.loads(pickle.dumps(Budget())).left_s == inf


def test_a_share_of_what_is_left_has_the_seconds_that_it_must_have() -> None:
    """However little is left; and no clock runs where none ran."""
    assert Budget.lasting(0).share(0.5, min_s=9).left_s > 8
    assert 40 < Budget.lasting(100).share(0.5, min_s=9).left_s <= 50
    assert Budget().share(0.5, min_s=9).left_s == inf
