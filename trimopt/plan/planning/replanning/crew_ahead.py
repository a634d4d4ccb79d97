"""A crew that is faster than planned: what it has run is over now, and the rest comes sooner.

Nobody writes down when each set ran. The times of those that ran are drawn together in proportion,
so that the last of them ends now.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from trimopt.errors import RequestError
from trimopt.plan.model import Block, Plan, SetRow
from trimopt.plan.planning.replanning.standing import Standing


def brought_forward(
    standing: Sequence[Standing], issued: Plan, *, finished: datetime, now: datetime
) -> tuple[Standing, ...]:
    """The runs with the times of sets run since the plan was issued drawn together, to end now.

    Sets that are still to run start as much sooner.

    Parameters
    ----------
    finished
        When the last set that was run is finished as planned: later than `now`.

    Raises
    ------
    RequestError
        They had not begun by then.
    """
    before = {(run.name, row.number) for run in issued.runs for row in run.sets if row.done}
    begun, known = finished, datetime.min  # noqa: DTZ901  a mill's dates carry no zone
    for case in standing:
        for row in (row for block in case.head for row in block.sets):
            if (case.run.name, row.number) in before:
                known = max(known, row.finish or known)
            else:
                begun = min(begun, row.start or begun)
    begun = max(begun, known)
    if now <= begun:
        raise RequestError(
            f"now, {now:%Y-%m-%d %H:%M}, is no later than what was run began as planned, "
            f"{begun:%Y-%m-%d %H:%M}: name a later time, or none"
        )

    share, sooner = (now - begun) / (finished - begun), finished - now

    def drawn(moment: datetime) -> datetime:
        return moment if moment <= begun else min(now, begun + (moment - begun) * share)

    return tuple(
        replace(
            case,
            head=_moved(case.head, drawn),
            tail=_moved(case.tail, lambda moment: moment - sooner),
        )
        for case in standing
    )


def _moved(blocks: Sequence[Block], at: Callable[[datetime], datetime]) -> tuple[Block, ...]:
    def row_at(row: SetRow) -> SetRow:
        if row.start is None or row.finish is None:
            return row
        return replace(row, start=at(row.start), finish=at(row.finish))

    return tuple(replace(block, sets=tuple(map(row_at, block.sets))) for block in blocks)
