"""Patterns of blocks that were issued, in the terms of what a run still lacks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from trimopt.cutting import Pattern, pattern_faults
from trimopt.making import PreparedRun
from trimopt.making.reel_patterns import ReelPatterns
from trimopt.plan.model import Block


def patterns_of(making: PreparedRun, blocks: Sequence[Block]) -> Iterator[Pattern]:
    """Each block's pattern at the length nearest to its own, and at the shortest.

    Reels of orders that lack nothing more are left out of it. There is none where without those
    it breaks a rule.
    """
    run = ReelPatterns(making)
    lacking = {order.number for order in making.run.orders}
    for block in blocks:
        reels = Counter((p.order, p.width_mm) for p in block.positions if p.order in lacking)
        there = [
            (each.length_m, pattern)
            for c, each in enumerate(making.classes)
            if each.jumbo_width_mm is None
            and each.core_mm == block.core_mm
            and (pattern := run.pattern(c, reels))
        ]
        if not reels or not there:
            continue
        nearest = min(there, key=lambda each: abs(each[0] - block.length_m))
        for _, pattern in dict.fromkeys((nearest, min(there))):
            if not pattern_faults(making.instance, pattern):
                yield pattern
