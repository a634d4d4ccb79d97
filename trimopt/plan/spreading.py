"""Which sheeter gets which reels, where more than one takes them alike.

Two sheeters take reels alike where either makes the same sheets of them: the same trim and waste,
and chop, width, ups, core and diameter that both take. Reels of one place across a block go to one
sheeter, so that the winder crew need not ask. From the mill file's order on, a place goes to
another sheeter, or two change theirs, as long as that leaves orders fewer minutes late, or finishes
the last load sooner, or the orders in sum.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from itertools import combinations

from trimopt.mill.model import Mill, Sheeter
from trimopt.paper import reel_diameter_mm
from trimopt.plan.model import Block, Load, Position, RunPlan

__all__ = ["spread"]

_TRIES = 200  # of other sheeters for a place or two

_Key = tuple[int, int, int]  # run, block, place across it
_Cost = tuple[float, datetime, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Reels of one place across a block, and who takes them alike."""

    key: _Key
    sheeters: tuple[str, ...]  # its own first


def spread(
    runs: tuple[RunPlan, ...],
    mill: Mill,
    loads_of: Callable[[Sequence[RunPlan], Sheeter], Sequence[Load]],
) -> tuple[RunPlan, ...]:
    """The runs with their sheeter reels so spread that the sheets are cut soonest.

    Parameters
    ----------
    runs
        With the winder's times.
    mill
        Its sheeters.
    loads_of
        The loads of a sheeter, given the runs.
    """
    places = [place for place in _places(runs, mill) if len(place.sheeters) > 1]
    if not places:
        return runs
    sheeters = {sheeter.name: sheeter for sheeter in mill.sheeters}
    begin = min(run.start for run in runs if run.start is not None)
    due = {(run.name, line.number): line.due for run in runs for line in run.orders}
    known: dict[tuple[str, frozenset[_Key]], Sequence[Load]] = {}

    def cost(given: dict[_Key, str]) -> _Cost:
        cut: dict[tuple[str, str], datetime] = {}
        for name, sheeter in sheeters.items():
            key = name, frozenset(place for place, its in given.items() if its == name)
            if key not in known:
                known[key] = loads_of(_given(runs, given), sheeter)
            for load in known[key]:
                order = load.run, load.order
                cut[order] = max(load.finish, cut.get(order, load.finish))
        late = [cut[order] - by for order, by in due.items() if order in cut and by is not None]
        return (
            sum(max(0.0, each.total_seconds()) for each in late),
            max(cut.values()),
            sum((done - begin).total_seconds() for done in cut.values()),
        )

    best = {place.key: place.sheeters[0] for place in places}
    least = cost(best)
    trials = _changed(places, best)
    for _ in range(_TRIES):
        trial = next(trials, None)
        if trial is None:
            break
        found = cost(trial)
        if found < least:
            best, least = trial, found
            trials = _changed(places, best)
    return _given(runs, best)


def _changed(places: Sequence[_Place], given: dict[_Key, str]) -> Iterator[dict[_Key, str]]:
    """One place given to another sheeter, or two that change sheeters with each other."""
    for place in places:
        for name in place.sheeters:
            if name != given[place.key]:
                yield {**given, place.key: name}
    for one, other in combinations(places, 2):
        names = given[one.key], given[other.key]
        if names[0] != names[1] and names[0] in other.sheeters and names[1] in one.sheeters:
            yield {**given, one.key: names[1], other.key: names[0]}


def _given(runs: tuple[RunPlan, ...], given: dict[_Key, str]) -> tuple[RunPlan, ...]:
    theirs: dict[tuple[int, int], dict[int, str]] = defaultdict(dict)
    for (run, block, place), name in given.items():
        theirs[run, block][place] = name

    def moved(position: Position, names: dict[int, str]) -> Position:
        name = names.get(position.number, position.sheeter)
        return position if name == position.sheeter else replace(position, sheeter=name)

    return tuple(
        replace(
            run,
            blocks=tuple(
                replace(
                    block,
                    positions=tuple(moved(p, theirs[at, block.number]) for p in block.positions),
                )
                if (at, block.number) in theirs
                else block
                for block in run.blocks
            ),
        )
        for at, run in enumerate(runs)
    )


def _places(runs: Sequence[RunPlan], mill: Mill) -> list[_Place]:
    found = []
    for at, run in enumerate(runs):
        lines = {line.number: line for line in run.orders}
        for block in run.blocks:
            if run.start is None or _pinned(block, run):
                continue
            for position in block.positions:
                own = next((s for s in mill.sheeters if s.name == position.sheeter), None)
                if own is None:
                    continue
                alike = [
                    other.name
                    for other in mill.sheeters
                    if other is not own
                    and _alike(own, other)
                    and _takes(other, position, lines[position.order].chop_mm)
                    and _greatest_mm(block, other, run, mill) <= other.reel_diameter_greatest_mm
                ]
                key = at, block.number, position.number
                found.append(_Place(key=key, sheeters=(own.name, *alike)))
    return found


def _pinned(block: Block, run: RunPlan) -> bool:
    """Whether an instruction says how the block is cut, its sheeters with it."""
    reels = sorted((p.order, p.ups or 0) for p in block.positions if p.kind != "broke")
    return any(
        answer.instruction.what == "pin"
        and reels
        == sorted((p.order, p.ups or 0) for p in answer.instruction.pattern for _ in range(p.count))
        for answer in run.instructions
    )


def _alike(one: Sheeter, other: Sheeter) -> bool:
    """Whether both make the same sheets of a reel."""
    return (one.trim_a_side_mm, one.waste_share, one.core_inside_mm) == (
        other.trim_a_side_mm,
        other.waste_share,
        other.core_inside_mm,
    )


def _takes(sheeter: Sheeter, position: Position, chop_mm: Fraction | None) -> bool:
    return (
        position.ups is not None
        and chop_mm is not None
        and position.ups <= sheeter.ups_most
        and position.width_mm <= sheeter.web_greatest_mm
        and sheeter.chop_least_mm <= chop_mm <= sheeter.chop_greatest_mm
    )


def _greatest_mm(block: Block, sheeter: Sheeter, run: RunPlan, mill: Mill) -> float:
    """Diameter of the block's largest reel on the sheeter's core."""
    core = mill.winder.core(sheeter.core_inside_mm)
    assert core is not None  # a reel was made for a sheeter of that core
    longest_m = max(row.length_m for row in block.sets)
    return reel_diameter_mm(longest_m, core.outside_mm, run.wound_caliper_um)
