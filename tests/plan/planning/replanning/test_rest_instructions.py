"""What is asked of a run of which an order lacks nothing more."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import rest_search
from trimopt import Instruction
from trimopt.book.model import InstructionPiece
from trimopt.plan.planning.replanning.block_lengths import BlockLengths
from trimopt.plan.planning.replanning.standing import Standing


def test_sets_have_the_length_that_a_pin_or_the_winder_asks_for(cases: tuple[Case, Case]) -> None:
    """Kept or new: no jumbo is filled by longer or shorter ones."""
    case = cases[0]
    stands = rest_search(case, case.book).case
    block = next(b for b in stands.tail if all(p.kind != "broke" for p in b.positions))
    counts = Counter((p.order, p.ups, p.sheeter) for p in block.positions)
    pieces = tuple(
        InstructionPiece(order=order, ups=ups, sheeter=sheeter, count=count)
        for (order, ups, sheeter), count in counts.items()
    )
    pin = Instruction(what="pin", pattern=pieces, length_m=block.length_m, number=1)
    mill = replace(
        stands.mill, winders=(replace(stands.mill.winder, length_change_is_set_up=True),)
    )

    def spans(of: Standing, *pins: Instruction) -> set[int]:
        lengths = BlockLengths(
            case=of, kept=(block,), new=(block,), lengths=((block.core_mm, block.length_m),),
            pins=pins,
        )  # fmt: skip
        free = frozenset((0, place) for place in range(len(block.sets)))
        rows = [row for kept in (True, False) for row, _ in lengths.rows((kept, 0), free)]
        return {row.max_m - row.min_m for row in rows}

    assert 0 not in spans(stands)
    assert spans(stands, pin) == {0}
    assert spans(replace(stands, mill=mill)) == {0}
    assert 0 not in spans(stands, replace(pin, length_m=None))
