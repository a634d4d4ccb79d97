"""A run ended after some of its sets, all that is run before staying as it was laid out."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from trimopt.cutting import Cut
from trimopt.plan.planning.running_order import Wound
from trimopt.winding.jumbos.laying import Laying

__all__ = ["cut_off"]


def cut_off(cuts: tuple[Cut, ...], wound: Wound, sets: int) -> tuple[tuple[Cut, ...], Wound]:
    """The cuts that are left of a run with its first sets alone, and how they are wound.

    Parameters
    ----------
    cuts, wound
        Of the whole run; a lot's number is the place of its cut.
    sets
        How many are run, in running order; one at the least.
    """
    rows = wound.laying.sets[:sets]
    kept = Counter(row.block for row in rows)
    lots = tuple(
        replace(lot, number=place, sets=kept[place])
        for place, lot in enumerate(wound.lots[: len(kept)])
    )
    blocks = tuple(
        replace(block, lot=place, sets=kept[place])
        for place, block in enumerate(wound.arrangement.blocks[: len(kept)])
    )
    reached = {part.jumbo: part.to_m for row in rows for part in row.segments}
    last = rows[-1].segments[-1].jumbo
    butts = []
    for butt in wound.laying.butts:
        if butt.jumbo.name in reached:
            left_m = butt.jumbo.usable_m - reached[butt.jumbo.name]
            butts.append(
                replace(
                    butt,
                    wound_m=reached[butt.jumbo.name],
                    left_m=left_m,
                    carried_forward=butt.jumbo.name == last and left_m > 0,
                )
            )
    arrangement = replace(
        wound.arrangement,
        blocks=blocks,
        set_ups=sum(block.set_up for block in blocks[1:]),
        moves=sum(block.moves for block in blocks),
        moves_simple=sum(block.moves_simple for block in blocks),
        moves_bound=0,  # those known are for all of the lots
        moves_simple_bound=0,
        proven=False,
    )
    return (
        tuple(replace(cuts[wound.lots[lot.number].number], sets=lot.sets) for lot in lots),
        Wound(
            arrangement=arrangement,
            lots=lots,
            laying=Laying(sets=rows, butts=tuple(butts)),
            loss_area=None,
        ),
    )
