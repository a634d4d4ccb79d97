"""Plans of the rest made without regard to the one before, which others are held against.

One is free of everything but what was run. The other has the frozen sets too, those of the next
hour that stay as issued whatever it costs: what it loses beside the first the frozen hour costs,
and only what a plan loses beside the second was its own choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from tests.shifts.must_hold import set_key
from trimopt import Plan, Replan
from trimopt.plan.model import Block, SetRow
from trimopt.plan.planning.replanning.kept_sets import still_wanted
from trimopt.plan.planning.replanning.standing import Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Afresh:
    """What a plan from scratch loses, and one from scratch after the frozen sets."""

    free_kg: float
    after_frozen_kg: float


def lost_kg(plan: Plan) -> float:
    """What the runs of a plan use and do not deliver."""
    return sum(run.balance.used_kg - run.balance.delivered_kg for run in plan.runs)


def frozen_sets(answer: Replan, standing: Sequence[Standing]) -> frozenset[tuple[str, int]]:
    """Runs and numbers of the sets that stay as issued because they start soon.

    They are the first to run. One that gives an order more than it may have now, or one of an
    order that is cancelled, need not stay.

    Parameters
    ----------
    standing
        The runs of the plan as issued as they stood when the answer was asked for.
    """
    assert answer.plan.replanned is not None
    until = answer.plan.replanned.keep_until
    frozen: list[tuple[str, int]] = []
    for case in standing:
        orders = {order.number for order in case.run.orders}
        known = [b for b in case.tail if orders >= {p.order for p in b.positions if p.order}]
        wanted = still_wanted(case, known, as_asked=True)
        issued = iter([set_key(*each) for each in _soon(wanted, until)])
        runs = (run for run in answer.plan.runs if run.name == case.run.name)
        for block, row in (each for run in runs for each in _soon(run.blocks, until)):
            if set_key(block, row) not in issued:
                break
            frozen.append((case.run.name, row.number))
    return frozenset(frozen)


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


def _soon(blocks: Sequence[Block], until: datetime) -> Iterator[tuple[Block, SetRow]]:
    """Sets to be run that start before then."""
    for block in blocks:
        for row in block.sets:
            if not row.done and row.start is not None and row.start < until:
                yield block, row
