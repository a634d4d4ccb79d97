"""Knives that stay where they stand when lifted."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings, strategies as st

from tests.winding.brute import beam_of_fewest_moves
from trimopt.winding.knives.idle_knives import stand
from trimopt.winding.knives.knife_moves import BACK, FRONT, moves

_gaps = st.lists(st.integers(min_value=0, max_value=5), min_size=1, max_size=6)


def _places(gaps: list[int], spacing: int) -> tuple[int, ...]:
    at, places = 0, []
    for gap in gaps:
        at += spacing + gap
        places.append(at)
    return tuple(places)


@settings(max_examples=400)
@given(
    standing=_gaps,
    cutting=_gaps,
    ends=st.tuples(st.integers(min_value=0, max_value=3), st.integers(min_value=0, max_value=3)),
    spacing=st.integers(min_value=1, max_value=4),
    later=st.lists(_gaps, max_size=2),
)
def test_as_few_moves_as_the_program_over_all_places(
    standing: list[int],
    cutting: list[int],
    ends: tuple[int, int],
    spacing: int,
    later: list[list[int]],
) -> None:
    """It moves no fewer; all that cut are there, in order, at the spacing."""
    before = ((FRONT,) * ends[0]) + _places(standing, spacing) + ((BACK,) * ends[1])
    row = _places(cutting, spacing)[: len(before)]
    found = stand(before, row, spacing, {}, [_places(gaps, spacing) for gaps in later])
    fewest = beam_of_fewest_moves(before, row, spacing, (FRONT, BACK))
    assert moves(before, found) == moves(before, fewest)
    inside = [place for place in found if place not in {FRONT, BACK}]
    assert set(row) <= set(inside)
    assert all(b - a >= spacing for a, b in pairwise(inside))
    assert list(found) == sorted(found)


def test_a_knife_that_has_to_move_goes_where_it_will_be_needed() -> None:
    """20 is too close to 21 for an idle knife: it moves, and 30 is where the next block cuts."""
    assert stand((10, 20, 40), (10, 21), 5, {}, [(10, 30)]) == (10, 21, 40)
    assert stand((10, 20, 22, 40), (10, 21, 40), 2, {}, [(10, 30)]) == (10, 21, 30, 40)


def test_the_place_of_more_worth_is_kept() -> None:
    """One of two idle knives must give way; the one whose place is needed sooner stays."""
    assert stand((10, 20), (15,), 2, {20: 5}) == (15, 20)
    assert stand((10, 20), (15,), 2, {10: 5}) == (10, 15)
