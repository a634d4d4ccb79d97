"""Twenty small shifts: something happens, the rest is planned again, and nothing is lost."""

from __future__ import annotations

import pytest

from tests.shifts import SimulatedShift


@pytest.mark.parametrize("number", range(20))
def test_a_shift_lives_through_what_happens(number: int) -> None:
    """No order lost or doubled, what was run untouched, numbers used once, balance closed."""
    shift = SimulatedShift(number, orders=3 + number % 2, events=2, seconds=0.15)
    assert len(list(shift.live())) == 2
