"""Length, diameter and mass of a reel."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from trimopt.paper import mass_kg, mass_length_m, reel_diameter_mm, reel_length_m

calipers_um = st.floats(20, 2000)
cores_mm = st.floats(0, 700)


@given(
    core=cores_mm,
    build_up=st.floats(0, 3500),
    caliper=calipers_um,
)
def test_length_and_diameter_round_trip_to_a_millimetre(
    core: float, build_up: float, caliper: float
) -> None:
    """The diameter of the length of a reel is the reel's diameter, far inside a millimetre."""
    outer = core + build_up
    back = reel_diameter_mm(reel_length_m(outer, core, caliper), core, caliper)
    assert abs(back - outer) < 1e-3


@given(length=st.floats(0, 100_000), core=cores_mm, caliper=calipers_um)
def test_length_comes_back_from_its_diameter(length: float, core: float, caliper: float) -> None:
    """The length on a reel of the diameter that a length needs is that length."""
    outer = reel_diameter_mm(length, core, caliper)
    assert reel_length_m(outer, core, caliper) == pytest.approx(length, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(("outer", "core", "caliper"), [(1250, 178, 400), (600, 96, 90)])
def test_length_is_the_sum_of_the_turns(outer: float, core: float, caliper: float) -> None:
    """Adding up one circle a turn, at the middle of its caliper, gives the formula's length."""
    turns = round((outer - core) / 2 / (caliper / 1000))
    summed_m = sum(
        math.pi * (core + (2 * turn + 1) * caliper / 1000) / 1000 for turn in range(turns)
    )
    full_mm = core + 2 * turns * caliper / 1000
    assert reel_length_m(full_mm, core, caliper) == pytest.approx(summed_m, rel=1e-9)


@given(
    width=st.fractions(1, 10_000, max_denominator=32),
    length=st.floats(1, 100_000),
    grammage=st.floats(20, 1000),
)
def test_mass_gives_its_length_back(width: Fraction, length: float, grammage: float) -> None:
    """The length of a mass is the length that the mass was worked from."""
    assert mass_length_m(mass_kg(width, length, grammage), width, grammage) == pytest.approx(length)


@given(outer=st.floats(300, 1800), caliper=st.floats(50, 900), grammage=st.floats(30, 600))
def test_mass_is_volume_times_density(outer: float, caliper: float, grammage: float) -> None:
    """Width × length × grammage weighs what the annulus of paper weighs by its density."""
    core, width = 178.0, 1000.0
    volume_m3 = math.pi / 4 * (outer**2 - core**2) * width / 1e9
    density = 1000 * grammage / caliper
    assert mass_kg(width, reel_length_m(outer, core, caliper), grammage) == pytest.approx(
        volume_m3 * density
    )


def test_an_empty_core_has_no_length() -> None:
    """A reel as large as its core holds nothing, and no length makes the bare core."""
    assert reel_length_m(178, 178, 400) == 0
    assert reel_diameter_mm(0, 178, 400) == 178


@pytest.mark.parametrize(
    ("outer", "core", "caliper", "said"),
    [
        (100, 178, 400, "smaller than its core"),
        (1250, 178, 0, "caliper"),
        (1250, 178, -1, "caliper"),
        (1250, -1, 400, "negative"),
    ],
)
def test_impossible_reels_are_refused(outer: float, core: float, caliper: float, said: str) -> None:
    """A reel inside its core, a caliper of nothing and a negative core are errors, not figures."""
    with pytest.raises(ValueError, match=said):
        reel_length_m(outer, core, caliper)


def test_negative_lengths_and_masses_are_refused() -> None:
    """A negative length or mass, or a web without width or grammage, is an error."""
    with pytest.raises(ValueError, match="negative"):
        reel_diameter_mm(-1, 178, 400)
    with pytest.raises(ValueError, match="negative"):
        mass_length_m(-1, 1000, 250)
    with pytest.raises(ValueError, match="above 0"):
        mass_length_m(1, 0, 250)
    with pytest.raises(ValueError, match="above 0"):
        mass_length_m(1, 1000, 0)
