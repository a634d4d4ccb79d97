"""Sets that were run: those of the plan as issued, and what is said to have run since."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from trimopt.book.model import Order, Product, Stretch
from trimopt.errors import PlanError
from trimopt.making import sheeter_width_mm
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, Plan, Position, RunPlan, SetRow
from trimopt.plan.reel_rows import largest_mm
from trimopt.plan.replan import DoneSet, WhatRan
from trimopt.winding import StockJumbo
from trimopt.winding.jumbos.laying import segments_on

_SAME_CORE_MM = 0.05


def done_before(run: RunPlan) -> dict[int, DoneSet]:
    """Sets that were run before the plan as issued was made."""
    return {
        row.number: DoneSet(
            run=run.name, number=row.number, length_m=row.length_m, spoiled=row.spoiled
        )
        for block in run.blocks
        for row in block.sets
        if row.done
    }


def require_sets(issued: Plan, ran: WhatRan) -> None:
    """Raise a PlanError where a set is none of the plan, or a spoiled reel none of its set."""
    known = {
        (run.name, row.number): [reel.number for reel in block.reels]
        for run in issued.runs
        for block, row in run.sets_in_blocks
    }
    for each in ran.sets:
        if (each.run, each.number) not in known:
            numbers = [number for run, number in known if run == each.run]
            right = f"its sets are {min(numbers)} to {max(numbers)}" if numbers else (
                f"its runs are {', '.join(run.name for run in issued.runs)}"
            )  # fmt: skip
            raise PlanError(f"plan {issued.number} has no set {each.number} of {each.run}: {right}")
        reels = known[each.run, each.number]
        if not set(each.spoiled) <= set(reels):
            lie = f"its reels lie at {', '.join(map(str, reels))}"
            raise PlanError(f"set {each.number} of {each.run}: spoiled {list(each.spoiled)}: {lie}")


def as_wound(
    issued: RunPlan,
    done: Mapping[int, DoneSet],
    orders: Mapping[str, Order],
    whole: Mapping[str, StockJumbo],
    mill: Mill,
) -> Iterator[Block]:
    """The blocks of what was run, with lengths as wound, end to end on their jumbos.

    Parameters
    ----------
    orders
        Those of the run as the book has them now, that can be made.
    whole
        Jumbos of the plan as issued as they are, whole.
    """
    reached: dict[str, int] = {}
    for block in issued.blocks:
        lost = {p.number for p in block.positions if not _serves(p, block, orders, mill)}
        rows = []
        for row in (row for row in block.sets if row.number in done):
            each = done[row.number]
            length_m = row.length_m if each.length_m is None else each.length_m
            rows.append(
                replace(
                    row,
                    length_m=length_m,
                    diameter_mm=largest_mm(issued, block, length_m),
                    stretches=_stretches(row, length_m, reached, whole),
                    done=True,
                    spoiled=tuple(sorted({*row.spoiled, *each.spoiled, *lost})),
                )
            )
        if rows:
            yield replace(block, sets=tuple(rows))


def _stretches(
    row: SetRow, length_m: int, reached: dict[str, int], whole: Mapping[str, StockJumbo]
) -> tuple[Stretch, ...]:
    """The set's parts, one after another as far as it was wound, and what is more on the last."""
    parts, left_m = [], length_m
    for part in row.stretches[:-1]:
        parts.append((part.jumbo, min(part.to_m - part.from_m, left_m)))
        left_m -= parts[-1][1]
    parts.append((row.stretches[-1].jumbo, left_m))
    wound = [(name, metres) for name, metres in parts if metres or name == parts[0][0]]
    stretches = segments_on(wound, whole, reached)
    reached |= {each.jumbo: each.to_m for each in stretches}
    return stretches


def _serves(position: Position, block: Block, orders: Mapping[str, Order], mill: Mill) -> bool:
    """Whether a reel that was run is one of its order as the book has it now; a broke reel: yes."""
    if position.kind == "broke":
        return True
    order = orders.get(position.order)
    if order is None:
        return False
    if order.product is Product.REEL:
        core_mm = block.core_mm if position.core_mm is None else position.core_mm
        free = order.core_mm is None or core_mm is None
        return order.width_mm == position.width_mm and (
            free or abs(float(order.core_mm or 0) - float(core_mm or 0)) < _SAME_CORE_MM
        )
    sheeter = next((each for each in mill.sheeters if each.name == position.sheeter), None)
    if sheeter is None or position.ups is None:
        return False
    return sheeter_width_mm(order.width_mm, position.ups, sheeter) == position.width_mm
