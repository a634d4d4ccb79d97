"""The rest of a run with as many blocks as issued as is worth it.

Every issued block that may stay is kept in pattern, layout, lengths and place, or given up; what
orders then still lack is planned beside it, and put where it delays no order and leaves the least
butts (`block_placing`). Tried are: all blocks kept, none, and each left out in turn from the best
so far; where an order is late that was not, it is cut in sets of its own before all others. Orders
late come before money. A block given up must be worth the mill's `disturbance`; one that is pinned
stays.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import Enum, auto
from functools import cached_property, partial
from math import inf

from trimopt.book.model import Instruction, LeftOut
from trimopt.budget import Budget
from trimopt.errors import OutOfTimeError
from trimopt.making import Run
from trimopt.plan.model import Block, Effort, RunPlan, Settings
from trimopt.plan.planning.objective import Objective
from trimopt.plan.planning.plan_book import ENOUGH_S
from trimopt.plan.planning.plan_run import PlannedRun, plan_run
from trimopt.plan.planning.replanning.block_placing import BlockPlacing
from trimopt.plan.planning.replanning.kept_sets import supply_from, with_a_reel_of, without_odd
from trimopt.plan.planning.replanning.rest_instructions import for_lacking, pins
from trimopt.plan.planning.replanning.sets_changed import DISTURBANCE_KG, changes_of, same_metres
from trimopt.plan.planning.replanning.sets_to_keep import Counts, SetsToKeep
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.replanning.tried_rest import ChosenRest, TriedRest
from trimopt.plan.planning.replanning.whole_run import Rest, whole_run
from trimopt.plan.planning.run_patterns import RunTask
from trimopt.plan.planning.sheeters.sheeter_loads import sheeted
from trimopt.plan.states import OrderState
from trimopt.progress import Inner, Watch

#: Work is counted in seconds that a way of planning the rest takes as a rule: its own, those for
#: each set that is kept and each order that lacks something, and those of the choice of sets to
#: keep. So the same input and limit give the same plan, unless the clock is behind.
_WAY_S, _SET_S, _ORDER_S, _CHOICE_S = 0.5, 0.01, 0.1, 0.04
_SWIFT, _AS_ASKED = 0.5, 3.0  # times as long as a quick search
_TIME = 0.8  # of what is left, for a way that the clock may end
FIRST_S = 3.0  # for the first of them, where the limit leaves less
_ANYWAY_S = 0.7  # of work, at most, for a rest planned anew that other ways are not to miss
_PART_S = 1.0  # the same, for rests that give up a part of what is dear to keep
_WORTHS = (1.0, 3.0)  # times the worth of a block, in estimates of which sets to keep
_SAVING_S = 1.0  # at the least, for saving orders that are late


class _Care(Enum):
    """With how much care a way of planning the rest is tried."""

    SWIFT = auto()  # patterns sought in one way, and new blocks put behind the others
    QUICK = auto()
    AS_ASKED = auto()


_Way = tuple[Counts, frozenset[str], _Care]  # sets kept of each block, and orders cut first


@dataclass(frozen=True, kw_only=True)
class RestSearch:
    """The search for the rest of one run.

    Parameters
    ----------
    case
        The run as it stands; sets that are frozen stand in its head.
    tail
        Issued blocks after them that may stay.
    task
        What the planning of the rest needs; its run has what orders lack after the head.
    name
        What nominal jumbos of the run are called, before their number.
    now, start, before
        When frozen sets begin and when the rest does, and the last block before the run.
    pins
        Instructions that pin blocks.
    watch
        Is told what the whole run loses with the rests that are found.
    """

    case: Standing
    tail: tuple[Block, ...]
    task: RunTask
    name: str
    settings: Settings
    now: datetime
    start: datetime
    before: Block | None
    pins: tuple[Instruction, ...] = ()
    watch: Watch | None = None

    def whole(self, rest: Rest) -> RunPlan:
        """The run with this rest, its orders for sheets finished when they are cut."""
        run = whole_run(self.case, rest, settings=self.settings, start=self.now, before=self.before)
        (run,), _ = sheeted((run,), self.case.mill)
        return run

    def best(self, budget: Budget) -> ChosenRest:
        """The rest that costs least, each block that changes at its worth.

        Where orders lack nothing beside the sets issued, and jumbos are as they were, nothing is
        sought: they stay. Without a jumbo of the run's width there is no rest.
        """
        if supply_from(self.case).empty:
            return ChosenRest(rest=Rest(orders=self.case.run, jumbos={}))
        tried: dict[_Way, TriedRest] = {}
        every = tuple(len(block.sets) for block in self.tail)
        first = self._attempt(every, budget, tried, care=_Care.SWIFT)
        assert first is not None
        if self.tail and self._is_as_issued(first):
            return ChosenRest(rest=first.rest, left_out=first.left_out)
        if self._is_new:  # as in a plan of its own
            self._attempt(every, budget.share(1.0), tried, care=_Care.AS_ASKED)
        for _ in () if self._is_new else self._ways(every, budget, tried):
            if budget.over():
                break
        best = self._best(tried)
        keeping = min(each.cost for each in tried.values() if each.kept == every)
        alike = [e.cost for e in tried.values() if e.rank(0)[:-1] <= best.rank(0)[:-1]]
        return ChosenRest(
            rest=best.rest,
            left_out=best.left_out,
            paid=max(0.0, best.cost - min(alike)) if self.tail else 0.0,
            gained=max(0.0, keeping - best.cost) if self.tail else 0.0,
            changed=best.changed.blocks,
            cut_short=budget.stopped,
        )

    def _ways(self, every: Counts, budget: Budget, tried: dict[_Way, TriedRest]) -> Iterator[None]:
        """Try ways of planning the rest, those first that are likely to be good."""
        none = tuple(n * pin for n, pin in zip(every, self._pinned, strict=True))
        worths = _WORTHS if self.tail else ()
        self._save_late(every, budget, tried)
        if cheaper := bool(self.tail) and self._is_cheaper_anew(none, budget, tried):
            self._attempt_worth_keeping(_WORTHS[0], budget, tried, _Care.SWIFT)
            part = budget.share(1.0, _PART_S)
            for kept in (self._to_keep.first_half, *self._to_keep.less_one):
                self._attempt(kept, part, tried, care=_Care.SWIFT)
            budget.work += part.work
            yield
        for kept in self._to_keep.less_one:
            yield
            self._attempt(kept, budget, tried, self._best(tried).first, care=_Care.SWIFT)
        for times in worths[:0] if cheaper else worths[:1]:
            yield
            self._attempt_worth_keeping(times, budget, tried)
        yield
        best = self._best(tried)
        self._attempt(best.kept, budget, tried, best.first)
        yield
        self._attempt(none, budget, tried)
        if all(each.late for each in tried.values()):
            self._save_late(none, budget, tried)
        for times in worths:
            yield
            self._attempt_worth_keeping(times, budget, tried)
        yield
        self._attempt(every, budget, tried)
        before = None
        while (best := self._best(tried)) is not before:
            before = best
            for place, sets in enumerate(before.kept):
                if sets and not self._pinned[place]:
                    yield
                    kept = (*before.kept[:place], 0, *before.kept[place + 1 :])
                    self._attempt(kept, budget, tried, before.first)
        yield
        self._attempt(none, budget, tried, care=_Care.AS_ASKED)

    def _is_cheaper_anew(self, none: Counts, budget: Budget, tried: dict[_Way, TriedRest]) -> bool:
        """Whether a rest with no block kept, swiftly planned, is cheaper by a block's worth.

        Sets that nobody asks for any more are given up first.
        """
        keeping = self._best(tried).cost
        if self._best(tried).surplus_kg * self.objective.per_kg > self.disturbance:
            self._attempt_anyway(self._to_keep.asked_for, budget, tried)
        self._attempt_anyway(none, budget, tried, _ANYWAY_S)
        return min(each.cost for each in tried.values()) < keeping - self.disturbance

    def _best(self, tried: Mapping[_Way, TriedRest]) -> TriedRest:
        return min(tried.values(), key=partial(TriedRest.rank, disturbance=self.disturbance))

    def _is_as_issued(self, first: TriedRest) -> bool:
        """Whether nothing need be sought: all stays where it is, and serves orders as it did."""
        if self._lacks(self.tail) or not same_metres(self.tail, first.rest.blocks):
            return False
        lines = () if self.case.issued is None else self.case.issued.orders
        was = {line.number: line.max_quantity for line in lines}
        return all(
            line.max_quantity >= min(was.get(line.number, line.planned), line.planned)
            for line in first.orders
        )

    def _attempt_worth_keeping(
        self, times: float, budget: Budget, tried: dict[_Way, TriedRest], care: _Care = _Care.QUICK
    ) -> None:
        """A rest that keeps the sets which are worth it by estimate, a block at so many worths."""
        if budget.share(1.0).over():  # the choice itself takes seconds of a large book
            return
        beside = [block for each in tried.values() for block in each.rest.blocks]
        budget.work += _CHOICE_S * len(self.task.run.orders)
        kept = self._to_keep.best(times * self.disturbance, beside, budget.share(1.0))
        if kept is not None and care is _Care.SWIFT:
            self._attempt_anyway(kept, budget, tried)
        elif kept is not None:
            self._attempt(kept, budget, tried, self._best(tried).first)

    @cached_property
    def _to_keep(self) -> SetsToKeep:
        return SetsToKeep(
            case=self.case,
            tail=self.tail,
            pinned=self._pinned,
            objective=self.objective,
            seed=self.settings.seed,
        )

    def _attempt(
        self,
        kept: Counts,
        budget: Budget,
        tried: dict[_Way, TriedRest],
        first: frozenset[str] = frozenset(),
        *,
        care: _Care = _Care.QUICK,
    ) -> TriedRest | None:
        """A rest that keeps these blocks; None where work or time is not enough for one."""
        way = kept, first, care
        if way not in tried:
            seconds = _SET_S * sum(kept)
            if self._lacks(self._sets(kept)):
                lacking = 1 - sum(kept) / (sum(len(block.sets) for block in self.tail) or 1)
                seconds += _WAY_S + _ORDER_S * lacking * len(self.case.run.orders)
            seconds *= {_Care.SWIFT: _SWIFT, _Care.AS_ASKED: _AS_ASKED}.get(care, 1.0)
            enough = budget.work + seconds > budget.max_work or budget.share(1.0).over()
            if tried and enough:
                return None
            budget.work += seconds
            try:
                part = self._part(budget, 0.0 if tried else FIRST_S)
                tried[way] = self._tried(kept, part, first, care=care)
            except OutOfTimeError:
                if not tried:
                    raise
                return None
        return tried[way]

    def _attempt_anyway(
        self, kept: Counts, budget: Budget, tried: dict[_Way, TriedRest], max_work: float = inf
    ) -> None:
        """A swift rest that keeps these blocks, however little work is left for others."""
        self._attempt(kept, budget.share(1.0, max_work), tried, care=_Care.SWIFT)

    @staticmethod
    def _part(budget: Budget, min_s: float) -> Budget:
        """The time for one way; of it only that the search goes on is told."""
        part = budget.share(_TIME, min_s=min_s)
        if budget.watch is not None:
            part.watch = Inner(budget.watch, budget.work / budget.max_work)
        return part

    def _save_late(self, kept: Counts, budget: Budget, tried: dict[_Way, TriedRest]) -> None:
        """Cut the orders that the cheapest so far makes late before all others, these blocks kept.

        However little time there is, an order is not late for want of it, but for Ctrl-C. Sets of a
        plan that cuts odd jumbos anew are not put behind others.
        """
        cheapest = min(tried.values(), key=lambda each: (*each.lacking, each.cost))
        if cheapest.late and not any(map(self.case.is_odd, self.task.stock)):
            first = cheapest.first | {order.number for order in cheapest.late}
            part = budget.share(1.0, min_s=_SAVING_S)
            self._attempt(kept, part, tried, first, care=_Care.SWIFT)

    @cached_property
    def objective(self) -> Objective:
        """How paper, set-ups and knife moves of the run are weighed."""
        making = self.case.making(self.case.run.orders, self.case.head_lengths)
        return Objective.of_run(making, self.case.mill, self.settings)

    @property
    def disturbance(self) -> float:
        """What a block that changes must be worth, in the objective."""
        stated = self.case.mill.values.disturbance
        return DISTURBANCE_KG * self.objective.per_kg if stated is None else stated

    @property
    def _is_new(self) -> bool:
        """Whether the plan as issued has nothing of the run."""
        return self.case.issued is None

    @cached_property
    def _pinned(self) -> tuple[bool, ...]:
        """Whether an instruction pins a block: then it keeps its place and its layout."""

        return tuple(any(pins(pin, block) for pin in self.pins) for block in self.tail)

    def _sets(self, kept: Counts) -> tuple[Block, ...]:
        counted = zip(self.tail, kept, strict=True)
        return tuple(replace(block, sets=block.sets[:sets]) for block, sets in counted if sets)

    def _lacks(self, kept: Sequence[Block]) -> bool:
        return self.case.lacking((*self.case.head, *kept)).must_be_made

    def _tried(
        self,
        kept: Counts,
        budget: Budget,
        first: frozenset[str] = frozenset(),
        *,
        care: _Care,
    ) -> TriedRest:
        blocks = (*self._cut_first(first, budget), *self._sets(kept))
        rest, out = self._rest(blocks, budget, care=care)
        run = self.whole(rest)
        late = {line.number for line in run.orders if OrderState.LATE in line.states}
        late -= self._late_before
        if self.watch is not None:
            self.watch.found(loss_kg=run.balance.used_kg - run.balance.delivered_kg)
        return TriedRest(
            rest=rest,
            left_out=out,
            orders=run.orders,
            kept=kept,
            first=first,
            lacking=(len(out), round(sum(line.lacking_kg for line in run.orders))),
            surplus_kg=run.balance.surplus_kg,
            late=tuple(order for order in self.case.run.orders if order.number in late),
            cost=self.objective.cost_of_plan(run),
            changed=changes_of(self.tail, rest.blocks),
        )

    @cached_property
    def _late_before(self) -> frozenset[str]:
        lines = () if self.case.issued is None else self.case.issued.orders
        return frozenset(line.number for line in lines if OrderState.LATE in line.states)

    def _cut_first(self, orders: frozenset[str], budget: Budget) -> tuple[Block, ...]:
        """Sets for these orders alone."""
        lacking = self.case.lacking(self.case.head)
        lacking = replace(lacking, orders=tuple(o for o in lacking.orders if o.number in orders))
        if not lacking.must_be_made:
            return ()
        planned = plan_run(
            replace(
                for_lacking(self.task, lacking),
                budget=budget.share(0.3),
                settings=replace(self.settings, effort=Effort.QUICK),
                swift=True,
            )
        )
        return () if planned.wound is None else planned.wound.plan.blocks

    def _rest(
        self, kept: tuple[Block, ...], budget: Budget, *, care: _Care
    ) -> tuple[Rest, tuple[LeftOut, ...]]:
        """Kept blocks, and beside them what the orders then still lack."""
        lacking = self.case.lacking((*self.case.head, *kept))
        planned = self._planned(lacking, budget, care, beside=bool(kept))
        wound, begun = planned.wound, with_a_reel_of((*self.case.head, *kept))
        stopped = {each.order: each.why for each in planned.left_out if each.order in begun}
        out = tuple(each for each in planned.left_out if each.order not in begun)
        gone = {each.order for each in out}
        orders = tuple(each for each in self.case.run.orders if each.number not in gone)
        placed = BlockPlacing(
            case=self.case,
            kept=kept,
            issued=self.tail,
            wound=wound,
            name=self.name,
            settings=self.settings,
            start=self.start,
            before=self.before,
            objective=self.objective,
            disturbance=self.disturbance,
            budget=budget,
            pins=self.pins,
            swift=care is _Care.SWIFT,
        ).best()
        lengths = [(block.core_mm, block.length_m) for block in kept]
        if wound is not None:
            lengths += [(row.core_mm, row.length_m) for row in wound.plan.set_lengths]
        rest = Rest(
            blocks=placed.blocks,
            orders=replace(self.case.run, orders=orders),
            lengths=tuple(dict.fromkeys(lengths)),
            jumbos=placed.jumbos,
            stopped=stopped,
            notes=() if wound is None else wound.plan.notes,
        )
        return rest, out

    def _planned(self, lacking: Run, budget: Budget, care: _Care, *, beside: bool) -> PlannedRun:
        """A plan of what is lacking, beside kept blocks; none where nothing must still be made."""
        if not lacking.must_be_made:
            return PlannedRun(wound=None)
        quick = replace(self.settings, effort=Effort.QUICK)
        task = for_lacking(self.task, lacking)
        return plan_run(
            replace(
                without_odd(task, self.case) if beside else task,
                budget=budget.share(0.85),
                enough_s=ENOUGH_S * len(lacking.orders),
                settings=self.settings if care is _Care.AS_ASKED else quick,
                swift=care is _Care.SWIFT,
                loose=beside and care is _Care.SWIFT,
            )
        )
