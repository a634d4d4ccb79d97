"""The state of one search: best plan, proven bound, work spent, and when to stop."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from math import gcd

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.model.cuts import Cut, Pattern, faults_of, loss_of
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.loss import loss_of_net
from trimopt.cutting.model.outcome import Observer, Progress
from trimopt.cutting.params import PARAMS, EngineParams


def loss_step(instance: Instance) -> tuple[int, int]:
    """Return whole numbers step and offset: every plan's loss is offset plus a multiple of step.

    Each term of the loss is a multiple of one of the numbers whose divisor is taken: sets cost
    SCALE · cost, net worth moves in steps of the divisor q of the worths and the surplus worth,
    and a price is paid on nothing or on a multiple of gcd(q, ordered). A demand whose low and
    high are one and whose surplus gives back just what it brought has one net worth in every plan:
    its term is a constant, the offset.
    """
    step = offset = 0
    for limits in instance.classes:
        step = gcd(step, SCALE * limits.cost)
    for demand, places in zip(instance.demands, instance.by_demand(), strict=True):
        some = [instance.options[k] for k in places]
        if demand.low == demand.high and all(
            option.worth == demand.surplus_worth * option.gain for option in some
        ):
            net = demand.surplus_worth * demand.high if some else 0
            offset += loss_of_net(demand, net)
            continue
        quantum = demand.surplus_worth if demand.high is not None else 0
        for option in some:
            quantum = gcd(quantum, option.worth)
        step = gcd(step, SCALE * quantum)
        if demand.ordered is not None:
            common = gcd(quantum, demand.ordered)
            step = gcd(step, demand.under_price * common)
            step = gcd(step, demand.over_price * common)
    return max(1, step), offset


def paper_cost(instance: Instance, cuts: tuple[Cut, ...]) -> int:
    """Cost of all sets of a plan, in units of loss."""
    return SCALE * sum(instance.classes[c.pattern.winding_class].cost * c.sets for c in cuts)


def tidy(sets: dict[Pattern, int]) -> tuple[Cut, ...]:
    """Cuts in a fixed order, each pattern once, none without a set."""
    return tuple(Cut(pattern, n) for pattern, n in sorted(sets.items()) if n > 0 and pattern.pieces)


@dataclass(slots=True)
class Search:
    """Best plan and bound so far; every change is told to the observer."""

    instance: Instance
    budget: Budget
    gap: float = 0.0  # end where (loss - bound) / paper cost is at most this
    observer: Observer | None = None
    params: EngineParams = PARAMS
    set_up: float = 0.0  # what each pattern adds to the loss, where patterns have a price
    started: float = field(default_factory=time.perf_counter)
    cuts: tuple[Cut, ...] = ()
    loss: int | None = None
    bound: int | None = None
    step: int = 1
    offset: int = 0
    taken: list[tuple[float, int]] = field(default_factory=list)  # work and loss of each plan

    def __post_init__(self) -> None:
        self.step, self.offset = loss_step(self.instance)

    @property
    def seconds(self) -> float:
        """Seconds since the start."""
        return time.perf_counter() - self.started

    def tell(self, step: str) -> None:
        """Tell the observer what is known."""
        if self.observer is not None:
            self.observer(Progress(loss=self.loss, bound=self.bound, step=step, cuts=self.cuts))

    def price_patterns(self, set_up: float) -> None:
        """Begin anew without a plan, with another price of each pattern."""
        self.set_up = set_up
        self.cuts, self.loss, self.taken = (), None, []

    def measure(self, sets: dict[Pattern, int]) -> int:
        """Loss of a plan."""
        return self._loss(tidy(sets))

    def _loss(self, cuts: tuple[Cut, ...]) -> int:
        return loss_of(self.instance, cuts) + round(self.set_up * len(cuts))

    def take(self, sets: dict[Pattern, int], step: str) -> bool:
        """Keep a plan where it is whole and better; end the search where it closes the gap."""
        cuts = tidy(sets)
        loss = self._loss(cuts)
        if (self.loss is not None and loss >= self.loss) or faults_of(self.instance, cuts):
            return False
        self.cuts, self.loss = cuts, loss
        self.taken.append((self.budget.work, loss))
        self.tell(step)
        self.stop_if_close()
        return True

    def prove(self, bound: int, step: str) -> None:
        """Keep a proven bound, raised to the next loss that a plan can have."""
        bound = self.offset - (self.offset - bound) // self.step * self.step
        if self.bound is None or bound > self.bound:
            self.bound = bound
            self.tell(step)
            self.stop_if_close()

    def within(self, share: float) -> bool:
        """Whether plan and bound are within a share of the paper used."""
        if self.loss is None or self.bound is None:
            return False
        return self.loss - self.bound <= share * paper_cost(self.instance, self.cuts)

    def rests(self) -> bool:
        """Whether plan and bound are close, and the plan stands still."""
        return self.within(self.params.stages.resting_gap) and self.stands_still()

    def stands_still(self) -> bool:
        """Whether the last part of the work brought next to nothing.

        Counted in work, so that it ends alike on every machine.
        """
        params = self.params.stages
        work = self.budget.work
        idle = params.near_work if self.within(params.near_gap) else params.resting_work
        since = work - max(idle, params.resting_share * work)
        before = [loss for at, loss in self.taken if at <= since]
        paper = paper_cost(self.instance, self.cuts)
        return bool(before) and before[-1] - self.taken[-1][1] <= params.resting_progress * paper

    def stop_if_close(self) -> None:
        """End the search where plan and bound meet, or are as close as was asked."""
        if self.within(self.gap):
            raise SearchEnded
