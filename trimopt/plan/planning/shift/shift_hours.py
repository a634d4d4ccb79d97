"""A shift too short for all of its runs: what any choice of their sets makes in its hours."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from math import inf

from trimopt.cutting import Cut
from trimopt.mill.model import Winder
from trimopt.plan.model import RunPlan
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.schedule.run_lots import merged
from trimopt.plan.planning.schedule.run_winding import WoundRun, wind_run
from trimopt.plan.planning.schedule.running_order import RunningOrder
from trimopt.plan.planning.schedule.runs_in_turn import by_due, in_turn
from trimopt.plan.states import OrderState
from trimopt.winding import Arrangement, Laying
from trimopt.winding.jumbos.laying import butts_of
from trimopt.winding.knives.order_costs import Urgency, urgency

Runs = tuple[WoundRun, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HourOrder:
    """An order as the shift sees it."""

    urgency: Urgency
    run: int
    number: str
    ordered_kg: float


class ShiftHours:
    """Runs that share a shift too short for all of them, and what it makes of a choice of sets."""

    def __init__(self, whole: Runs, winder: Winder, begin: datetime, until: datetime) -> None:
        self.whole = whole
        self.winder = winder
        self.begin = begin
        self.until = until
        self.minutes = (until - begin).total_seconds() / 60
        turn = [run.name for run in sorted((each.plan for each in whole), key=by_due)]
        self.turn = [turn.index(each.plan.name) for each in whole]
        self._short = [
            [line.number for line in each.plan.orders if line.state is OrderState.SHORT]
            for each in whole
        ]
        kg = {line.number: line.ordered_kg for each in whole for line in each.plan.orders}
        self.orders = sorted(
            (
                HourOrder(
                    urgency=urgency(order.priority, order.due),
                    run=place,
                    number=order.number,
                    ordered_kg=kg[order.number],
                )
                for place, each in enumerate(whole)
                for order in each.chosen.making.run.orders
            ),
            key=lambda order: (order.urgency, order.run, order.number),
        )
        self.urgency = {order.number: order.urgency for order in self.orders}

    def plans(self, runs: Runs) -> tuple[RunPlan, ...]:
        """The runs in turn."""
        return in_turn([each.plan for each in runs], self.begin, self.winder)

    def overrun_min(self, runs: Runs) -> float:
        """Minutes from the shift's end to the last set's finish; below 0 where some are left."""
        finished = [run.finish for run in self.plans(runs) if run.finish is not None]
        return (max(finished, default=self.begin) - self.until).total_seconds() / 60

    def served(self, runs: Runs) -> tuple[float, ...]:
        """The more the better: tonnes of the most urgent orders, then of the next, and all kg.

        Orders of one urgency that are all whole count the same, whatever is made inside their
        tolerances; else whole tonnes count.
        """
        lines = {line.number: line for each in runs for line in each.plan.orders}
        tonnes = []
        for _, alike in groupby(self.orders, key=lambda order: order.urgency):
            theirs = [lines[order.number] for order in alike]
            lacking = any(line.lacking for line in theirs)
            tonnes.append(sum(line.delivered_kg for line in theirs) // 1000 if lacking else inf)
        return *tonnes[:-1], sum(line.delivered_kg for line in lines.values())

    def with_cuts(
        self,
        place: int,
        cuts: Sequence[Cut],
        chosen: ChosenRun | None = None,
        laid: RunningOrder | None = None,
    ) -> WoundRun:
        """The run of that place with these cuts; as it was where they are all of its cuts.

        Parameters
        ----------
        laid
            The running order of the cuts, where it is known.
        """
        whole = self.whole[place]
        if sorted(merged(cuts)) == sorted(merged(whole.cuts)):
            return whole
        kept = merged(cuts) if laid is None else tuple(cuts)
        short = self._short[place]
        return wind_run(chosen or whole.chosen, kept, laid=laid, short=short)


def first_sets(wound: WoundRun, sets: int) -> tuple[tuple[Cut, ...], RunningOrder]:
    """The first sets of a run alone, one at the least, all of them as they were laid out.

    Returns
    -------
    tuple of Cut
        The cuts that are left.
    RunningOrder
        Theirs, a lot's number the place of its cut.
    """
    cuts, order = wound.cuts, wound.order
    rows = order.laying.sets[:sets]
    kept = Counter(row.block for row in rows)
    lots = tuple(
        replace(lot, number=place, sets=kept[place])
        for place, lot in enumerate(order.lots[: len(kept)])
    )
    blocks = tuple(
        replace(block, lot=place)
        for place, block in enumerate(order.arrangement.blocks[: len(kept)])
    )
    metres: Counter[str] = Counter()
    for part in (part for row in rows for part in row.stretches):
        metres[part.jumbo] += part.to_m - part.from_m
    jumbos = (butt.jumbo for butt in order.laying.butts if butt.jumbo.name in metres)
    butts = butts_of([(jumbo, metres[jumbo.name]) for jumbo in jumbos])
    left = tuple(replace(cuts[order.lots[lot.number].number], sets=lot.sets) for lot in lots)
    return left, RunningOrder(
        arrangement=Arrangement(blocks=blocks),  # the bound known is for all of the lots
        lots=lots,
        laying=Laying(sets=rows, butts=butts),
        loss_area=None,
    )
