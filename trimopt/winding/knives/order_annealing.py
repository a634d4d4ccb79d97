"""Steps that all searches over running orders share, and a walk that looks at orders alone.

The walk is simulated annealing over what orders cost at the least, whatever the layouts: an order
that promises less than the best so far is worth being laid out.

References
----------
Kirkpatrick, Gelatt, Vecchi (1983), "Optimization by simulated annealing", Science 220.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from random import Random

from trimopt.winding.knives.move_bounds import Steps
from trimopt.winding.knives.order_costs import Running

_STEPS = 60  # at a time
_WARMTH = 0.5  # moves


def accepted(worse: float, warmth: float, draw: Random) -> bool:
    """Whether a step is taken that is so much worse: one that costs `warmth`, once in e."""
    return worse <= 0 or (warmth > 0 and draw.random() < exp(-worse / warmth))


def part_moved(order: Sequence[int], draw: Random) -> list[int]:
    """The order with a part of it moved, turned round, or both (Or 1976; Lin 1965)."""
    first, last = sorted(draw.sample(range(len(order) + 1), 2))
    part = list(order[first:last])
    new = [*order[:first], *order[last:]]
    if draw.random() < 0.5:
        part.reverse()
    at = first if draw.random() < 0.5 else draw.randrange(len(new) + 1)
    new[at:at] = part
    return new


class OrderWalk:
    """Leads to orders that promise few moves.

    Parameters
    ----------
    steps
        What orders cost at the least.
    """

    def __init__(self, steps: Steps, running: Running, draw: Random) -> None:
        self.steps = steps
        self.running = running
        self.draw = draw
        self.work = 0

    def promise(self, order: Sequence[int]) -> int:
        """What an order costs at the least, as `Running` counts costs."""
        return self.steps.cost(order) * self.running.move + self.running.extra(order)

    def on(self, order: Sequence[int]) -> tuple[list[int], int]:
        """Some steps on from an order: the one that is come to, and what it promises."""
        now, promise = list(order), self.promise(order)
        for _ in range(_STEPS):
            new = part_moved(now, self.draw)
            if not self.running.allowed(new):
                continue
            other = self.promise(new)
            if accepted((other - promise) / self.running.move, _WARMTH, self.draw):
                now, promise = new, other
        self.work += _STEPS * len(now)
        return now, promise
