"""The sheeters' side: which reels are unwound together, and when.

A load is a group of reels of one order, width and number of ups, as many as the sheeter has stands,
matched in length (common practice: they run out together). Where the count of reels is uneven, or
lengths do not match, some loads leave stands empty: part loads, run and counted like the others. A
load can start when its last reel has left the winder. Which sheeter takes reels that more than one
takes alike is chosen before (`sheeter_spread`). A sheeter that is free takes,
of the loads that are ready, the one due earliest; of these the one of the order it has just cut;
where none is ready it waits.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction

from trimopt.mill.model import Mill, Sheeter
from trimopt.paper import sheets_from_length
from trimopt.plan.model import RunPlan
from trimopt.plan.planning.schedule.runs_in_turn import finished_at
from trimopt.plan.sheeter_load import Load, LoadReel


def load_minutes(sheeter: Sheeter, length_m: int, chop_mm: Fraction) -> float:
    """Minutes for a load: the change of reels, then the length at the sheeter's speed.

    Short sheets run slower where the mill file limits the cuts a minute: the speed is then cuts a
    minute times the chop.
    """
    speed_m_min = sheeter.speed_m_min
    if sheeter.max_cuts_per_min is not None:
        speed_m_min = min(speed_m_min, sheeter.max_cuts_per_min * float(chop_mm) / 1000)
    return sheeter.load_change_min + length_m / speed_m_min


@dataclass(frozen=True, slots=True, kw_only=True)
class _LoadKind:
    """What reels of a load share."""

    run: str
    order: str
    width_mm: Fraction
    ups: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _WaitingReel:
    set_number: int
    position: int
    length_m: int
    finish: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class _Waiting:
    """A load before it has its time."""

    kind: _LoadKind
    reels: tuple[_WaitingReel, ...]
    chop_mm: Fraction
    due: datetime | None
    ready: datetime  # its last reel is wound


def sheeted(runs: Sequence[RunPlan], mill: Mill) -> tuple[tuple[RunPlan, ...], tuple[Load, ...]]:
    """The loads of every sheeter, and the runs with their sheet orders finished when they are cut.

    Parameters
    ----------
    runs
        With the winder's times.
    mill
        Its sheeters.

    Returns
    -------
    tuple of RunPlan
        Orders that are cut after their due time are late.
    tuple of Load
        Sheeter by sheeter as the mill file names them, each in the order in which it takes them.
    """
    loads = [load for sheeter in mill.sheeters for load in loads_on(sheeter, runs)]
    cut: dict[tuple[str, str], datetime] = {}
    for load in loads:
        key = load.run, load.order
        cut[key] = max(load.finish, cut.get(key, load.finish))
    timed = tuple(
        replace(
            run,
            orders=tuple(
                finished_at(line, cut[run.name, line.number])
                if (run.name, line.number) in cut
                else line
                for line in run.orders
            ),
        )
        for run in runs
    )
    return timed, tuple(loads)


def loads_on(sheeter: Sheeter, runs: Sequence[RunPlan]) -> list[Load]:
    """The sheeter's loads in the order in which it takes them."""
    return _in_turn(sheeter, [load for run in runs for load in _loads_of(run, sheeter)])


def _loads_of(run: RunPlan, sheeter: Sheeter) -> list[_Waiting]:
    lines = {line.number: line for line in run.orders}
    loads = []
    for kind, reels in _reels_of(run, sheeter).items():
        line = lines[kind.order]
        assert line.chop_mm is not None
        groups = matched(
            [reel.length_m for reel in reels], sheeter.unwinds, sheeter.max_length_difference_m
        )
        loads += [
            _Waiting(
                kind=kind,
                reels=tuple(reels[place] for place in group),
                chop_mm=line.chop_mm,
                due=line.due,
                ready=max(reels[place].finish for place in group),
            )
            for group in groups
        ]
    return loads


def _reels_of(run: RunPlan, sheeter: Sheeter) -> dict[_LoadKind, list[_WaitingReel]]:
    """The reels that a sheeter cuts, those alike together."""
    kinds: dict[_LoadKind, list[_WaitingReel]] = defaultdict(list)
    for block, row in run.sets_in_blocks:
        for position in block.positions:
            if position.sheeter != sheeter.name or position.ups is None or row.finish is None:
                continue
            if position.number in row.spoiled:
                continue
            kind = _LoadKind(
                run=run.name,
                order=position.order,
                width_mm=position.width_mm,
                ups=position.ups,
            )
            kinds[kind].append(
                _WaitingReel(
                    set_number=row.number,
                    position=position.number,
                    length_m=row.length_m,
                    finish=row.finish,
                )
            )
    return kinds


def matched(
    lengths_m: Sequence[int], stands: int, max_difference_m: int
) -> tuple[tuple[int, ...], ...]:
    """Places of the lengths that go together: as many full loads as can be, then the rest.

    Parameters
    ----------
    lengths_m
        In the order of winding.
    stands
        Reels in a full load.
    max_difference_m
        Most that the lengths of a load may differ.

    Returns
    -------
    tuple of tuple of int
        Each place once. From the shortest on, loads are filled wherever that can be, which gives
        the most full ones: a load begun at a longer reel leaves no more behind it. Of reels that
        match all alike, those wound one after another go together. What is left fills no load.

    Examples
    --------
    >>> matched([2748, 2592, 2601, 2593, 2600], 2, 5)
    ((1, 3), (2, 4), (0,))
    """
    left = sorted(range(len(lengths_m)), key=lambda place: (lengths_m[place], place))
    full: list[tuple[int, ...]] = []
    short: list[list[int]] = []
    while left:
        alike = [at for at in left if lengths_m[at] - lengths_m[left[0]] <= max_difference_m]
        count = len(alike) // stands * stands
        if count:
            together = sorted(alike[:count])
            full += [tuple(together[at : at + stands]) for at in range(0, count, stands)]
            left = left[count:]
            continue
        place = left.pop(0)
        if short and lengths_m[place] - lengths_m[short[-1][0]] <= max_difference_m:
            short[-1].append(place)
        else:
            short.append([place])
    return (*full, *(tuple(sorted(group)) for group in short))


def _in_turn(sheeter: Sheeter, waiting: Sequence[_Waiting]) -> list[Load]:
    """The sheeter's loads one after another."""
    coming = sorted(waiting, key=lambda load: load.ready, reverse=True)
    ready: list[_Waiting] = []
    timed: list[Load] = []
    while coming or ready:
        before = timed[-1] if timed else None
        now = before.finish if before is not None else coming[-1].ready
        if not ready:
            now = max(now, coming[-1].ready)
        while coming and coming[-1].ready <= now:
            ready.append(coming.pop())
        chosen = min(ready, key=lambda load: _urgency(load, before))
        ready.remove(chosen)
        length_m = min(reel.length_m for reel in chosen.reels)
        minutes = load_minutes(sheeter, length_m, chosen.chop_mm)
        timed.append(
            Load(
                number=len(timed) + 1,
                sheeter=sheeter.name,
                run=chosen.kind.run,
                order=chosen.kind.order,
                width_mm=chosen.kind.width_mm,
                ups=chosen.kind.ups,
                length_m=length_m,
                stands=sheeter.unwinds,
                reels=tuple(
                    LoadReel(set_number=reel.set_number, position=reel.position)
                    for reel in chosen.reels
                ),
                sheets=sum(_sheets(sheeter, chosen, reel) for reel in chosen.reels),
                ready=chosen.ready,
                start=now,
                finish=now + timedelta(minutes=minutes),
            )
        )
    return timed


def _urgency(
    load: _Waiting, before: Load | None
) -> tuple[bool, datetime, bool, datetime, int, int]:
    other = before is None or (before.run, before.order) != (load.kind.run, load.kind.order)
    first = load.reels[0]
    due = load.due or load.ready
    return load.due is None, due, other, load.ready, first.set_number, first.position


def _sheets(sheeter: Sheeter, load: _Waiting, reel: _WaitingReel) -> int:
    kept = 1 - Fraction(str(sheeter.waste_share))
    return math.floor(sheets_from_length(reel.length_m, load.chop_mm, load.kind.ups) * kept)
