"""A shift too short for all of its runs: what any choice of their sets makes in its hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from trimopt.cutting import Cut
from trimopt.mill.model import Winder
from trimopt.plan.model import RunPlan
from trimopt.plan.planning.knife_lots import merged
from trimopt.plan.planning.run_sequence import by_due, in_turn
from trimopt.plan.planning.wind_run import Solved, WoundUp, wind
from trimopt.plan.states import OrderState
from trimopt.winding.knives.order_costs import Urgency, urgency

__all__ = ["HourOrder", "Hours", "Run", "Runs"]

_WHOLE = float("inf")

Run = tuple[Solved, WoundUp]
Runs = tuple[Run, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HourOrder:
    """An order as the shift sees it."""

    urgency: Urgency
    run: int
    number: str
    ordered_kg: float


class Hours:
    """Runs that share a shift too short for all of them, and what it makes of each choice of sets.

    Parameters
    ----------
    whole
        Every run with all its sets.
    winder
        As the mill file has it.
    begin, until
        When the shift begins and ends.
    """

    def __init__(self, whole: Runs, winder: Winder, begin: datetime, until: datetime) -> None:
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
                HourOrder(
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

    def plans(self, runs: Runs) -> tuple[RunPlan, ...]:
        """The runs in turn."""
        return in_turn([each.plan for _, each in runs], self.begin, self.winder)

    def overrun_min(self, runs: Runs) -> float:
        """Minutes from the shift's end to the last set's finish; below 0 where some are left."""
        finished = [run.finish for run in self.plans(runs) if run.finish is not None]
        return (max(finished, default=self.begin) - self.until).total_seconds() / 60

    def served(self, runs: Runs) -> tuple[float, ...]:
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

    def kept(self, place: int, solved: Solved, cuts: Sequence[Cut]) -> Run:
        """A run with these cuts; as it was where they are all of the whole plan's."""
        whole = self.whole[place]
        if sorted(merged(cuts)) == sorted(merged(whole[1].cuts)):
            return whole
        return solved, wind(solved, merged(cuts), short=self.short[place])
