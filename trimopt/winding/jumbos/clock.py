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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from trimopt.book.model import Stretch
from trimopt.mill.model import Winder
from trimopt.paper import winding_min


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
    sets: Iterable[tuple[int, Sequence[Stretch]]],
    changes: Sequence[tuple[bool, int]],
    winder: Winder,
    start: datetime,
) -> RunTimes:
    """Start and finish of every set; the first block is set up, and a jumbo opened for it.

    Parameters
    ----------
    sets
        In running order, each with the place of its block in `changes`, and where it is wound.
    changes
        For each block, whether the winder is set up anew for it, and its knife moves.
    """
    times: list[SetTimes] = []
    now = start
    block = jumbo = None
    for of_block, stretches in sets:
        minutes = 0.0
        if of_block != block:
            set_up, moves = changes[of_block]
            minutes = winder.set_up_min if set_up or block is None else 0.0
            minutes += moves * winder.knife_move_min
            block = of_block
        for place, part in enumerate(stretches):
            if part.jumbo != jumbo:
                minutes += winder.jumbo_change_min
            elif place:
                minutes += winder.join_min
            jumbo = part.jumbo
        minutes += sum(
            winding_min(part.to_m - part.from_m, winder.speed_m_min, winder.acceleration_m_min_s)
            for part in stretches
        )
        minutes += winder.set_change_min
        finish = now + timedelta(minutes=minutes)
        times.append(SetTimes(start=now, finish=finish, minutes=minutes))
        now = finish
    return RunTimes(sets=tuple(times), start=start, finish=now)
