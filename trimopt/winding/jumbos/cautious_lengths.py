"""Lengths that orders hardly break, and what a metre is worth where they cannot be seen.

Orders tie the lengths of many sets together, which programs that end jumbos set by set cannot see.
So ranges are narrowed for them, and metres valued for the worse of what an order may make of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.winding.jumbos.jumbo_ends import METRE, PLAIN, MetreWorth, jumbo_ends
from trimopt.winding.jumbos.laying import LengthBlock
from trimopt.winding.jumbos.order_slack import LengthProblem

_MAX_SWIFT_SETS = 1_000  # in a program that nothing stops


def narrowed(problem: LengthProblem, bold: float) -> tuple[LengthBlock, ...]:
    """Blocks with ranges narrowed so far that orders cannot break (`bold` 1), or hardly.

    An order that can give up s metres over all sets that serve it, of which the lengths of those
    sets could take r, lets each set have the share bold * s / r of its own range.
    """
    blocks = problem.blocks
    longer, shorter = [1.0] * len(blocks), [1.0] * len(blocks)
    for o, order in enumerate(problem.orders):
        # Lengths do not change what is made of an order by reels: it takes nothing off a range.
        serving = [
            (b, float(gain.gain_per_m))
            for b, row in enumerate(problem.gains)
            for gain in row
            if gain.order == o and gain.gain_per_m
        ]
        # Surplus may stay: up to the upper limit a metre less is no loss.
        most = order.high if order.surplus * order.beyond else order.max_made
        for slack, share, spread in (
            (
                None if most is None else most - order.made,
                longer,
                [b.max_m - b.length_m for b in blocks],
            ),
            (order.made - order.min_made, shorter, [b.length_m - b.min_m for b in blocks]),
        ):
            reach = sum(gain * spread[b] * blocks[b].sets for b, gain in serving)
            if slack is not None and reach > max(0.0, float(slack)):
                for b, _ in serving:
                    share[b] = min(share[b], max(0.0, float(slack)) / reach)
    return tuple(
        replace(
            block,
            min_m=math.ceil(
                block.length_m - min(1.0, bold * less) * (block.length_m - block.min_m)
            ),
            max_m=math.floor(
                block.length_m + min(1.0, bold * more) * (block.max_m - block.length_m)
            ),
        )
        for block, less, more in zip(blocks, shorter, longer, strict=True)
    )


def cautious_worth(problem: LengthProblem) -> tuple[MetreWorth, ...]:
    """What a metre on each block is worth where orders cannot be seen: the less for either way.

    A metre taken away is one that an order misses, a metre added one beyond what it asked.
    """
    if not problem.gains:
        return (PLAIN,) * len(problem.blocks)
    worth = []
    for row in problem.gains:
        below = beyond = Fraction(0)
        for gain in row:
            order = problem.orders[gain.order]
            if gain.gain_per_m and order.surplus * order.beyond:
                continue  # it has more than it may have: a metre on it is worth nothing
            tied = order.ordered is not None
            below += gain.worth_per_m * (1 + order.under if tied else 1)
            beyond += gain.worth_per_m * (1 - order.over if tied else 1)
        unit = problem.paper_per_m
        worth.append(
            MetreWorth(below=round(below / unit * METRE), beyond=round(beyond / unit * METRE))
        )
    return tuple(worth)


def swift_lengths(
    problem: LengthProblem, usable_m: Sequence[int]
) -> list[tuple[int, int, int]] | None:
    """(block, sets, metres) jumbo by jumbo in milliseconds, by a program that no budget stops.

    None where none fit. Ranges are so narrow that no order can leave its own.
    """
    if sum(block.sets for block in problem.blocks) > _MAX_SWIFT_SETS:
        return None
    blocks = narrowed(problem, 1.0) if problem.gains else problem.blocks
    ends = jumbo_ends(blocks, usable_m, cautious_worth(problem))
    if ends is None:
        return None
    return [
        (b, many, metres[b])
        for content, metres in zip(ends.contents, ends.metres, strict=True)
        for b, many in content
    ]
