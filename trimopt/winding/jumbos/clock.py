"""The clock of a run: when each set starts and is finished.

Every set takes, one after another and nothing at the same time,

- before it: the set-up and the knife moves, where a new block begins, and the jumbo change, where
  a jumbo is opened;
- its winding: run-up, speed, run-down (`trimopt.paper.winding_min`); a joined set runs down and up
  again at the join, with a jumbo change between, or with what cutting out and joining take;
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


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTimes:
    """When a set starts and is finished, and the minutes between."""

    start: datetime
    finish: datetime
    minutes: float


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


def timetable(
    sets: Sequence[LaidSet], blocks: Sequence[LaidBlock], winder: Winder, start: datetime
) -> RunTimes:
    """Start and finish of every set; the first block is set up, and a jumbo opened for it.

    Parameters
    ----------
    sets
        Laid sets in running order; `block` is a position in `blocks`.
    blocks
        Blocks in running order with their set-ups and knife moves.
    """
    times: list[SetTimes] = []
    now = start
    block = jumbo = None
    for laid in sets:
        minutes = 0.0
        if laid.block != block:
            ahead = blocks[laid.block]
            minutes = winder.set_up_min if ahead.set_up or block is None else 0.0
            minutes += ahead.moves * winder.knife_move_min
            block = laid.block
        for place, segment in enumerate(laid.segments):
            if segment.jumbo != jumbo:
                minutes += winder.jumbo_change_min
            elif place:
                minutes += winder.join_min
            jumbo = segment.jumbo
        minutes += sum(
            winding_min(part.to_m - part.from_m, winder.speed_m_min, winder.acceleration_m_min_s)
            for part in laid.segments
        )
        minutes += winder.set_change_min
        finish = now + timedelta(minutes=minutes)
        times.append(SetTimes(start=now, finish=finish, minutes=minutes))
        now = finish
    return RunTimes(sets=tuple(times), start=start, finish=now)
