"""The shift's hours: which sets are run in them, and which orders are carried over.

All runs share the hours, one after another in their running order (`trimopt.plan.times`). Where
they do not last, priority and then due date decide, over all runs together. Three ways are tried:

- The whole plan is cut off at the shift's end, all that is run before it as it would have been.
- Sets of the whole plan are kept: each pattern, as urgent as its most urgent order, keeps the most
  sets that leave every more urgent set its time.
- Patterns are chosen for the most urgent orders alone, the last of them perhaps in part, and the
  others only fill (`trimopt.plan.partly`), for as much paper as the hours are enough for.

The minutes that are then left of the shift are filled with sets of the whole plan. What makes the
most urgent orders whole is taken, and of plans that are alike in this the one that delivers most:
so where no order is more urgent than another, never less than by cutting off the whole plan. Only
whole sets are run.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby

from trimopt.budget import Budget
from trimopt.cutting import Cut, Pattern
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Winder
from trimopt.paper import winding_min
from trimopt.plan.along import rooms_of
from trimopt.plan.cut_off import cut_off
from trimopt.plan.lots import merged
from trimopt.plan.model import RunPlan
from trimopt.plan.partly import solve_partly
from trimopt.plan.states import OrderState
from trimopt.plan.times import by_due, in_turn
from trimopt.plan.wind import Solved, WoundUp, wind
from trimopt.winding.running import Urgency, urgency

__all__ = ["within_shift"]

_TRIES = 8  # sets tried in the minutes that are left, at effort 1
_COUNTS = 4  # of the orders by urgency, planned by themselves
_PARTS = 2  # of the order after them
_PART_KG = 500  # less of it is for filling
_URGENT = 0.6  # of the time, for these; the rest is for filling minutes
_ROUNDS = 8  # in which minutes are estimated; after them sets go one by one
_FILLED = 2  # plans, the best, whose minutes are filled
_WHOLE = float("inf")

_Run = tuple[Solved, WoundUp]
_Runs = tuple[_Run, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    """A block of a run: how long it takes, and how urgent it is (the smallest sorts first)."""

    run: int
    pattern: Pattern
    sets: int
    urgency: tuple[Urgency, int, int]
    ahead_min: float  # set-up and knife moves before its first set
    set_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Order:
    """An order as the shift sees it."""

    urgency: Urgency
    run: int
    number: str
    ordered_kg: float


def within_shift(
    runs: Sequence[_Run],
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
    whole = tuple((replace(solved, budget=budget), wound) for solved, wound in runs)
    shift = _Shift(whole, winder, begin, until)
    if shift.overrun_min(shift.whole) <= 0:
        return shift.plans(shift.whole)

    tried = (shift.cut_off(), shift.fitted(shift.whole), *shift.for_urgent(budget.share(_URGENT)))
    found = [runs for runs in tried if runs is not None] or [shift.single()]
    found.sort(key=shift.served, reverse=True)
    best = [shift.filled(runs, effort * _TRIES, budget) for runs in found[:_FILLED]]
    return shift.plans(max((*best, *found), key=shift.served))


class _Shift:
    def __init__(self, whole: _Runs, winder: Winder, begin: datetime, until: datetime) -> None:
        self.whole = whole
        self.winder = winder
        self.begin = begin
        self.until = until
        self.minutes = (until - begin).total_seconds() / 60
        turn = [run.name for run in sorted((each.plan for _, each in whole), key=by_due)]
        self.turn = [turn.index(each.plan.name) for _, each in whole]
        self.short = [
            [line.number for line in each.plan.orders if line.state is OrderState.SHORT]
            for _, each in whole
        ]
        kg = {line.number: line.ordered_kg for _, each in whole for line in each.plan.orders}
        self.orders = sorted(
            (
                _Order(
                    urgency=urgency(order.priority, order.due),
                    run=place,
                    number=order.number,
                    ordered_kg=kg[order.number],
                )
                for place, (solved, _) in enumerate(whole)
                for order in solved.making.run.orders
            ),
            key=lambda order: (order.urgency, order.run, order.number),
        )
        self.urgency = {order.number: order.urgency for order in self.orders}

    def plans(self, runs: _Runs) -> tuple[RunPlan, ...]:
        """The runs in turn."""
        return in_turn([each.plan for _, each in runs], self.begin, self.winder)

    def overrun_min(self, runs: _Runs) -> float:
        """Minutes from the shift's end to the last set's finish; below 0 where some are left."""
        finished = [run.finish for run in self.plans(runs) if run.finish is not None]
        return (max(finished, default=self.begin) - self.until).total_seconds() / 60

    def served(self, runs: _Runs) -> tuple[float, ...]:
        """The more the better: tonnes of the most urgent orders, then of the next, and all kg.

        Orders of one urgency that are all whole count the same, whatever is made inside their
        tolerances; else whole tonnes count.
        """
        lines = {line.number: line for _, each in runs for line in each.plan.orders}
        tonnes = []
        for _, alike in groupby(self.orders, key=lambda order: order.urgency):
            theirs = [lines[order.number] for order in alike]
            lacking = any(line.lacking for line in theirs)
            tonnes.append(sum(line.delivered_kg for line in theirs) // 1000 if lacking else _WHOLE)
        return *tonnes[:-1], sum(line.delivered_kg for line in lines.values())

    def kept(self, place: int, solved: Solved, cuts: Sequence[Cut]) -> _Run:
        """A run with these cuts; as it was where they are all of the whole plan's."""
        whole = self.whole[place]
        if sorted(merged(cuts)) == sorted(merged(whole[1].cuts)):
            return whole
        return solved, wind(solved, merged(cuts), short=self.short[place])

    def cut_off(self) -> _Runs | None:
        """The whole plan with the sets that are finished when the shift ends."""
        finished = {
            run.name: sum(
                row.finish is not None and row.finish <= self.until
                for block in run.blocks
                for row in block.sets
            )
            for run in self.plans(self.whole)
        }
        if not any(finished.values()):
            return None
        runs: list[_Run] = []
        for place, (solved, each) in enumerate(self.whole):
            sets = finished[each.plan.name]
            if sets == sum(len(block.sets) for block in each.plan.blocks):
                runs.append((solved, each))
                continue
            cuts, laid = cut_off(each.cuts, each.wound, sets) if sets else ((), None)
            runs.append((solved, wind(solved, cuts, laid=laid, short=self.short[place])))
        return tuple(runs)

    def fitted(self, runs: _Runs) -> _Runs | None:
        """Sets by urgency for fewer and fewer minutes, until they really fit; None: not one does.

        A less urgent set may fill what is left, on a run that is begun anyway.
        """
        items = sorted(self._items(runs), key=lambda item: item.urgency)
        minutes = self.minutes
        counts = _by_urgency(items, minutes)
        for round_number in range(10_000):
            if not counts:
                return None
            found = tuple(
                self.kept(place, solved, _cuts_of(counts, place))
                for place, (solved, _) in enumerate(runs)
            )
            over = self.overrun_min(found)
            if over <= 0:
                return found
            minutes -= max(over, 1.0)
            fewer = _by_urgency(items, minutes)
            if round_number >= _ROUNDS or fewer == counts:
                last = next(x for x in reversed(items) if counts[x.run, x.pattern])
                fewer = counts - Counter({(last.run, last.pattern): 1})
            counts = fewer
        return None

    def _items(self, runs: _Runs) -> Iterator[_Item]:
        for place, (_, each) in enumerate(runs):
            for block, cut in zip(each.plan.blocks, each.cut_of, strict=True):
                minutes = sum(
                    (row.finish - row.start).total_seconds() / 60
                    for row in block.sets
                    if row.start is not None and row.finish is not None
                )
                ahead = self.winder.set_up_min * (block.set_up or block.number == 1)
                ahead += self.winder.knife_move_min * block.knife_moves
                most = min(self.urgency[p.order] for p in block.positions if p.kind != "broke")
                yield _Item(
                    run=place,
                    pattern=each.cuts[cut].pattern,
                    sets=len(block.sets),
                    urgency=(most, self.turn[place], block.number),
                    ahead_min=ahead,
                    set_min=(minutes - ahead) / len(block.sets),
                )

    def single(self) -> _Runs:
        """One set, the most urgent that the hours are enough for.

        Raises
        ------
        InfeasibleError
            Not one is: what would be enough is said.
        """
        ends = []
        for item in sorted(self._items(self.whole), key=lambda item: item.urgency):
            runs = tuple(
                self.kept(place, solved, (Cut(item.pattern, 1),) if place == item.run else ())
                for place, (solved, _) in enumerate(self.whole)
            )
            ends.append(self.overrun_min(runs))
            if ends[-1] <= 0:
                return runs
        message = (
            f"the shift ends at {self.until:%Y-%m-%d %H:%M}, before a single set is finished; "
            f"{min(ends, default=0):.0f} min more are enough for one"
        )
        raise InfeasibleError(message)

    def for_urgent(self, budget: Budget) -> Iterator[_Runs | None]:
        """Patterns for the most urgent orders, as many whole as the hours seem enough for.

        Of the order after them a part is planned too, as far as minutes are left.
        """
        fits, too_many, count = 0, len(self.orders), len(self.orders)
        whole_min = self.minutes + self.overrun_min(self.whole)
        fits_min, used_min = 0.0, whole_min
        for tried in range(_COUNTS):
            # Minutes go with the paper: so many orders should take what the shift has.
            count = self._so_many(self.minutes / used_min * self._kg(count))
            count = min(max(count, fits + 1), too_many - 1)
            if count <= fits or budget.over():
                break
            runs = self._for_orders(count, 0.0, budget.share(1 / (_COUNTS + _PARTS - tried)))
            used_min = max(1.0, self.minutes + self.overrun_min(runs))
            if used_min <= self.minutes:
                fits, fits_min = count, used_min
                yield runs
            else:
                too_many = count
                yield self.fitted(runs)
        if fits + 1 >= len(self.orders):
            return
        next_kg = max(1.0, self.orders[fits].ordered_kg)
        left_kg = (self.minutes - fits_min) * self._kg(len(self.orders)) / whole_min
        share = min(0.95, left_kg / next_kg)
        for tried in range(_PARTS):
            if share * next_kg < _PART_KG or budget.over():
                return
            runs = self._for_orders(fits, share, budget.share(1 / (_PARTS - tried)))
            over = self.overrun_min(runs)
            yield runs if over <= 0 else self.fitted(runs)
            if over <= 0:
                return
            share *= max(0.2, 1 - over / max(1.0, self.minutes - fits_min + over))

    def _kg(self, count: int) -> float:
        return sum(order.ordered_kg for order in self.orders[:count])

    def _so_many(self, mass_kg: float) -> int:
        """How many orders, the most urgent first, come to so much paper."""
        return sum(self._kg(count) <= mass_kg for count in range(1, len(self.orders) + 1))

    def _for_orders(self, count: int, share: float, budget: Budget) -> _Runs:
        """Runs with patterns for so many urgent orders and a share of the next; all others fill."""
        required: list[dict[str, float]] = [{} for _ in self.whole]
        for place, order in enumerate(self.orders[: count + 1]):
            if place < count or share > 0:
                required[order.run][order.number] = 1.0 if place < count else share
        found: list[_Run] = []
        for place, (given, each) in enumerate(self.whole):
            solved = replace(given, budget=budget.share(1 / (len(self.whole) - place)))
            shares = required[place]
            partly = solve_partly(solved, shares) if shares else None
            if shares and partly is None:
                found.append((given, each))
            else:
                cuts = partly.point.cuts if partly is not None else ()
                found.append(self.kept(place, partly or solved, cuts))
        return tuple(found)

    def filled(self, runs: _Runs, tries: int, budget: Budget) -> _Runs:
        """Sets of the whole plan added, the most urgent first, while there are minutes for them."""
        most: dict[tuple[int, Pattern], int] = {}
        for _ in range(tries):
            left_min = -self.overrun_min(runs)
            offers = sorted(self._offers(runs, left_min, most), key=lambda offer: offer[0])
            if not offers or budget.over():
                break
            _, place, pattern, sets = offers[0]
            solved, each = runs[place]
            cuts = (*each.cuts, Cut(pattern, sets))
            more = (*runs[:place], self.kept(place, solved, cuts), *runs[place + 1 :])
            if self._allowed(more, place) and self.served(more) > self.served(runs):
                runs = more
            else:
                most[place, pattern] = sets // 2  # after one, none
        return runs

    def _allowed(self, runs: _Runs, place: int) -> bool:
        """Whether the sets fit into the shift, and no cap on set-ups is broken by them."""
        solved, each = runs[place]
        cap = solved.heeded.set_ups_most
        whole = self.whole[place][1].plan.set_ups
        inside = cap is None or each.plan.set_ups <= max(cap, whole)
        return inside and self.overrun_min(runs) <= 0

    def _offers(
        self, runs: _Runs, left_min: float, most: dict[tuple[int, Pattern], int]
    ) -> Iterator[tuple[tuple[Urgency, float], int, Pattern, int]]:
        """Sets that may be added: how urgent, run, pattern, and how many seem to fit.

        None that would make of an order more than it allows, and none of a pattern that an
        instruction gives its number of sets.
        """
        last = self.orders[-1].urgency
        for place, (_, whole) in enumerate(self.whole):
            solved, each = runs[place]
            making = solved.making
            rooms = rooms_of(making, solved.mill, each.cuts)
            ahead = dict.fromkeys((cut.pattern for cut in each.cuts), 0.0)
            pinned = {cut.pattern for cut in solved.heeded.fixed}
            for pattern in dict.fromkeys(cut.pattern for cut in whole.cuts):
                gains: Counter[str] = Counter()
                for k, count in pattern.pieces:
                    gains[making.options[k].order.number] += making.options[k].gain * count
                theirs = [room for room in rooms if gains[room.order]]
                set_min = self._set_min(making.classes[pattern.winding_class].length_m)
                left = left_min - ahead.get(pattern, self.winder.set_up_min)
                sets = min(
                    int(left // set_min),
                    most.get((place, pattern), int(left)),
                    *(
                        int((r.most - r.made) // gains[r.order])
                        for r in theirs
                        if r.most is not None
                    ),
                )
                if sets > 0 and pattern not in pinned:
                    lacking = [self.urgency[r.order] for r in theirs if r.made < r.least]
                    area = sum(making.options[k].area * count for k, count in pattern.pieces)
                    yield (min(lacking, default=last), -area / set_min), place, pattern, sets

    def _set_min(self, length_m: int) -> float:
        winder = self.winder
        wound = winding_min(length_m, winder.speed_m_min, winder.acceleration_m_min_s)
        return wound + winder.set_change_min


def _by_urgency(items: Sequence[_Item], minutes: float) -> Counter[tuple[int, Pattern]]:
    """Sets by urgency that are estimated to take no more than so many minutes."""
    counts: Counter[tuple[int, Pattern]] = Counter()
    begun: set[int] = set()
    filling = False
    for item in items:
        if filling and item.run not in begun:
            continue
        sets = min(item.sets, int((minutes - item.ahead_min) // item.set_min))
        if sets > 0:
            counts[item.run, item.pattern] += sets
            minutes -= item.ahead_min + sets * item.set_min
            begun.add(item.run)
        filling = filling or sets < item.sets
    return counts


def _cuts_of(counts: Counter[tuple[int, Pattern]], place: int) -> tuple[Cut, ...]:
    return tuple(
        Cut(pattern, sets) for (run, pattern), sets in counts.items() if run == place and sets
    )
