"""The difference between two plans of one book, as data: figures before and after, sets, orders.

It is taken from the two plans alone, so it is the same whoever made the second of them.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from difflib import SequenceMatcher
from enum import StrEnum
from fractions import Fraction

from trimopt.book.model import LeftOut
from trimopt.errors import types_checked
from trimopt.plan.json_types import json_type
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import Block, OrderLine, Plan, RunPlan, SetRow
from trimopt.plan.reel_rows import ReelRow, reels_of
from trimopt.plan.states import LACKING, OrderState

_KG_WITHIN = 0.05

LOST_TO = tuple(part for part in Balance.PARTS if part != "delivered_kg")
"""What paper that is used and not delivered goes to: fields of a run's balance."""


class SetChange(StrEnum):
    """What became of a set that does not run as before."""

    MOVED = "moved"
    """As it was, elsewhere in the running order."""

    CHANGED = "changed"
    """For the same reels, with another layout or length."""

    NEW = "new"
    DROPPED = "dropped"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFigures:
    """A plan, or a run of it, in figures. Lost is what is used and not delivered.

    `lost_to_kg` parts it, in the order of `LOST_TO`.
    """

    used_kg: float
    delivered_kg: float
    lost_kg: float
    set_ups: int
    knife_moves: int
    minutes: float
    sets: int
    jumbos: int
    late_orders: int
    lost_to_kg: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RunDifference:
    """A run before and after."""

    run: str
    before: PlanFigures
    after: PlanFigures


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFigures:
    """What a plan gives an order; `planned` is in the order's unit, beside reels `from_stock`."""

    planned: Fraction
    planned_kg: float
    from_stock: int = 0
    states: tuple[OrderState, ...]
    finished: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderDifference:
    """An order that gets something else, or at another time; None: not in that plan."""

    run: str
    number: str
    customer: str
    unit: str
    before: OrderFigures | None
    after: OrderFigures | None

    @property
    def in_time_only(self) -> bool:
        """Whether it gets what it got, in the same state, at another time."""
        if self.before is None or self.after is None:
            return False
        before, after = self.before, self.after
        alike = (before.planned, before.from_stock) == (after.planned, after.from_stock)
        near = abs(self.before.planned_kg - self.after.planned_kg) <= _KG_WITHIN
        return alike and near and self.before.states == self.after.states


@dataclass(frozen=True, slots=True, kw_only=True)
class SetDifference:
    """A set that does not run as before, by its number before and after; None: not in that plan."""

    run: str
    was: int | None
    now: int | None
    change: SetChange


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSets:
    """Sets of a run whose labels are of no more use, and sets whose labels are to be printed.

    A set is of both that stays as it is, and of which a reel is for another use by now.
    """

    run: str
    destroy: tuple[int, ...]  # by their numbers before
    reprint: tuple[int, ...]
    relabel: tuple[int, ...] = ()  # sets that have run, a reel of which is for another use by now


@dataclass(frozen=True, slots=True, kw_only=True)
class SpoiledReels:
    """A set that has run since, with reels for no order at these positions."""

    run: str
    set_number: int
    positions: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanDifference:
    """Two plans of one book. A set is kept where layout, length and orders are as they were."""

    before: str  # number of the plan
    after: str  # empty: not issued
    figures_before: PlanFigures
    figures_after: PlanFigures
    runs: tuple[RunDifference, ...]  # those that changed
    sets_kept: int
    sets: tuple[SetDifference, ...]  # those that were not kept
    orders: tuple[OrderDifference, ...]  # those that changed
    left_out: tuple[LeftOut, ...] = ()  # lines that the second plan leaves out, and not the first
    given_up: tuple[str, ...] = ()  # instructions not kept: they were, or are asked since
    sets_done: int = 0  # run by then
    labels: tuple[LabelSets, ...] = ()  # where the second replaces the first
    spoiled: tuple[SpoiledReels, ...] = ()

    @property
    def newly_late(self) -> tuple[str, ...]:
        """Orders that are late, and were not."""
        return self._came_to(frozenset({OrderState.LATE}))

    @property
    def newly_short(self) -> tuple[str, ...]:
        """Orders that get too little, and did not."""
        return self._came_to(LACKING)

    @property
    def saved(self) -> tuple[str, ...]:
        """Orders that were late or got too little, and are not and do not."""
        bad = LACKING | {OrderState.LATE}
        return tuple(
            each.number
            for each in self.orders
            if each.before and each.after
            if bad & set(each.before.states) and not bad & set(each.after.states)
        )

    def _came_to(self, states: frozenset[OrderState]) -> tuple[str, ...]:
        return tuple(
            each.number
            for each in self.orders
            if each.after and states & set(each.after.states)
            if not (each.before and states & set(each.before.states))
        )


@types_checked
def difference_json(difference: PlanDifference) -> str:
    """Write a difference as JSON text; `plan_schema` of the plan has its types too."""
    written = json_type(PlanDifference).write(difference, "")
    return json.dumps(written, ensure_ascii=False, indent=1)


def difference_of(before: Plan, after: Plan) -> PlanDifference:
    """Take the difference between two plans.

    Parameters
    ----------
    before, after
        Plans whose runs are known by their names, and orders by their numbers.
    """
    known = {each.order for each in before.left_out}
    was = {run.name: run for run in before.runs}
    now = {run.name: run for run in after.runs}
    names = tuple(dict.fromkeys((*was, *now)))
    runs, sets, kept = [], [], 0
    for name in names:
        one, other = was.get(name), now.get(name)
        figures = (_figures([one] if one else []), _figures([other] if other else []))
        if figures[0] != figures[1]:
            runs.append(RunDifference(run=name, before=figures[0], after=figures[1]))
        changed, alike = _sets(name, *_to_run(_rows(one), _rows(other)))
        sets += changed
        kept += alike
    return PlanDifference(
        before=before.number,
        after=after.number if after.number != before.number else "",
        figures_before=_figures(before.runs),
        figures_after=_figures(after.runs),
        runs=tuple(runs),
        sets_done=sum(row.done for run in after.runs for row in run.sets),
        sets_kept=kept,
        sets=tuple(sets),
        orders=tuple(changed_orders(before.runs, after.runs)),
        left_out=tuple(each for each in after.left_out if each.order not in known),
        given_up=_given_up(before, after),
        labels=tuple(_labels(was, now)) if after.replaces == before.number else (),
        spoiled=tuple(each for each in _spoiled(after) if each not in _spoiled(before)),
    )


def _spoiled(plan: Plan) -> list[SpoiledReels]:
    return [
        SpoiledReels(run=run.name, set_number=row.number, positions=row.spoiled)
        for run in plan.runs
        for row in run.sets
        if row.done and row.spoiled
    ]


def _labels(was: Mapping[str, RunPlan], now: Mapping[str, RunPlan]) -> Iterator[LabelSets]:
    for name in dict.fromkeys((*was, *now)):
        after = [row for _, row in _rows(now.get(name))]
        held = {row.number for row in after if row.issued}
        before = [row.number for _, row in _rows(was.get(name)) if not row.done]
        done = {row.number for row in after if row.done}
        other = held & _relabelled(was.get(name), now.get(name))
        relabel, other = tuple(sorted(other & done)), other - done
        destroy = tuple(sorted(other.union(before) - (held - other)))
        reprint = tuple(row.number for row in after if not row.issued or row.number in other)
        if destroy or reprint or relabel:
            yield LabelSets(run=name, destroy=destroy, reprint=reprint, relabel=relabel)


def _relabelled(was: RunPlan | None, now: RunPlan | None) -> set[int]:
    """Sets of reels that are for another use by now: to stock, say, where less is ordered."""
    if was is None or now is None:
        return set()
    before = {reel.identity: reel for reel in reels_of(was)}
    return {
        reel.set_number
        for reel in reels_of(now)
        if reel.identity in before and _label(reel) != _label(before[reel.identity])
    }


def _label(reel: ReelRow) -> object:
    return (
        reel.order, reel.customer, reel.destination, reel.surplus, reel.for_stock, reel.sheeter,
    )  # fmt: skip


def _figures(runs: Sequence[RunPlan]) -> PlanFigures:
    used = sum(run.balance.used_kg for run in runs)
    delivered = sum(run.balance.delivered_kg for run in runs)
    return PlanFigures(
        used_kg=used,
        delivered_kg=delivered,
        lost_kg=used - delivered,
        set_ups=sum(run.set_ups for run in runs),
        knife_moves=sum(run.knife_moves for run in runs),
        minutes=sum(run.minutes for run in runs),
        sets=sum(len(run.sets) for run in runs),
        jumbos=sum(len(run.jumbos) for run in runs),
        late_orders=sum(OrderState.LATE in line.states for run in runs for line in run.orders),
        lost_to_kg=tuple(sum(getattr(run.balance, part) for run in runs) for part in LOST_TO),
    )


_Row = tuple[Block, SetRow]


def _rows(run: RunPlan | None) -> Sequence[_Row]:
    return () if run is None else run.sets_in_blocks


def _to_run(before: Sequence[_Row], after: Sequence[_Row]) -> tuple[list[_Row], list[_Row]]:
    """The sets of both that the second has not as run: what was run is no change."""
    done = {row.number for _, row in after if row.done}
    return [r for r in before if r[1].number not in done], [r for r in after if not r[1].done]


def _whole(row: _Row) -> object:
    """What makes a set the same: layout, orders, core, length."""
    block, each = row
    return block.positions, block.edge_front_mm, block.core_mm, each.length_m


def _reels(row: _Row) -> object:
    """Orders and widths across, in any layout."""
    counts = Counter((p.order, p.width_mm, p.ups) for p in row[0].positions)
    return frozenset(counts.items())


def _sets(
    run: str, before: Sequence[_Row], after: Sequence[_Row]
) -> tuple[list[SetDifference], int]:
    """The sets that were not kept, and how many were: the most that follow each other as before."""
    keys = [_whole(row) for row in before], [_whole(row) for row in after]
    was, now = set(range(len(before))), set(range(len(after)))
    kept = 0
    for at, to, size in SequenceMatcher(None, *keys, autojunk=False).get_matching_blocks():
        was -= set(range(at, at + size))
        now -= set(range(to, to + size))
        kept += size
    found: list[SetDifference] = []
    for key, change in ((_whole, SetChange.MOVED), (_reels, SetChange.CHANGED)):
        waiting: dict[object, list[int]] = defaultdict(list)
        for at in sorted(was, reverse=True):
            waiting[key(before[at])].append(at)
        for to in sorted(now):
            if waiting[key(after[to])]:
                at = waiting[key(after[to])].pop()
                was.remove(at)
                now.remove(to)
                found.append(_set(run, before[at], after[to], change))
    found += [_set(run, before[at], None, SetChange.DROPPED) for at in sorted(was)]
    found += [_set(run, None, after[to], SetChange.NEW) for to in sorted(now)]
    found.sort(key=lambda each: each.was or each.now or 0)
    return found, kept


def _set(run: str, was: _Row | None, now: _Row | None, change: SetChange) -> SetDifference:
    return SetDifference(
        run=run,
        was=None if was is None else was[1].number,
        now=None if now is None else now[1].number,
        change=change,
    )


def changed_orders(
    before: Sequence[RunPlan], after: Sequence[RunPlan]
) -> Iterator[OrderDifference]:
    """Give the orders that get something else, or at another time, than in other runs."""
    was = {line.number: (run.name, line) for run in before for line in run.orders}
    now = {line.number: (run.name, line) for run in after for line in run.orders}
    for number in dict.fromkeys((*was, *now)):
        old, new = (side[number][1] if number in side else None for side in (was, now))
        run, line = now.get(number) or was[number]
        if _of(old) != _of(new):
            yield OrderDifference(
                run=run,
                number=number,
                customer=line.customer,
                unit=line.unit,
                before=_of(old),
                after=_of(new),
            )


def _of(line: OrderLine | None) -> OrderFigures | None:
    if line is None:
        return None
    return OrderFigures(
        planned=line.planned,
        planned_kg=line.planned_kg,
        from_stock=len(line.stock),
        states=line.states,
        finished=line.finished,
    )


def _given_up(before: Plan, after: Plan) -> tuple[str, ...]:
    """Instructions that are not kept, and were or are asked since, by name."""
    refused = {(run.name, answer.instruction) for run in before.runs for answer in run.instructions
               if not answer.kept}  # fmt: skip
    return tuple(
        answer.instruction.name
        for run in after.runs
        for answer in run.instructions
        if not answer.kept and (run.name, answer.instruction) not in refused
    )
