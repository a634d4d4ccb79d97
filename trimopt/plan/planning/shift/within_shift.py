"""The shift's hours: which sets are run in them, and which orders are carried over.

All runs share the hours, one after another in their running order
(`schedule.runs_in_turn`). Where they do not last, priority and then due date decide,
over all runs together. Three ways are tried:

- The whole plan is cut off at the shift's end, all that is run before it as it would have been.
- Sets of the whole plan are kept: each pattern, as urgent as its most urgent order, keeps the most
  sets that leave every more urgent set its time.
- Patterns are chosen for the most urgent orders alone, the last of them perhaps in part, and the
  others only fill: for as many orders as are estimated to fit in the shift.

The minutes that are then left are filled with sets of all their patterns. What makes the most
urgent orders whole is taken, and of plans that are alike in this the one that delivers most: so
where no order is more urgent than another, never less than by cutting off the whole plan. Only
whole sets are run.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from trimopt.budget import Budget
from trimopt.cutting import Cut, EngineParams, Pattern, solve
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Winder
from trimopt.paper import winding_min
from trimopt.plan.model import Effort, RunPlan
from trimopt.plan.planning.chosen_run import ChosenRun, searched_trade_off
from trimopt.plan.planning.schedule.run_lots import order_slacks
from trimopt.plan.planning.schedule.run_winding import WoundRun
from trimopt.plan.planning.shift.shift_hours import Runs, ShiftHours, first_sets
from trimopt.winding.knives.order_costs import Urgency

_FILL_TRIES = 8  # sets tried in the minutes that are left, at normal effort
_COUNTS = 4  # of the orders by urgency, planned by themselves
_PARTS = 2  # of the order after them
_MIN_PART_KG = 500  # less of it is for filling
_URGENT = 0.6  # of the time, for these; the rest is for filling minutes
_ROUNDS = 8  # in which minutes are estimated; after them sets go one by one
_FILLED = 2  # plans, the best, whose minutes are filled
_FILLER_WORTH = 0.6  # of paper of an order that may wait, beside that of one that must be made


def runs_in_shift(
    runs: Sequence[WoundRun],
    winder: Winder,
    begin: datetime,
    until: datetime,
    *,
    effort: Effort = Effort.NORMAL,
    budget: Budget,
) -> tuple[RunPlan, ...]:
    """Runs in turn, with as many sets as the shift has hours for.

    Parameters
    ----------
    effort
        How often minutes that are left are tried for another set.
    budget
        Where it is over, no more sets are tried.

    Raises
    ------
    InfeasibleError
        The shift ends before a single set is finished.
    """
    whole = tuple(replace(each, chosen=replace(each.chosen, budget=budget)) for each in runs)
    hours = ShiftHours(whole, winder, begin, until)
    if hours.overrun_min(whole) <= 0:
        return hours.plans(whole)
    tried = (_cut_off(hours), _fitted(hours, whole), *_for_urgent(hours, budget.share(_URGENT)))
    found = [runs for runs in tried if runs is not None] or [_single_set(hours)]
    found.sort(key=hours.served, reverse=True)
    known = [
        tuple(dict.fromkeys(cut.pattern for each in its for cut in each.cuts))
        for its in zip(whole, *found, strict=True)
    ]
    tries = round(effort.times * _FILL_TRIES)
    best = [fill_minutes(hours, runs, known, tries, budget) for runs in found[:_FILLED]]
    return hours.plans(max((*best, *found), key=hours.served))


def _cut_off(hours: ShiftHours) -> Runs | None:
    """The whole plan with the sets that are finished when the shift ends."""
    finished = {
        run.name: sum(row.finish is not None and row.finish <= hours.until for row in run.sets)
        for run in hours.plans(hours.whole)
    }
    if not any(finished.values()):
        return None
    runs: list[WoundRun] = []
    for place, each in enumerate(hours.whole):
        sets = finished[each.plan.name]
        if sets == sum(len(block.sets) for block in each.plan.blocks):
            runs.append(each)
            continue
        cuts, laid = first_sets(each, sets) if sets else ((), None)
        runs.append(hours.with_cuts(place, cuts, laid=laid))
    return tuple(runs)


# Sets of a plan, kept by urgency


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    """A block of a run: how long it takes, and how urgent it is (the smallest sorts first)."""

    run: int
    pattern: Pattern
    sets: int
    urgency: tuple[Urgency, int, int]
    ahead_min: float  # set-up and knife moves before its first set
    set_min: float


def _fitted(hours: ShiftHours, runs: Runs) -> Runs | None:
    """Sets by urgency for fewer and fewer minutes, until they really fit; None: not one does.

    A less urgent set may fill what is left, on a run that is begun anyway.
    """
    items = sorted(_items(hours, runs), key=lambda item: item.urgency)
    minutes = hours.minutes
    counts = _by_urgency(items, minutes)
    for round_number in range(10_000):
        if not counts:
            return None
        found = tuple(
            hours.with_cuts(place, _cuts_of(counts, place), each.chosen)
            for place, each in enumerate(runs)
        )
        over = hours.overrun_min(found)
        if over <= 0:
            return found
        minutes -= max(over, 1.0)
        fewer = _by_urgency(items, minutes)
        if round_number >= _ROUNDS or fewer == counts:
            last = next(x for x in reversed(items) if counts[x.run, x.pattern])
            fewer = counts - Counter({(last.run, last.pattern): 1})
        counts = fewer
    return None


def _items(hours: ShiftHours, runs: Runs) -> Iterator[_Item]:
    for place, each in enumerate(runs):
        for block, cut in zip(each.plan.blocks, each.cut_of, strict=True):
            minutes = sum(row.minutes or 0.0 for row in block.sets)
            ahead = hours.winder.set_up_min * (block.set_up or block.number == 1)
            ahead += hours.winder.knife_move_min * block.knife_moves
            urgency = min(hours.urgency[reel.order] for reel in block.reels)
            yield _Item(
                run=place,
                pattern=each.cuts[cut].pattern,
                sets=len(block.sets),
                urgency=(urgency, hours.turn[place], block.number),
                ahead_min=ahead,
                set_min=(minutes - ahead) / len(block.sets),
            )


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


def _single_set(hours: ShiftHours) -> Runs:
    """One set, the most urgent that the hours are enough for.

    Raises
    ------
    InfeasibleError
        Not one is; the text says how many minutes more would be enough.
    """
    ends = []
    for item in sorted(_items(hours, hours.whole), key=lambda item: item.urgency):
        runs = tuple(
            hours.with_cuts(place, (Cut(item.pattern, 1),) if place == item.run else ())
            for place in range(len(hours.whole))
        )
        ends.append(hours.overrun_min(runs))
        if ends[-1] <= 0:
            return runs
    message = (
        f"the shift ends at {hours.until:%Y-%m-%d %H:%M}, before a single set is finished; "
        f"{min(ends, default=0):.0f} min more are enough for one"
    )
    raise InfeasibleError(message)


# Patterns for the most urgent orders alone


def _for_urgent(hours: ShiftHours, budget: Budget) -> Iterator[Runs | None]:
    """Patterns for the most urgent orders, for as many as are estimated to fit.

    Of the order after them a part is planned too, as far as minutes are left.
    """
    fits, too_many, count = 0, len(hours.orders), len(hours.orders)
    whole_min = hours.minutes + hours.overrun_min(hours.whole)
    fits_min, used_min = 0.0, whole_min
    shares = budget.shares(_COUNTS + _PARTS)
    for _ in range(_COUNTS):
        # Minutes go with the paper: so many orders should take what the shift has.
        count = _so_many(hours, hours.minutes / used_min * _kg(hours, count))
        count = min(max(count, fits + 1), too_many - 1)
        if count <= fits or budget.over():
            break
        runs = _for_orders(hours, count, 0.0, next(shares))
        used_min = max(1.0, hours.minutes + hours.overrun_min(runs))
        if used_min <= hours.minutes:
            fits, fits_min = count, used_min
            yield runs
        else:
            too_many = count
            yield _fitted(hours, runs)
    next_kg = max(1.0, hours.orders[fits].ordered_kg)
    left_kg = (hours.minutes - fits_min) * _kg(hours, len(hours.orders)) / whole_min
    share = min(0.95, left_kg / next_kg)
    for part in budget.shares(_PARTS):
        if share * next_kg < _MIN_PART_KG or budget.over():
            return
        runs = _for_orders(hours, fits, share, part)
        over = hours.overrun_min(runs)
        yield runs if over <= 0 else _fitted(hours, runs)
        if over <= 0:
            return
        share *= 0.8 * max(0.3, 1 - over / max(1.0, hours.minutes - fits_min + over))


def _kg(hours: ShiftHours, count: int) -> float:
    return sum(order.ordered_kg for order in hours.orders[:count])


def _so_many(hours: ShiftHours, mass_kg: float) -> int:
    """How many orders, the most urgent first, come to so much paper."""
    return sum(_kg(hours, count) <= mass_kg for count in range(1, len(hours.orders) + 1))


def _for_orders(hours: ShiftHours, count: int, share: float, budget: Budget) -> Runs:
    """Runs with patterns for so many urgent orders and a share of the next; all others fill."""
    required: list[dict[str, float]] = [{} for _ in hours.whole]
    for place, order in enumerate(hours.orders[: count + 1]):
        if place < count or share > 0:
            required[order.run][order.number] = 1.0 if place < count else share
    found: list[WoundRun] = []
    for place, (each, part) in enumerate(
        zip(hours.whole, budget.shares(len(hours.whole)), strict=True)
    ):
        chosen = replace(each.chosen, budget=part)
        shares = required[place]
        urgent = _chosen_for(chosen, shares) if shares else None
        if shares and urgent is None:
            found.append(each)
        else:
            cuts = (*urgent.odd_cuts, *urgent.point.cuts) if urgent is not None else ()
            found.append(hours.with_cuts(place, cuts, urgent or chosen))
    return tuple(found)


def _chosen_for(run: ChosenRun, required: Mapping[str, float]) -> ChosenRun | None:
    """The run with patterns for some of its orders; None where none were found in time.

    Of an order that may wait nothing is required. The engine takes its widths where they fill a set
    that an urgent order needs anyway, since paper that is delivered is no loss. Its paper is worth
    less than an urgent order's, else sets would be made for it alone, in hours that others need.

    Parameters
    ----------
    required
        By order number, the share that must be made: 1 for the whole of it.
    """
    orders = run.making.run.orders
    demands = tuple(
        demand
        if (share := required.get(order.number, 0.0)) >= 1
        else replace(demand, low=math.floor(share * demand.low), ordered=None)
        for order, demand in zip(orders, run.instance.demands, strict=True)
    )
    options = tuple(
        option
        if orders[option.demand].number in required
        else replace(option, worth=int(_FILLER_WORTH * option.worth))
        for option in run.instance.options
    )
    instance = replace(run.instance, demands=demands, options=options)
    outcome = solve(
        instance,
        budget=run.budget.share(0.4),
        seed=run.settings.seed,
        params=EngineParams.for_effort(run.settings.effort),
    )
    if not outcome.cuts:
        return None
    trade = searched_trade_off(
        instance,
        outcome,
        settings=run.settings,
        instructed=run.instructed,
        orders=len(required),
        budget=run.budget,
    )
    if not trade.points:
        return None
    point = run.objective.cheapest(trade.within(run.instructed.max_patterns))
    return replace(run, instance=instance, outcome=outcome, trade=trade, point=point)


Known = Sequence[Sequence[Pattern]]  # for each run


def fill_minutes(hours: ShiftHours, runs: Runs, known: Known, tries: int, budget: Budget) -> Runs:
    """Sets of known patterns added, the most urgent first, while there are minutes for them.

    Parameters
    ----------
    budget
        Where it is over, no more are.
    """
    max_sets: dict[tuple[int, Pattern], int] = {}
    for _ in range(tries):
        offers = sorted(_offers(hours, runs, known, max_sets), key=lambda offer: offer[0])
        if not offers or budget.over():
            break
        _, place, pattern, sets = offers[0]
        each = runs[place]
        added = hours.with_cuts(place, (*each.cuts, Cut(pattern, sets)), each.chosen)
        more = (*runs[:place], added, *runs[place + 1 :])
        if _allowed(hours, more, place) and hours.served(more) > hours.served(runs):
            runs = more
        else:
            max_sets[place, pattern] = sets // 2  # after one, none
    return runs


def _allowed(hours: ShiftHours, runs: Runs, place: int) -> bool:
    """Whether the sets fit into the shift, and no cap on set-ups is broken by them."""
    each, cap = runs[place], runs[place].chosen.max_set_ups
    whole = hours.whole[place].plan.set_ups
    inside = cap is None or each.plan.set_ups <= max(cap, whole)
    return inside and hours.overrun_min(runs) <= 0


def _offers(
    hours: ShiftHours, runs: Runs, known: Known, max_sets: dict[tuple[int, Pattern], int]
) -> Iterator[tuple[tuple[Urgency, float], int, Pattern, int]]:
    """Sets that may be added: how urgent, run, pattern, and how many are estimated to fit.

    None that would make of an order more than it allows, and none of a pattern that an
    instruction gives its number of sets.
    """
    last = hours.orders[-1].urgency
    left_min = -hours.overrun_min(runs)
    for place, each in enumerate(runs):
        making = each.chosen.whole
        slacks = order_slacks(making, each.chosen.mill, each.cuts)
        ahead = dict.fromkeys((cut.pattern for cut in each.cuts), 0.0)
        pinned = {cut.pattern for cut in each.chosen.instructed.fixed}
        for pattern in known[place]:
            gains: Counter[str] = Counter()
            for k, count in pattern.pieces:
                gains[making.options[k].order.number] += making.options[k].gain * count
            theirs = [slack for slack in slacks if gains[slack.order]]
            set_min = _set_min(hours.winder, making.classes[pattern.winding_class].length_m)
            left = left_min - ahead.get(pattern, hours.winder.set_up_min)
            sets = min(
                int(left // set_min),
                max_sets.get((place, pattern), int(left)),
                *(int((s.high - s.made) // gains[s.order]) for s in theirs),
            )
            if sets > 0 and pattern not in pinned:
                lacking = [hours.urgency[s.order] for s in theirs if s.made < s.low]
                area = sum(making.options[k].area * count for k, count in pattern.pieces)
                yield (min(lacking, default=last), -area / set_min), place, pattern, sets


def _set_min(winder: Winder, length_m: int) -> float:
    wound = winding_min(length_m, winder.speed_m_min, winder.acceleration_m_min_s)
    return wound + winder.set_change_min
