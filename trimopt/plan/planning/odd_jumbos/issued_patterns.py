"""Patterns of blocks that were issued, in the terms of what a run still lacks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from trimopt.cutting import Pattern, pattern_faults
from trimopt.making import PreparedRun
from trimopt.plan.model import Block


def patterns_of(making: PreparedRun, blocks: Sequence[Block]) -> Iterator[Pattern]:
    """Each block's pattern at the length nearest to its own, and at the shortest.

    Reels of orders that lack nothing more are left out of it. There is none where without those
    it breaks a rule.
    """
    options = {
        (each.winding_class, each.order.number, each.width_mm, each.ups, each.sheeter): k
        for k, each in enumerate(making.options)
    }
    lacking = {order.number for order in making.run.orders}
    own = [(c, each) for c, each in enumerate(making.classes) if each.jumbo_width_mm is None]
    for block in blocks:
        reels = Counter(
            (p.order, p.width_mm, p.ups, p.sheeter) for p in block.positions if p.order in lacking
        )
        there = [
            (each.length_m, c)
            for c, each in own
            if each.core_mm == block.core_mm and all((c, *reel) in options for reel in reels)
        ]
        if not reels or not there:
            continue
        nearest = min(there, key=lambda each: abs(each[0] - block.length_m))
        for _, c in dict.fromkeys((nearest, min(there))):
            pieces = sorted((options[c, *reel], count) for reel, count in reels.items())
            pattern = Pattern(c, tuple(pieces))
            if not pattern_faults(making.instance, pattern):
                yield pattern
