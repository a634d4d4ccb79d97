"""Runs one after another on the winder: their clock times, and which orders are late."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from trimopt.plan.model import Block, OrderLine, RunPlan

__all__ = ["finished_at", "in_turn"]


def in_turn(runs: Sequence[RunPlan], start: datetime) -> tuple[RunPlan, ...]:
    """The runs in order of their earliest due time, each begun when the one before is finished.

    Runs with nothing due come last, in the order given.
    """
    no_due = datetime.max.replace(tzinfo=start.tzinfo)

    def earliest(run: RunPlan) -> datetime:
        return min((line.due for line in run.orders if line.due is not None), default=no_due)

    timed = []
    now = start
    for run in sorted(runs, key=earliest):
        moved = _begun_at(run, now)
        timed.append(moved)
        now = moved.finish or now
    return tuple(timed)


def _begun_at(run: RunPlan, start: datetime) -> RunPlan:
    if run.start is None or run.finish is None:
        return run
    shift = start - run.start
    return replace(
        run,
        start=start,
        finish=run.finish + shift,
        blocks=tuple(_later(block, shift) for block in run.blocks),
        orders=tuple(_judged(line, shift) for line in run.orders),
    )


def _later(block: Block, shift: timedelta) -> Block:
    return replace(
        block,
        sets=tuple(
            replace(
                row,
                start=None if row.start is None else row.start + shift,
                finish=None if row.finish is None else row.finish + shift,
            )
            for row in block.sets
        ),
    )


def _judged(line: OrderLine, shift: timedelta) -> OrderLine:
    return line if line.finished is None else finished_at(line, line.finished + shift)


def finished_at(line: OrderLine, finished: datetime) -> OrderLine:
    """The order finished then, and late where that is after its due time."""
    line = replace(line, finished=finished)
    if line.due is not None and finished > line.due and line.state in ("met", "met, light", "late"):
        text = f"finished {finished:%d %b %H:%M}, due {line.due:%d %b %H:%M}"
        return replace(line, state="late", text=text)
    return line
