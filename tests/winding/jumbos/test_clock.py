"""The timetable: every minute is one of the mill file's, and every set has its place."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tests.winding.winders import winder
from trimopt.book.model import Stretch
from trimopt.winding.jumbos.clock import timetable

START = datetime(2025, 3, 4, 6, 0, tzinfo=UTC)

WINDER = winder(set_up_min=10, jumbo_change_min=6, speed_m_min=1200, acceleration_m_min_s=20)


def laid(block: int, *parts: tuple[str, int, int]) -> tuple[int, tuple[Stretch, ...]]:
    """A set of a block from (jumbo, from, to) parts."""
    return block, tuple(Stretch(jumbo=name, from_m=start, to_m=end) for name, start, end in parts)


BLOCKS = [(False, 0), (True, 3)]
SETS = [
    laid(0, ("J 1", 0, 12_000)),
    laid(0, ("J 1", 12_000, 24_000)),
    laid(1, ("J 2", 0, 12_000)),
]


def test_a_run_by_hand() -> None:
    """12,000 m at 1,200 m/min and 20 m/min per second: 11 min, and the rest from the mill file."""
    times = timetable(SETS, BLOCKS, WINDER, START)
    # set-up 10 + jumbo 6 + 11 + 4; 11 + 4; set-up 10 + 3 moves 1.5 + jumbo 6 + 11 + 4
    assert [t.minutes for t in times.sets] == pytest.approx([31, 15, 32.5])
    assert times.finish == START + timedelta(minutes=78.5)
    assert times.minutes == pytest.approx(78.5)


def test_every_set_starts_when_the_one_before_is_finished() -> None:
    """No gap and no overlap in the timetable."""
    times = timetable(SETS, BLOCKS, WINDER, START)
    assert times.sets[0].start == START
    assert [t.start for t in times.sets[1:]] == [t.finish for t in times.sets[:-1]]


def test_a_join_costs_a_run_down_a_jumbo_change_and_a_run_up() -> None:
    """The same 12,000 m on two jumbos take a jumbo change and a minute of ramps more."""
    whole = timetable([laid(0, ("J 1", 0, 12_000))], BLOCKS[:1], WINDER, START)
    joined = timetable(
        [laid(0, ("J 1", 68_000, 74_000), ("J 2", 0, 6_000))], BLOCKS[:1], WINDER, START
    )
    assert joined.minutes - whole.minutes == pytest.approx(WINDER.jumbo_change_min + 1)


def test_no_sets_take_no_time() -> None:
    """An empty run finishes when it starts."""
    times = timetable([], [], WINDER, START)
    assert (times.finish, times.minutes) == (START, 0)
