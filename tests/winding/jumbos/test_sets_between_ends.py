"""Metres cut into sets where jumbos end: every set in its limits, and as little left as can be."""

from __future__ import annotations

from itertools import permutations

from hypothesis import given, strategies as st

from trimopt.budget import Budget
from trimopt.winding.jumbos.pattern_metres import PatternMetres
from trimopt.winding.jumbos.sets_between_ends import laid_in_order, sets_on_jumbos


def _pattern(min_m: int, max_m: int, metres: int) -> PatternMetres:
    return PatternMetres(
        core_mm=76.0, pieces=(), min_m=min_m, max_m=max_m, sets=-(-metres // max_m), metres=metres
    )


@st.composite
def _patterns(draw: st.DrawFn) -> PatternMetres:
    min_m = draw(st.integers(1, 30))
    max_m = draw(st.integers(min_m, 60))
    sets = draw(st.integers(1, 6))
    return _pattern(min_m, max_m, draw(st.integers(sets * min_m, sets * max_m)))


@given(
    st.lists(_patterns(), min_size=1, max_size=4),
    st.lists(st.integers(30, 90), min_size=1, max_size=3),
)
def test_sets_are_in_their_limits_and_on_their_jumbos(
    patterns: list[PatternMetres], usable_m: list[int]
) -> None:
    """The order found leaves no more than any other does."""
    found = sets_on_jumbos(patterns, usable_m, budget=Budget(), seed=3)
    orders = permutations(range(len(patterns)))
    assert found.lost_m == min(laid_in_order(patterns, o, usable_m).lost_m for o in orders)
    for pattern, sets, metres in zip(patterns, found.sets, found.metres, strict=True):
        assert sets * pattern.min_m <= metres <= sets * pattern.max_m
        assert metres <= pattern.metres
    for place, content in enumerate(found.contents):
        usable = usable_m[min(place, len(usable_m) - 1)]
        assert sum(sets * patterns[p].min_m for p, sets in content) <= usable
    in_order = [p for content in found.contents for p, _ in content]
    assert len(list(dict.fromkeys(in_order))) == sum(
        1 for at, p in enumerate(in_order) if at == 0 or in_order[at - 1] != p
    ), "a pattern stays in one block"


def test_a_rest_of_a_jumbo_takes_a_part_of_a_block() -> None:
    """Sets of 4,942 m leave 4,916 m of a jumbo of 14,800 m; a block of any length takes them."""
    narrow, free = _pattern(4942, 4949, 2 * 4942), _pattern(988, 5011, 14_000)
    found = sets_on_jumbos([narrow, free], [14_800], budget=Budget())
    assert found.lost_m == 0
    assert found.metres == (2 * 4942, 14_000)


def test_a_rest_too_short_for_a_set_is_left_enough_for_one() -> None:
    """Of 1,500 m on a jumbo with 1,200 m left, 512 m would remain; no set of 600 m has that."""
    found = laid_in_order([_pattern(800, 800, 800), _pattern(600, 1000, 1500)], [0, 1], [2000])
    assert found.contents == (((0, 1), (1, 1)), ((1, 1),))
    assert found.metres == (800, 1500)
    assert found.lost_m == 300
