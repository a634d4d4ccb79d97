"""What is asked of the rest of a run: instructions less what sets that stand answer already.

Orders that take no more are none of the rest, so no instruction of the rest names one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from trimopt.book.model import Instruction, InstructionPiece
from trimopt.making import Run
from trimopt.mill.model import Mill
from trimopt.plan.model import Block
from trimopt.plan.planning.instructions.instructed_run import reels_pinned
from trimopt.plan.planning.instructions.instruction_rules import widths_forbidden
from trimopt.plan.planning.run_patterns import RunTask


def for_the_rest(
    asked: Sequence[Instruction], blocks: Sequence[Block], run: Run, mill: Mill
) -> Iterator[Instruction]:
    """What is asked of a run behind these blocks.

    Of pins there are those sets left that do not stand among the blocks; what is forbidden is
    widths, whichever orders they are for.
    """
    for one in asked:
        if one.what == "forbid":
            widths = widths_forbidden(one, run, mill)
            pieces = (InstructionPiece(width_mm=mm, count=n) for mm, n in sorted(widths.items()))
            yield replace(one, pattern=tuple(pieces))
        elif one.what != "pin":
            yield one
        else:
            sets = sum(len(block.sets) for block in blocks if pins(one, block))
            if sets < (one.number or 1):
                yield replace(one, number=(one.number or 1) - sets)


def pins(instruction: Instruction, block: Block) -> bool:
    """Whether a pin asks for sets such as those of a block, at whatever length."""
    reels = Counter((p.order, p.ups) for p in block.positions if p.kind != "broke")
    return (
        instruction.what == "pin"
        and reels_pinned(instruction) == reels
        and instruction.core_mm in (None, block.core_mm)
    )


def for_lacking(task: RunTask, lacking: Run) -> RunTask:
    """The same for what orders lack; what cannot be kept without one that lacks nothing is out."""
    numbers = {order.number for order in lacking.orders}
    asked = []
    for one in task.instructions:
        if one.what == "apart":
            one = replace(one, orders=tuple(each for each in one.orders if each in numbers))  # noqa: PLW2901
        if one.named <= numbers and (one.what != "apart" or len(one.orders) > 1):
            asked.append(one)
    return replace(task, run=lacking, instructions=tuple(asked))
