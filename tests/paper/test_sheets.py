"""Sheets: mass and counts."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from trimopt.paper import mass_kg, sheets_from_length, sheets_mass_kg


@given(
    length=st.integers(1, 20_000),
    chop=st.fractions(100, 1600, max_denominator=64),
    ups=st.integers(1, 6),
)
def test_sheets_from_a_length_are_whole(length: int, chop: Fraction, ups: int) -> None:
    """Every row of sheets fits into the length, and one row more would not, in exact figures."""
    sheets = sheets_from_length(length, chop, ups)
    rows, rest = divmod(sheets, ups)
    assert rest == 0
    assert rows * chop <= length * 1000 < (rows + 1) * chop


def test_an_exact_division_loses_no_sheet() -> None:
    """Ten chops of 0.1 in make one inch of ten sheets: a float would have made nine."""
    assert sheets_from_length(Fraction(254, 10000), Fraction(254, 100), 1) == 10


def test_sheets_weigh_what_their_web_weighs() -> None:
    """Sheets cut without loss weigh as much as the web that they came from."""
    assert sheets_mass_kg(3000, 700, 1000, 300) == pytest.approx(mass_kg(2100, 1000, 300))


def test_impossible_sheets_are_refused() -> None:
    """A chop of nothing is an error with a text."""
    with pytest.raises(ValueError, match="chop"):
        sheets_from_length(1000, 0, 1)


def test_sheet_mass_does_not_ask_which_way_the_machine_ran() -> None:
    """Turning a sheet by 90° leaves its mass."""
    assert sheets_mass_kg(1, 610, 860, 80) == sheets_mass_kg(1, 860, 610, 80)
