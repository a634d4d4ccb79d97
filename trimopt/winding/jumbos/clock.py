"""The clock of a run: when each set starts and is finished.

Every set takes, one after another and nothing at the same time,

- before it: the set-up and the knife moves, where a new block begins, and the jumbo change, where
  a jumbo is opened;
- its winding: run-up, speed, run-down (`trimopt.paper.winding_min`); a joined set runs down and up
  again at the join, with a jumbo change between;
- after it: the set change, when its reels leave the winder.

A set starts when work on it begins (its set-up, where it has one) and is finished when its reels
have left. The minutes stand in the mill file; time that the mill loses otherwise is not in them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from trimopt.mill.model import Winder
from trimopt.paper import winding_min
from trimopt.winding.model import LaidBlock, LaidSet

__all__ = ["RunTimes", "SetTimes", "timetable"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTimes:
    """When a set starts and is finished, and what its minutes went to."""

    number: int  # position in the sequence of sets, from 0
    start: datetime
    finish: datetime
    set_up_min: float
    knife_moves_min: float
    jumbo_change_min: float
    winding_min: float
    set_change_min: float
    in_time: bool  # finished before the shift ends; True where no end is given

    @property
    def minutes(self) -> float:
        """All of it."""
        return (
            self.set_up_min
            + self.knife_moves_min
            + self.jumbo_change_min
            + self.winding_min
            + self.set_change_min
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTimes:
    """The timetable of a run."""

    sets: tuple[SetTimes, ...]
    start: datetime
    finish: datetime

    @property
    def minutes(self) -> float:
        """From start to finish."""
        return sum(times.minutes for times in self.sets)

    @property
    def too_late(self) -> tuple[int, ...]:
        """Positions of sets that are not finished when the shift ends."""
        return tuple(times.number for times in self.sets if not times.in_time)


def timetable(
    sets: Sequence[LaidSet],
    blocks: Sequence[LaidBlock],
    winder: Winder,
    start: datetime,
    *,
    end: datetime | None = None,
    first_set_up: bool = True,
    jumbo_on: bool = False,
) -> RunTimes:
    """Start and finish of every set.

    Parameters
    ----------
    sets
        Laid sets in running order; `block` is a position in `blocks`.
    blocks
        Blocks in running order with their set-ups and knife moves.
    winder
        Its speed, acceleration and minutes.
    start
        When work on the run begins.
    end
        When the shift ends; a set not finished by then is flagged.
    first_set_up
        Whether the first block has to be set up (False: the winder stands as it needs).
    jumbo_on
        Whether the first jumbo is on the unwind already.

    Raises
    ------
    ValueError
        `start` and `end` do not both have, or both lack, a time zone.
    """
    if end is not None and (end.tzinfo is None) != (start.tzinfo is None):
        raise ValueError("start and end of the shift must both have a time zone, or neither")
    times: list[SetTimes] = []
    now = start
    block = None
    jumbo = sets[0].stretches[0].jumbo if sets and jumbo_on else None
    for number, laid in enumerate(sets):
        set_up = moves = 0.0
        if laid.block != block:
            ahead = blocks[laid.block]
            set_up = winder.set_up_min if ahead.set_up or (block is None and first_set_up) else 0.0
            moves = ahead.moves * winder.knife_move_min
            block = laid.block
        changes = 0
        for stretch in laid.stretches:
            changes += stretch.jumbo != jumbo
            jumbo = stretch.jumbo
        wound = sum(
            winding_min(part.to_m - part.from_m, winder.speed_m_min, winder.acceleration_m_min_s)
            for part in laid.stretches
        )
        minutes = set_up + moves + changes * winder.jumbo_change_min + wound + winder.set_change_min
        finish = now + timedelta(minutes=minutes)
        times.append(
            SetTimes(
                number=number,
                start=now,
                finish=finish,
                set_up_min=set_up,
                knife_moves_min=moves,
                jumbo_change_min=changes * winder.jumbo_change_min,
                winding_min=wound,
                set_change_min=winder.set_change_min,
                in_time=end is None or finish <= end,
            )
        )
        now = finish
    return RunTimes(sets=tuple(times), start=start, finish=now)
