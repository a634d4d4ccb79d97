"""Sets on odd jumbos put in front of a run's other sets."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction

from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.schedule.running_order import RunningOrder
from trimopt.plan.planning.schedule.split_blocks import Split
from trimopt.winding import Arrangement, LaidBlock, Laying, Lot


def with_odd_jumbos(run: ChosenRun, split: Split) -> Split:
    """The run's sets behind those on its odd jumbos; as they are where it has none."""
    if run.odd is None:
        return split
    stage, rest = run.odd.stage, split.order
    cuts, blocks = len(stage.cuts), len(stage.blocks)
    lots = (*stage.lots, *(replace(lot, number=lot.number + cuts) for lot in rest.lots))
    arranged = (
        *stage.blocks,
        *(replace(block, lot=block.lot + cuts) for block in rest.arrangement.blocks),
    )
    butts = stage.butts_before(others=bool(rest.laying.sets))
    lost_mm_m = sum(
        ((b.wound_m + b.left_m * (not b.carried_forward)) * b.jumbo.width_mm for b in butts),
        Fraction(0),
    )
    laying = Laying(
        sets=(
            *stage.sets,
            *(replace(laid, block=laid.block + blocks) for laid in rest.laying.sets),
        ),
        butts=(*butts, *rest.laying.butts),
        unlaid=tuple(replace(row, block=row.block + blocks) for row in rest.laying.unlaid),
    )
    loss = rest.loss_area
    order = RunningOrder(
        arrangement=_together(rest.arrangement, _set_up(arranged, lots)),
        lots=lots,
        laying=laying,
        loss_area=None if loss is None else loss + lost_mm_m / run.making.unit_mm,
    )
    return replace(split, cuts=(*stage.cuts, *split.cuts), order=order)


def _set_up(blocks: tuple[LaidBlock, ...], lots: tuple[Lot, ...]) -> tuple[LaidBlock, ...]:
    """The blocks, each set up where the one before it was not for the same."""
    setting = {lot.number: lot.setting for lot in lots}
    done: list[LaidBlock] = []
    before: tuple[int, Counter[Fraction]] | None = None
    for block in blocks:
        now = setting[block.lot], Counter(strip.width_mm for strip in block.layout.strips)
        done.append(replace(block, set_up=now != before) if done else block)
        before = now
    return tuple(done)


def _together(rest: Arrangement, blocks: tuple[LaidBlock, ...]) -> Arrangement:
    """All blocks; bounds were for those of one width alone."""
    return replace(
        rest,
        blocks=blocks,
        set_ups=sum(block.set_up for block in blocks[1:]),
        moves=sum(block.moves for block in blocks),
        moves_bound=0,
        proven=False,
    )
