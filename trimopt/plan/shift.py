"""The shift's hours: which sets are run in them, and which orders are carried over.

All runs share the hours, one after another in their running order (`trimopt.plan.times`). Where
they do not last, priority and then due date decide, over all runs together. Two ways are tried:

- Sets of the whole plan are kept: each pattern, as urgent as its most urgent order, keeps the most
  sets that leave every more urgent set its time. A less urgent one may still fill what is left, on
  a run that is begun anyway: no grade is changed for it.
- Patterns are chosen for the most urgent orders alone, the others only filling
  (`trimopt.plan.partly`), for as many orders as the hours seem enough for.

What makes the most urgent orders whole is taken. Only whole sets are run, and what is run is laid
out anew, so that knives, jumbos and last metres are right for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from trimopt.budget import Budget
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Winder
from trimopt.plan.model import RunPlan
from trimopt.plan.partly import solve_partly
from trimopt.plan.times import by_due, in_turn
from trimopt.plan.wind import Solved, WoundUp, wind
from trimopt.winding.running import Urgency, urgency

__all__ = ["within_shift"]

_TRIES = 6  # sets tried in the minutes that are left, at effort 1
_PREFIXES = 4  # of the orders by urgency, planned by themselves
_ROUNDS = 8  # in which minutes are estimated; after them sets go one by one

Counts = tuple[tuple[int, ...], ...]  # for each run, sets kept of each of its cuts


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    """A cut of a run: how long it takes, and how urgent it is (the smallest sorts first)."""

    run: int
    cut: int
    sets: int
    urgency: tuple[Urgency, int, int]
    ahead_min: float  # set-up and knife moves before its first set
    set_min: float


def within_shift(
    runs: Sequence[tuple[Solved, WoundUp]],
    winder: Winder,
    begin: datetime,
    until: datetime,
    *,
    effort: int = 1,
    budget: Budget,
) -> tuple[RunPlan, ...]:
    """Runs in turn, with as many sets as the shift has hours for.

    Parameters
    ----------
    runs
        Every run with all its sets wound.
    winder
        As the mill file has it.
    begin, until
        When the shift begins and ends.
    effort
        How often minutes that are left are tried for another set.
    budget
        Where it is over, no more sets are tried.

    Raises
    ------
    InfeasibleError
        The shift ends before a single set is finished.
    """
    runs = [(replace(solved, budget=budget), wound) for solved, wound in runs]
    whole = _Shift(runs, winder, begin, until)
    if whole.overrun_min(whole.all_sets) <= 0:
        return whole.plans(whole.all_sets)

    found = [whole.plans(whole.filled(whole.fitted(), effort * _TRIES, budget))]
    orders = _by_urgency(runs)
    fits, too_many = 0, len(orders)
    minutes = whole.minutes + whole.overrun_min(whole.all_sets)
    count = too_many
    for _ in range(_PREFIXES):
        # Minutes go with the paper: so many orders should take what the shift has.
        count = _so_many(orders, whole.minutes / minutes * sum(kg for *_, kg in orders[:count]))
        count = min(max(count, fits + 1), too_many - 1)
        if count <= fits or budget.over():
            break
        share = budget.share(1 / _PREFIXES)
        urgent = _Shift(_for_orders(runs, orders[:count], share), winder, begin, until)
        over = urgent.overrun_min(urgent.all_sets)
        minutes = whole.minutes + over
        if over <= 0:
            fits = count
            found.append(urgent.plans(urgent.all_sets))
        else:
            too_many = count
            found.append(urgent.plans(urgent.filled(urgent.fitted(), effort * _TRIES, budget)))
    return max(found, key=lambda plans: _served(plans, orders))


class _Shift:
    def __init__(
        self,
        runs: Sequence[tuple[Solved, WoundUp]],
        winder: Winder,
        begin: datetime,
        until: datetime,
    ) -> None:
        self.runs = runs
        self.winder = winder
        self.begin = begin
        self.until = until
        self.minutes = (until - begin).total_seconds() / 60
        self.all_sets: Counts = tuple(tuple(cut.sets for cut in whole.cuts) for _, whole in runs)
        self.wound: dict[tuple[int, tuple[int, ...]], WoundUp] = {
            (place, tuple(cut.sets for cut in whole.cuts)): whole
            for place, (_, whole) in enumerate(runs)
        }
        in_order = [run.name for run in sorted((w.plan for _, w in runs), key=by_due)]
        self.items = sorted(
            (
                item
                for place, (solved, whole) in enumerate(runs)
                for item in _items(place, in_order.index(whole.plan.name), solved, whole)
            ),
            key=lambda item: item.urgency,
        )

    def plans(self, counts: Counts) -> tuple[RunPlan, ...]:
        """The runs in turn with so many sets."""
        wound = [self._wound(place, kept) for place, kept in enumerate(counts)]
        return in_turn([run.plan for run in wound], self.begin, self.winder)

    def overrun_min(self, counts: Counts) -> float:
        """Minutes from the shift's end to the last set's finish; below 0 where some are left."""
        finished = [run.finish for run in self.plans(counts) if run.finish is not None]
        return (max(finished, default=self.begin) - self.until).total_seconds() / 60

    def _wound(self, place: int, kept: tuple[int, ...]) -> WoundUp:
        if (place, kept) not in self.wound:
            solved, whole = self.runs[place]
            cuts = tuple(
                replace(cut, sets=sets) for cut, sets in zip(whole.cuts, kept, strict=True) if sets
            )
            short = [line.number for line in whole.plan.orders if line.state == "short"]
            self.wound[place, kept] = wind(solved, cuts, short=short)
        return self.wound[place, kept]

    def fitted(self) -> Counts:
        """Sets by urgency for fewer and fewer minutes, until they really fit.

        Raises
        ------
        InfeasibleError
            Not one set does.
        """
        minutes = self.minutes
        counts = self._kept(minutes)
        for round_number in range(10_000):
            over = self.overrun_min(counts)
            if over <= 0 or not any(map(any, counts)):
                break
            minutes -= max(over, 1.0)
            fewer = self._kept(minutes)
            if round_number >= _ROUNDS or fewer == counts:
                last = next(item for item in reversed(self.items) if counts[item.run][item.cut])
                fewer = _changed(counts, last, -1)
            counts = fewer
        return counts if any(map(any, counts)) else self._single()

    def _kept(self, minutes: float) -> Counts:
        """Sets by urgency that are estimated to take no more than so many minutes."""
        counts = [[0] * len(whole.cuts) for _, whole in self.runs]
        filling = False
        for item in self.items:
            if filling and not any(counts[item.run]):
                continue
            sets = min(item.sets, int((minutes - item.ahead_min) // item.set_min))
            if sets > 0:
                counts[item.run][item.cut] = sets
                minutes -= item.ahead_min + sets * item.set_min
            filling = filling or sets < item.sets
        return tuple(map(tuple, counts))

    def _single(self) -> Counts:
        """One set, the most urgent that the hours are enough for."""
        none: Counts = tuple((0,) * len(whole.cuts) for _, whole in self.runs)
        ends: list[float] = []
        for item in self.items:
            counts = _changed(none, item, 1)
            over = self.overrun_min(counts)
            if over <= 0:
                return counts
            ends.append(over)
        message = (
            f"the shift ends at {self.until:%Y-%m-%d %H:%M}, before a single set is finished; "
            f"{min(ends, default=0):.0f} min more are enough for one"
        )
        raise InfeasibleError(message)

    def filled(self, counts: Counts, tries: int, budget: Budget) -> Counts:
        """Sets added, the most urgent first, while there seem to be minutes for them."""
        tried: set[_Item] = set()
        for _ in range(tries):
            left = -self.overrun_min(counts)
            item = next(
                (each for each in self.items if each not in tried and _room(each, counts, left)),
                None,
            )
            if item is None or budget.over():
                break
            more = _changed(counts, item, 1)
            if self.overrun_min(more) <= 0:
                counts = more
            else:
                tried.add(item)
        return counts


def _by_urgency(
    runs: Sequence[tuple[Solved, WoundUp]],
) -> list[tuple[Urgency, int, str, float]]:
    """(urgency, run, order, kg ordered) of every order, the most urgent first."""
    kg = {line.number: line.ordered_kg for _, whole in runs for line in whole.plan.orders}
    return sorted(
        (urgency(order.priority, order.due), place, order.number, kg[order.number])
        for place, (solved, _) in enumerate(runs)
        for order in solved.making.run.orders
    )


def _so_many(orders: Sequence[tuple[object, int, str, float]], mass_kg: float) -> int:
    """How many orders, the most urgent first, come to so much paper."""
    for count, (*_, kg) in enumerate(orders):
        mass_kg -= kg
        if mass_kg < 0:
            return count
    return len(orders)


def _for_orders(
    runs: Sequence[tuple[Solved, WoundUp]],
    orders: Sequence[tuple[object, int, str, float]],
    budget: Budget,
) -> list[tuple[Solved, WoundUp]]:
    """The runs with patterns for these orders, all others only filling."""
    found = []
    for place, (given, whole) in enumerate(runs):
        solved = replace(given, budget=budget.share(1 / (len(runs) - place)))
        required = {number for _, its_run, number, _ in orders if its_run == place}
        partly = solve_partly(solved, required) if required else None
        if required and partly is None:
            found.append((solved, whole))
            continue
        short = [line.number for line in whole.plan.orders if line.state == "short"]
        cuts = partly.point.cuts if partly is not None else ()
        found.append((partly or solved, wind(partly or solved, cuts, short=short)))
    return found


def _served(
    plans: Sequence[RunPlan], orders: Sequence[tuple[Urgency, int, str, float]]
) -> tuple[tuple[int, ...], float]:
    """How many orders are whole, the most urgent first, then kg delivered: the more the better."""
    whole = {line.number for run in plans for line in run.orders if not line.lacking}
    counts: dict[Urgency, int] = {}
    for rank, _, number, _ in orders:
        counts[rank] = counts.get(rank, 0) + (number in whole)
    return tuple(counts.values()), sum(run.balance.delivered_kg for run in plans)


def _room(item: _Item, counts: Counts, left_min: float) -> bool:
    """Whether another set of it should fit into the minutes that are left."""
    has = counts[item.run][item.cut]
    return (
        any(counts[item.run])
        and has < item.sets
        and item.set_min + (0 if has else item.ahead_min) <= left_min
    )


def _changed(counts: Counts, item: _Item, more: int) -> Counts:
    rows = [list(row) for row in counts]
    rows[item.run][item.cut] += more
    return tuple(map(tuple, rows))


def _items(place: int, turn: int, solved: Solved, wound: WoundUp) -> list[_Item]:
    winder = solved.mill.winder
    orders = solved.making.run.orders
    urgencies = {order.number: urgency(order.priority, order.due) for order in orders}
    items = []
    for block, cut in zip(wound.plan.blocks, wound.cut_of, strict=True):
        minutes = sum(
            (row.finish - row.start).total_seconds() / 60
            for row in block.sets
            if row.start is not None and row.finish is not None
        )
        ahead = winder.set_up_min * (block.set_up or block.number == 1)
        ahead += winder.knife_move_min * block.knife_moves
        most = min(urgencies[p.order] for p in block.positions if p.kind != "broke")
        items.append(
            _Item(
                run=place,
                cut=cut,
                sets=len(block.sets),
                urgency=(most, turn, block.number),
                ahead_min=ahead,
                set_min=(minutes - ahead) / len(block.sets),
            )
        )
    return items
