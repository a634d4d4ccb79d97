"""Choosing a point of the trade-off."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trimopt.cutting.setups import ParetoPoint, TradeOff

FOUR = TradeOff(
    points=tuple(
        ParetoPoint(patterns=patterns, loss=loss, cuts=(), loss_bound=100)
        for patterns, loss in ((9, 100), (7, 104), (5, 130), (4, 400))
    ),
    patterns_bound=8,
    patterns_bound_any=2,
)


def test_least_loss_comes_first() -> None:
    """The first point, of least loss, is the only one that meets the bound here."""
    assert [point.proven for point in FOUR.points] == [True, False, False, False]


@pytest.mark.parametrize(
    ("most", "points"), [(None, 4), (20, 4), (9, 4), (8, 3), (6, 2), (4, 1), (3, 1)]
)
def test_within_a_cap(most: int | None, points: int) -> None:
    """A cap leaves the points that keep it; the last alone, nearest to it, where none does."""
    assert FOUR.within(most).points == FOUR.points[-points:]


@pytest.mark.parametrize(("most", "settled"), [(9, True), (7, False), (3, False), (1, True)])
def test_what_a_search_can_still_find_under_a_cap(most: int, settled: bool) -> None:
    """Nothing where the least loss of all keeps it, or the bound on patterns shuts it out."""
    assert FOUR.settled(most) is settled
    proven = replace(FOUR, points=(*FOUR.points[:3], replace(FOUR.points[3], loss_bound=400)))
    assert proven.settled(4)


@pytest.mark.parametrize(
    ("give", "patterns"), [(0, 9), (1.9, 9), (2.1, 7), (12, 7), (14, 5), (300, 4)]
)
def test_what_a_set_up_is_worth(give: float, patterns: int) -> None:
    """A set-up is saved where it costs less loss than is given for it."""
    assert FOUR.cheapest(1.0, give).patterns == patterns


def test_cheapest_is_the_least_sum() -> None:
    """The cheapest point has the least price of loss and set-ups, the first set-up apart."""
    prices = [point.loss * 2.0 + (point.patterns - 1) * 30.0 for point in FOUR.points]
    assert FOUR.cheapest(2.0, 30.0) == FOUR.points[prices.index(min(prices))]
