"""The shift's hours: which sets are run in them, and which orders are carried over.

All runs share the hours, one after another in their running order
(`trimopt.plan.planning.run_sequence`). Where they do not last, priority and then due date decide,
over all runs together. Three ways are tried:

- The whole plan is cut off at the shift's end, all that is run before it as it would have been.
- Sets of the whole plan are kept: each pattern, as urgent as its most urgent order, keeps the most
  sets that leave every more urgent set its time.
- Patterns are chosen for the most urgent orders alone, the last of them perhaps in part, and the
  others only fill (`trimopt.plan.planning.urgent_only`), for as many as the hours seem enough for.

The minutes that are then left are filled with sets of all their patterns
(`trimopt.plan.planning.hour_filling`). What makes the most urgent orders whole is taken, and of
plans that are alike in this the one that delivers most: so where no order is more urgent than
another, never less than by cutting off the whole plan. Only whole sets are run.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from trimopt.budget import Budget
from trimopt.cutting import Cut, Pattern
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Winder
from trimopt.plan.model import RunPlan
from trimopt.plan.planning.cut_off import cut_off
from trimopt.plan.planning.hour_filling import filled
from trimopt.plan.planning.shift_hours import Hours, Run, Runs
from trimopt.plan.planning.urgent_only import solve_partly
from trimopt.plan.planning.wind_run import wind
from trimopt.winding.knives.order_costs import Urgency

__all__ = ["within_shift"]

_TRIES = 8  # sets tried in the minutes that are left, at effort 1
_COUNTS = 4  # of the orders by urgency, planned by themselves
_PARTS = 2  # of the order after them
_PART_KG = 500  # less of it is for filling
_URGENT = 0.6  # of the time, for these; the rest is for filling minutes
_ROUNDS = 8  # in which minutes are estimated; after them sets go one by one
_FILLED = 2  # plans, the best, whose minutes are filled


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    """A block of a run: how long it takes, and how urgent it is (the smallest sorts first)."""

    run: int
    pattern: Pattern
    sets: int
    urgency: tuple[Urgency, int, int]
    ahead_min: float  # set-up and knife moves before its first set
    set_min: float


def within_shift(
    runs: Sequence[Run],
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
    known = [
        tuple(dict.fromkeys(cut.pattern for _, each in its for cut in each.cuts))
        for its in zip(whole, *found, strict=True)
    ]
    best = [filled(shift, runs, known, effort * _TRIES, budget) for runs in found[:_FILLED]]
    return shift.plans(max((*best, *found), key=shift.served))


class _Shift(Hours):
    def cut_off(self) -> Runs | None:
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
        runs: list[Run] = []
        for place, (solved, each) in enumerate(self.whole):
            sets = finished[each.plan.name]
            if sets == sum(len(block.sets) for block in each.plan.blocks):
                runs.append((solved, each))
                continue
            cuts, laid = cut_off(each.cuts, each.wound, sets) if sets else ((), None)
            runs.append((solved, wind(solved, cuts, laid=laid, short=self.short[place])))
        return tuple(runs)

    def fitted(self, runs: Runs) -> Runs | None:
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

    def _items(self, runs: Runs) -> Iterator[_Item]:
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

    def single(self) -> Runs:
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

    def for_urgent(self, budget: Budget) -> Iterator[Runs | None]:
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
            share *= 0.8 * max(0.3, 1 - over / max(1.0, self.minutes - fits_min + over))

    def _kg(self, count: int) -> float:
        return sum(order.ordered_kg for order in self.orders[:count])

    def _so_many(self, mass_kg: float) -> int:
        """How many orders, the most urgent first, come to so much paper."""
        return sum(self._kg(count) <= mass_kg for count in range(1, len(self.orders) + 1))

    def _for_orders(self, count: int, share: float, budget: Budget) -> Runs:
        """Runs with patterns for so many urgent orders and a share of the next; all others fill."""
        required: list[dict[str, float]] = [{} for _ in self.whole]
        for place, order in enumerate(self.orders[: count + 1]):
            if place < count or share > 0:
                required[order.run][order.number] = 1.0 if place < count else share
        found: list[Run] = []
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
