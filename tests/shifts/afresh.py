"""Plans of the rest made without regard to the one before, which others are held against.

One is free of everything but what was run. The other has the frozen sets too, those of the next
hour that stay as issued whatever it costs: what it loses beside the first the frozen hour costs,
and only what a plan loses beside the second was its own choice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import takewhile

from trimopt import Plan, Replan, RunPlan
from trimopt.plan.model import Block, SetRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Afresh:
    """What a plan from scratch loses, and one from scratch after the frozen sets."""

    free_kg: float
    after_frozen_kg: float


def lost_kg(plan: Plan) -> float:
    """What the runs of a plan use and do not deliver."""
    return sum(run.balance.used_kg - run.balance.delivered_kg for run in plan.runs)


def frozen_sets(issued: Plan, answer: Replan) -> frozenset[tuple[str, int]]:
    """Runs and numbers of the sets that stay as issued because they start soon.

    They are the first to run. One that gives an order more than it may have now need not stay.
    """
    assert answer.plan.replanned is not None
    until = answer.plan.replanned.keep_until
    was = {
        (run.name, row.number): row.start for each in issued.runs for run, _, row in _waiting(each)
    }
    too_much = {
        line.number
        for run in answer.plan.runs
        for line in run.orders
        if line.planned > line.max_quantity
    }

    def is_frozen(waiting: tuple[RunPlan, Block, SetRow]) -> bool:
        run, block, row = waiting
        starts = row.start, was.get((run.name, row.number))
        soon = all(start is not None and start < until for start in starts)
        return bool(row.issued) and soon and too_much.isdisjoint(p.order for p in block.positions)

    return frozenset(
        (run.name, row.number)
        for each in answer.plan.runs
        for run, _, row in takewhile(is_frozen, _waiting(each))
    )


def as_run(plan: Plan, frozen: frozenset[tuple[str, int]] = frozenset()) -> Plan:
    """A plan with nothing but what was run, and with frozen sets as though they had been.

    What follows it is planned without regard to more.
    """
    runs = []
    for run in plan.runs:
        blocks = (
            replace(
                block,
                sets=tuple(
                    replace(row, done=True)
                    for row in block.sets
                    if row.done or (run.name, row.number) in frozen
                ),
            )
            for block in run.blocks
        )
        runs.append(replace(run, blocks=tuple(block for block in blocks if block.sets)))
    return replace(plan, number=plan.number or "run", runs=tuple(runs))


def _waiting(run: RunPlan) -> Iterator[tuple[RunPlan, Block, SetRow]]:
    return ((run, block, row) for block in run.blocks for row in block.sets if not row.done)
