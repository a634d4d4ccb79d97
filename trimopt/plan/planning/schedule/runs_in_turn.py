"""Runs one after another on the winder: knives, clock times, and which orders are late.

A run begins with the knives where the run before left them: its knife moves, and the minutes for
them, are counted from there. Places are counted from the front edge of the web, also where the next
web is of another width.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from trimopt.making import Run
from trimopt.mill.model import Winder
from trimopt.plan.model import Block, OrderLine, RunPlan
from trimopt.plan.states import LACKING, OrderState, most_pressing_first
from trimopt.winding.knives.idle_knives import beams_from
from trimopt.winding.knives.knife_moves import Beam, starting_beams, stated_knives


def by_due(run: Run | RunPlan) -> datetime:
    """What runs follow one another by: the earliest due time, those with nothing due last."""
    dues = (line.due for line in run.orders if line.due is not None)
    return min(dues, default=datetime.max)  # noqa: DTZ901  a mill's dates carry no zone


def in_turn(runs: Sequence[RunPlan], start: datetime, winder: Winder) -> tuple[RunPlan, ...]:
    """The runs in order of their earliest due time, each begun when the one before is finished.

    Runs with nothing due come last, in the order given. The first that has sets begins with the
    knives where the mill file says that they stand, if it does.
    """
    timed = []
    now = start
    before: Block | None = None
    for run in sorted(runs, key=by_due):
        starts: tuple[Beam, ...] = ()
        if before is not None:
            starts = starting_beams(before.beam_mm, winder)
        elif winder.knives_at_mm:
            starts = starting_beams(stated_knives(winder, run.jumbo_width_mm), winder)
        moved = _begun_at(_knives_from(starts, run, winder), now)
        timed.append(moved)
        now = moved.finish or now
        before = moved.blocks[-1] if moved.blocks else before
    return tuple(timed)


def _knives_from(starts: Sequence[Beam], run: RunPlan, winder: Winder) -> RunPlan:
    """The run with knives, moves and minutes counted from where the knives stand before it."""
    if not starts or not run.blocks:
        return run
    rows = [block.knives_mm for block in run.blocks]
    steps = beams_from(starts, rows, [block.beam_mm for block in run.blocks], winder)
    later = timedelta(0)
    blocks = []
    for block, step in zip(run.blocks, steps, strict=True):
        more = timedelta(minutes=(step.moves - block.knife_moves) * winder.knife_move_min)
        sets = _later(block, later + more).sets
        if block.sets[0].start is not None:  # the moves are made in its first set's time
            sets = (replace(sets[0], start=block.sets[0].start + later), *sets[1:])
        later += more
        blocks.append(
            replace(
                block,
                knife_moves=step.moves,
                knives_moved=step.moved,
                set_up=block.set_up if block.number > 1 else step.moves > 0,
                beam_mm=step.beam_mm,
                sets=sets,
            )
        )
    moves = sum(step.moves for step in steps)
    finish = {row.number: row.finish for block in blocks for row in block.sets}
    return replace(
        run,
        blocks=tuple(blocks),
        knife_moves=moves,
        minutes=run.minutes + later.total_seconds() / 60,
        finish=None if run.finish is None else run.finish + later,
        orders=tuple(
            line if line.last_set is None else replace(line, finished=finish[line.last_set])
            for line in run.orders
        ),
        trade_off=tuple(
            replace(point, knife_moves=moves) if point.chosen else point for point in run.trade_off
        ),
    )


def _begun_at(run: RunPlan, start: datetime) -> RunPlan:
    if run.start is None or run.finish is None:
        return run
    shift = start - run.start
    return replace(
        run,
        start=start,
        finish=run.finish + shift,
        blocks=tuple(_later(block, shift) for block in run.blocks),
        orders=tuple(
            line if line.finished is None else finished_at(line, line.finished + shift)
            for line in run.orders
        ),
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


def finished_at(line: OrderLine, finished: datetime) -> OrderLine:
    """The order finished then, and late where that is after its due time and nothing is lacking."""
    states = set(line.states) - {OrderState.LATE}
    if line.due is not None and finished > line.due and line.state not in LACKING:
        states.add(OrderState.LATE)
    first, *also = most_pressing_first(states or {OrderState.MET})
    return replace(line, finished=finished, state=first, also=tuple(also))
