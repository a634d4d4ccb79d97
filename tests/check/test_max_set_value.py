"""The plain table that proves prices again, against sets counted out one by one."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations_with_replacement

import pytest
from hypothesis import given, settings, strategies as st

from trimopt.check.max_set_value import PricedReel, SetLimits, TooFineError, max_pattern_value


def _allowed(chosen: tuple[PricedReel, ...], limits: SetLimits) -> bool:
    """The rules, read out for one set."""
    left = limits.width_mm - sum(piece.width_mm for piece in chosen)
    if left < 0:
        return False
    broke = 0
    if limits.strip_mm is not None and left > limits.strip_mm:
        broke = 1
        while left - limits.strip_mm > broke * limits.max_broke_mm:
            broke += 1
        if left < broke * limits.min_broke_mm:
            return False
    inside = sum(piece.no_edge for piece in chosen)
    beside = len(chosen) - inside + broke
    return len(chosen) + broke <= limits.stations and not (inside and beside < 2)


def _counted_out(pieces: list[PricedReel], limits: SetLimits) -> int:
    best = 0
    for number in range(limits.stations + 1):
        for chosen in combinations_with_replacement(pieces, number):
            if _allowed(chosen, limits):
                best = max(best, sum(piece.value for piece in chosen))
    return best


_pieces = st.lists(
    st.builds(
        PricedReel,
        width_mm=st.integers(2, 24).map(lambda n: Fraction(n, 2)),
        value=st.integers(-6, 40),
        no_edge=st.booleans(),
    ),
    min_size=1,
    max_size=4,
)
_rooms = st.builds(
    SetLimits,
    width_mm=st.integers(4, 40).map(Fraction),
    strip_mm=st.none() | st.integers(0, 8).map(Fraction),
    min_broke_mm=st.integers(1, 6).map(Fraction),
    max_broke_mm=st.integers(6, 20).map(Fraction),
    stations=st.integers(1, 4),
)


@settings(max_examples=300)
@given(pieces=_pieces, limits=_rooms)
def test_equals_all_sets_counted_out(pieces: list[PricedReel], limits: SetLimits) -> None:
    """The table finds the dearest allowed set under every rule, values below 0 among them."""
    assert max_pattern_value(pieces, limits) == _counted_out(pieces, limits)


@settings(max_examples=50)
@given(pieces=_pieces, limits=_rooms)
def test_values_beyond_64_bits_stay_exact(pieces: list[PricedReel], limits: SetLimits) -> None:
    """Values too large for a machine word give the same set, scaled, to the last unit."""
    factor = 10**30 + 1
    large = [
        PricedReel(width_mm=p.width_mm, value=p.value * factor, no_edge=p.no_edge) for p in pieces
    ]
    assert max_pattern_value(large, limits) == factor * max_pattern_value(pieces, limits)


def test_a_step_too_fine_is_refused() -> None:
    """A width unit that would need an enormous table is an error, not a long wait."""
    pieces = [PricedReel(width_mm=Fraction(1, 10**9), value=1, no_edge=False)]
    limits = SetLimits(
        width_mm=Fraction(1000),
        strip_mm=None,
        min_broke_mm=Fraction(100),
        max_broke_mm=Fraction(1800),
        stations=7,
    )
    with pytest.raises(TooFineError, match="too fine"):
        max_pattern_value(pieces, limits)
