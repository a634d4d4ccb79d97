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

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction

from trimopt.mill.model import Mill, Sheeter
from trimopt.plan.model import RunPlan
from trimopt.plan.planning.schedule.runs_in_turn import finished_at
from trimopt.plan.sheeter_load import Load, LoadReel

_Alike = tuple[str, Fraction, int]  # order, width and ups


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
class _ReelToCut:
    named: LoadReel
    length_m: int
    ready: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class _Waiting:
    """A load that has neither number nor time yet: it would begin when it is ready."""

    load: Load
    minutes: float
    due: datetime | None


def sheeted(runs: Sequence[RunPlan], mill: Mill) -> tuple[tuple[RunPlan, ...], tuple[Load, ...]]:
    """The loads of every sheeter, and the runs with their sheet orders finished when they are cut.

    Parameters
    ----------
    runs
        With the winder's times.

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
    begin = min((run.start for run in runs if run.start is not None), default=None)
    return _in_turn(each for run in runs for each in _loads_of(run, sheeter, begin))


def _loads_of(run: RunPlan, sheeter: Sheeter, begin: datetime | None) -> Iterator[_Waiting]:
    lines = {line.number: line for line in run.orders}
    for (order, width_mm, ups), reels in _reels_of(run, sheeter, begin).items():
        line = lines[order]
        assert line.chop_mm is not None
        lengths_m = [reel.length_m for reel in reels]
        for group in matched(lengths_m, sheeter.unwinds, sheeter.max_length_difference_m):
            together = [reels[place] for place in group]
            length_m = min(reel.length_m for reel in together)
            ready = max(reel.ready for reel in together)
            load = Load(
                number=0,
                sheeter=sheeter.name,
                run=run.name,
                order=order,
                width_mm=width_mm,
                ups=ups,
                length_m=length_m,
                stands=sheeter.unwinds,
                reels=tuple(reel.named for reel in together),
                sheets=sum(sheeter.sheets(each.length_m, line.chop_mm, ups) for each in together),
                ready=ready,
                start=ready,
                finish=ready,
            )
            minutes = load_minutes(sheeter, length_m, line.chop_mm)
            yield _Waiting(load=load, minutes=minutes, due=line.due)


def _reels_of(
    run: RunPlan, sheeter: Sheeter, begin: datetime | None
) -> dict[_Alike, list[_ReelToCut]]:
    """The reels that a sheeter cuts, those alike together; from stock they come as it begins."""
    alike: dict[_Alike, list[_ReelToCut]] = defaultdict(list)
    from_stock = [(line.number, reel) for line in run.orders for reel in line.stock]
    for order, stock in from_stock:
        use = stock.at_sheeter
        if begin is not None and use is not None and use.sheeter == sheeter.name:
            named = LoadReel(set_number=0, position=0, stock=stock.name)
            alike[order, stock.width_mm, use.ups].append(
                _ReelToCut(named=named, length_m=stock.length_m, ready=begin)
            )
    for block, row in run.sets_in_blocks:
        for reel in block.positions:
            if reel.sheeter != sheeter.name or reel.ups is None or row.finish is None:
                continue
            if reel.number not in row.spoiled:
                named = LoadReel(set_number=row.number, position=reel.number)
                alike[reel.order, reel.width_mm, reel.ups].append(
                    _ReelToCut(named=named, length_m=row.length_m, ready=row.finish)
                )
    return alike


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


def _in_turn(waiting: Iterable[_Waiting]) -> list[Load]:
    """The sheeter's loads one after another."""
    coming = sorted(waiting, key=lambda each: each.load.ready, reverse=True)
    ready: list[_Waiting] = []
    timed: list[Load] = []
    while coming or ready:
        before = timed[-1] if timed else None
        now = before.finish if before is not None else coming[-1].load.ready
        if not ready:
            now = max(now, coming[-1].load.ready)
        while coming and coming[-1].load.ready <= now:
            ready.append(coming.pop())
        chosen = min(ready, key=lambda each: _urgency(each, before))
        ready.remove(chosen)
        finish = now + timedelta(minutes=chosen.minutes)
        timed.append(replace(chosen.load, number=len(timed) + 1, start=now, finish=finish))
    return timed


def _urgency(
    each: _Waiting, before: Load | None
) -> tuple[bool, datetime, bool, datetime, tuple[int, int, str]]:
    load, first = each.load, each.load.reels[0]
    other = before is None or (before.run, before.order) != (load.run, load.order)
    due = each.due or load.ready
    return each.due is None, due, other, load.ready, (first.set_number, first.position, first.stock)
