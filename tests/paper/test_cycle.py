"""How long a winding takes."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, strategies as st

from trimopt.paper import winding_min


def summed_min(length_m: float, speed: float, acceleration: float) -> float:
    """The same winding as a sum of metres over speed: the least of what run-up, top speed and
    run-down allow at each place. Places lie close together near both ends, where it is slow."""
    steps = 20_000
    minutes = 0.0
    for step in range(steps):
        angle = (step + 0.5) / steps * math.pi / 2
        place_m = length_m * math.sin(angle) ** 2
        up = math.sqrt(120 * acceleration * place_m)
        down = math.sqrt(120 * acceleration * (length_m - place_m))
        metres = length_m * math.sin(2 * angle) * (math.pi / 2 / steps)
        minutes += metres / min(speed, up, down)
    return minutes


@pytest.mark.parametrize(
    ("length", "speed", "acceleration"),
    [(4000, 1100, 18), (1200, 1100, 18), (1000, 1100, 18), (300, 1100, 18), (15, 900, 40)],
)
def test_it_is_the_sum_of_metres_over_speed(
    length: float, speed: float, acceleration: float
) -> None:
    """Adding up the web place by place takes as long, with and without top speed."""
    assert winding_min(length, speed, acceleration) == pytest.approx(
        summed_min(length, speed, acceleration), rel=1e-5
    )


@given(speed=st.floats(100, 3000), acceleration=st.floats(1, 100))
def test_both_formulae_meet_where_top_speed_is_just_reached(
    speed: float, acceleration: float
) -> None:
    """At the length where the triangle becomes a trapezoid there is no jump."""
    just = speed * speed / (60 * acceleration)
    below, above = (winding_min(just * by, speed, acceleration) for by in (1 - 1e-9, 1 + 1e-9))
    assert math.isclose(below, above, rel_tol=1e-6)


@given(
    length=st.floats(0, 50_000),
    more=st.floats(0, 50_000),
    speed=st.floats(100, 3000),
    acceleration=st.floats(1, 100),
)
def test_longer_sets_take_longer_and_never_beat_top_speed(
    length: float, more: float, speed: float, acceleration: float
) -> None:
    """Time grows with length, and is never below the length at top speed."""
    short = winding_min(length, speed, acceleration)
    long = winding_min(length + more, speed, acceleration)
    assert short <= long * (1 + 1e-12)
    assert short >= length / speed * (1 - 1e-12)


@pytest.mark.parametrize(("length", "speed", "acceleration"), [(-1, 1, 1), (1, 0, 1), (1, 1, 0)])
def test_impossible_windings_are_refused(length: float, speed: float, acceleration: float) -> None:
    """A negative length, no speed or no acceleration is an error."""
    with pytest.raises(ValueError, match=r"negative|above 0"):
        winding_min(length, speed, acceleration)
