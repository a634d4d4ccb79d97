"""Which sheeter gets which reels, where more than one takes them alike.

Two sheeters take reels alike where either makes the same sheets of them: the same trim and waste,
and chop, width, ups, core and diameter that both take. Reels of one place across a block go to one
sheeter, so that the winder crew need not ask. From the mill file's order, or from places
given one by one to the sheeter that is done with them first, a place goes to another sheeter, or
two change theirs, as long as that leaves orders fewer minutes late, or finishes the last load
sooner, or the orders in sum.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import combinations, cycle, permutations

from trimopt.mill.model import Mill, Sheeter
from trimopt.plan.model import Block, Position, RunPlan
from trimopt.plan.planning.sheeters.sheeter_loads import load_minutes, loads_on
from trimopt.plan.sheeter_load import Load

_TRIES = 100  # of other sheeters for a place or two

_Key = tuple[int, int, int]  # run, block, place across it
_Change = tuple[tuple[_Key, str], ...]
_Cost = tuple[float, datetime, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class _PlaceReels:
    """Reels of one place across a block, and who takes them alike."""

    key: _Key
    sheeters: tuple[str, ...]  # its own first
    sets: int
    length_m: int
    chop_mm: Fraction
    due: datetime | None
    wound: datetime  # the last of its reels

    def minutes(self, sheeter: Sheeter) -> float:
        """About what its reels take, were loads full."""
        return self.sets / sheeter.unwinds * load_minutes(sheeter, self.length_m, self.chop_mm)


def spread(runs: tuple[RunPlan, ...], mill: Mill) -> tuple[RunPlan, ...]:
    """The runs with their sheeter reels so spread that the sheets are cut soonest.

    Parameters
    ----------
    runs
        With the winder's times.
    """
    places = list(_places(runs, mill))
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
                known[key] = loads_on(sheeter, _given(runs, given))
            for load in known[key]:
                order = load.run, load.order
                cut[order] = max(load.finish, cut.get(order, load.finish))
        late = [cut[order] - by for order, by in due.items() if order in cut and by is not None]
        return (
            sum(max(0.0, each.total_seconds()) for each in late),
            max(cut.values()),
            sum((done - begin).total_seconds() for done in cut.values()),
        )

    first = {place.key: place.sheeters[0] for place in places}
    best = min(first, _balanced(places, sheeters), key=cost)
    min_cost = cost(best)
    tries = unchanged = 0
    changes = list(_changes(places))
    for change in cycle(changes):
        if unchanged == len(changes) or tries == _TRIES:
            break
        unchanged += 1
        trial = _changed(best, change)
        if trial is not None:
            tries += 1
            found = cost(trial)
            if found < min_cost:
                best, min_cost, unchanged = trial, found, 0
    return _given(runs, best)


def _balanced(places: Sequence[_PlaceReels], sheeters: Mapping[str, Sheeter]) -> dict[_Key, str]:
    """Each place given to the sheeter that is done with it first, the one due first before all."""
    begin = min(place.wound for place in places)
    busy: dict[str, timedelta] = defaultdict(timedelta)
    given = {}
    last = datetime.max  # noqa: DTZ901  a mill's dates carry no zone
    for place in sorted(places, key=lambda each: (each.due or last, each.wound)):
        done = {
            name: max(
                busy[name] + timedelta(minutes=place.minutes(sheeters[name])), place.wound - begin
            )
            for name in place.sheeters
        }
        given[place.key] = min(done, key=lambda name: done[name])
        busy[given[place.key]] = done[given[place.key]]
    return given


def _changes(places: Sequence[_PlaceReels]) -> Iterator[_Change]:
    """One place given to another sheeter, or two that change sheeters with each other."""
    for place in places:
        for name in place.sheeters:
            yield ((place.key, name),)
    for one, other in combinations(places, 2):
        for names in permutations([name for name in one.sheeters if name in other.sheeters], 2):
            yield (one.key, names[0]), (other.key, names[1])


def _changed(given: dict[_Key, str], change: _Change) -> dict[_Key, str] | None:
    """None where it is no change, or moves two places without their changing with each other."""
    before = [given[key] for key, _ in change]
    after = [name for _, name in change]
    if before == after or (sorted(before) != sorted(after) and len(change) == 2):
        return None
    return {**given, **dict(change)}


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


def _places(runs: Sequence[RunPlan], mill: Mill) -> Iterator[_PlaceReels]:
    """The places of sheeter reels that more than one sheeter takes alike."""
    for at, run in enumerate(runs):
        lines = {line.number: line for line in run.orders}
        for block in run.blocks:
            wound = block.sets[-1].finish
            if wound is None or _pinned(block, run):
                continue
            for position in block.positions:
                own = mill.sheeter(position.sheeter)
                chop_mm = lines[position.order].chop_mm if own is not None else None
                if own is None or chop_mm is None:
                    continue
                alike = [
                    other.name
                    for other in mill.sheeters
                    if other is not own
                    and _alike(own, other)
                    and _takes(other, position, chop_mm)
                    and _max_mm(block, other, run, mill) <= other.max_reel_diameter_mm
                ]
                if alike:
                    yield _PlaceReels(
                        key=(at, block.number, position.number),
                        sheeters=(own.name, *alike),
                        sets=len(block.sets),
                        length_m=block.length_m,
                        chop_mm=chop_mm,
                        due=lines[position.order].due,
                        wound=wound,
                    )


def _pinned(block: Block, run: RunPlan) -> bool:
    """Whether an instruction says how the block is cut, its sheeters with it."""
    reels = sorted((reel.order, reel.ups or 0) for reel in block.reels)
    return any(
        answer.instruction.what == "pin"
        and reels
        == sorted((p.order, p.ups or 0) for p in answer.instruction.pattern for _ in range(p.count))
        for answer in run.instructions
    )


def _alike(one: Sheeter, other: Sheeter) -> bool:
    """Whether both make the same sheets of a reel."""
    return (one.trim_per_side_mm, one.waste_share, one.core_inside_mm) == (
        other.trim_per_side_mm,
        other.waste_share,
        other.core_inside_mm,
    )


def _takes(sheeter: Sheeter, position: Position, chop_mm: Fraction) -> bool:
    return (
        position.ups is not None
        and position.ups <= sheeter.max_ups
        and position.width_mm <= sheeter.max_web_mm
        and sheeter.min_chop_mm <= chop_mm <= sheeter.max_chop_mm
    )


def _max_mm(block: Block, sheeter: Sheeter, run: RunPlan, mill: Mill) -> float:
    """Diameter of the block's largest reel on the sheeter's core."""
    longest_m = max(row.length_m for row in block.sets)
    return mill.winder.reel_mm(longest_m, [sheeter.core_inside_mm], run.wound_caliper_um)
