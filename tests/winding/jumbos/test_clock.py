"""The timetable: every minute is one of the mill file's, and every set has its place."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest

from tests.winding.winders import winder
from trimopt.winding.jumbos.clock import timetable
from trimopt.winding.model import JumboSegment, LaidBlock, LaidSet, Layout

START = datetime(2025, 3, 4, 6, 0, tzinfo=UTC)

WINDER = winder(set_up_min=10, jumbo_change_min=6, speed_m_min=1200, acceleration_m_min_s=20)


def laid(block: int, *parts: tuple[str, int, int]) -> LaidSet:
    """A set from (jumbo, from, to) parts."""
    segments = tuple(JumboSegment(jumbo=name, from_m=start, to_m=end) for name, start, end in parts)
    return LaidSet(
        block=block, length_m=sum(end - start for _, start, end in parts), segments=segments
    )


def block(lot: int, *, set_up: bool, moves: int) -> LaidBlock:
    """A block whose layout does not matter here."""
    layout = Layout(strips=(), edge_front_mm=Fraction(0), edge_back_mm=Fraction(0), knives_mm=())
    return LaidBlock(lot=lot, layout=layout, sets=1, set_up=set_up, moves=moves, moved=())


BLOCKS = [block(0, set_up=False, moves=0), block(1, set_up=True, moves=3)]
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
