"""Reels of a set that a band of defects lies in, at the place where the set is wound."""

from __future__ import annotations

from trimopt.plan.model import Block
from trimopt.winding import StockJumbo


def hit_by_bands(block: Block, jumbo: StockJumbo, from_m: int, to_m: int) -> frozenset[int]:
    """Positions that a band of the jumbo touches, broke reels apart.

    Parameters
    ----------
    from_m, to_m
        Of the set, from where the jumbo's usable length begins.
    """
    bands = [
        (each.from_mm, each.to_mm)
        for each in jumbo.defects
        if (each.from_mm > 0 or each.to_mm < jumbo.width_mm)
        and each.from_m < to_m + jumbo.loss_start_m
        and from_m + jumbo.loss_start_m < each.to_m
    ]
    hit, front = set(), block.edge_front_mm
    for position in block.positions:
        back = front + position.width_mm
        if position.kind != "broke" and any(start < back and front < end for start, end in bands):
            hit.add(position.number)
        front = back
    return frozenset(hit)
