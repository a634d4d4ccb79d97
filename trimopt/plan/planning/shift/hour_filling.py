"""Minutes left of a shift, filled with sets of patterns that are known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from trimopt.budget import Budget
from trimopt.cutting import Cut, Pattern
from trimopt.mill.model import Winder
from trimopt.paper import winding_min
from trimopt.plan.planning.schedule.run_lots import order_slacks
from trimopt.plan.planning.shift.shift_hours import Runs, ShiftHours
from trimopt.winding.knives.order_costs import Urgency

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
                *(int((s.high - s.made) // gains[s.order]) for s in theirs if s.high is not None),
            )
            if sets > 0 and pattern not in pinned:
                lacking = [hours.urgency[s.order] for s in theirs if s.made < s.low]
                area = sum(making.options[k].area * count for k, count in pattern.pieces)
                yield (min(lacking, default=last), -area / set_min), place, pattern, sets


def _set_min(winder: Winder, length_m: int) -> float:
    wound = winding_min(length_m, winder.speed_m_min, winder.acceleration_m_min_s)
    return wound + winder.set_change_min
