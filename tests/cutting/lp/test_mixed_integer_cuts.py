"""Mixed-integer cuts: no whole point is cut off, and rounding costs next to nothing."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from math import floor

import numpy as np
from hypothesis import given, settings, strategies as st

from trimopt.cutting.lp.mixed_integer_cuts import RIGHT, mixed_integer_cuts

_TOP = 3  # of each column in the points counted out


@st.composite
def _rows(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    """Equations of whole numbers over a few columns, which some whole point solves."""
    columns = draw(st.integers(2, 5))
    figures = st.lists(st.integers(-9, 9), min_size=columns, max_size=columns)
    rows = np.array(draw(st.lists(figures, min_size=1, max_size=3)), dtype=np.float64)
    point = draw(st.lists(st.integers(0, _TOP), min_size=columns, max_size=columns))
    return rows, rows @ np.array(point)


def _multipliers(count: int) -> st.SearchStrategy[np.ndarray]:
    """For so many rows: plain fractions, and anything."""
    part = st.floats(-50, 50) | st.integers(-40, 40).map(lambda n: n / 12)
    some = st.lists(st.lists(part, min_size=count, max_size=count), min_size=1, max_size=4)
    return some.map(lambda rows: np.array(rows, dtype=np.float64))


@settings(max_examples=200)
@given(data=st.data(), system=_rows())
def test_no_whole_point_is_cut_off(
    data: st.DataObject, system: tuple[np.ndarray, np.ndarray]
) -> None:
    """Of all whole points that solve the equations, by cuts of them and cuts of those cuts."""
    rows, rights = system
    equations = len(rows)
    points = np.array(list(product(range(_TOP + 1), repeat=rows.shape[1])))
    points = points[(points @ rows.T == rights).all(axis=1)]
    for _ in range(3):
        multipliers = data.draw(_multipliers(len(rows)))
        cuts, sides = mixed_integer_cuts(multipliers, rows, rights, equations)
        assert (cuts >= 0).all()
        assert (points @ cuts.T >= sides).all()
        rows, rights = np.vstack([rows, cuts]), np.concatenate([rights, sides])


@settings(max_examples=200)
@given(data=st.data(), system=_rows())
def test_a_cut_is_the_formula(data: st.DataObject, system: tuple[np.ndarray, np.ndarray]) -> None:
    """In fractions: no coefficient is smaller, nor greater by more than rounding."""
    rows, rights = system
    twelfths = data.draw(st.lists(st.integers(-40, 40), min_size=len(rows), max_size=len(rows)))
    # Sixteenths are whole in the units of multipliers, so that only quotients are rounded.
    cuts, sides = mixed_integer_cuts(np.array([twelfths]) / 16, rows, rights, len(rows))
    total = [
        sum(Fraction(u, 16) * int(n) for u, n in zip(twelfths, column, strict=True))
        for column in [*rows.T, rights]
    ]
    *parts, part = [value - floor(value) for value in total]
    if part == 0:
        assert sides[0] == 0
        return
    for coefficient, one in zip(cuts[0], parts, strict=True):
        least = min(one / part, (1 - one) / (1 - part))
        assert least * sides[0] <= coefficient <= least * sides[0] + 2
    assert RIGHT <= sides[0] <= RIGHT + 1
