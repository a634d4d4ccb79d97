"""Held enquiries of the plan as issued that have become orders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trimopt.book.model import TakenUp
from trimopt.plan.model import Plan, Position


def as_ordered(issued: Plan, taken: Sequence[TakenUp]) -> Plan:
    """A plan as issued in which held enquiries that have become orders since bear their numbers.

    So a reel that was run, or is to run, for what was held then is the order's now.
    """
    numbers = {each.held: each.order for each in reversed(taken)}
    if not numbers:
        return issued

    def named(position: Position) -> Position:
        return replace(position, order=numbers.get(position.order, position.order))

    runs = (
        replace(
            run,
            blocks=tuple(
                replace(block, positions=tuple(map(named, block.positions))) for block in run.blocks
            ),
            orders=tuple(
                replace(line, number=numbers[line.number], held_until=None)
                if line.number in numbers
                else line
                for line in run.orders
            ),
        )
        for run in issued.runs
    )
    return replace(issued, runs=tuple(runs))
