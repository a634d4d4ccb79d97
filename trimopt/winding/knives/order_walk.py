"""A walk over running orders that goes by what they cost at the least, whatever the layouts."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from random import Random

from trimopt.winding.knives.order_costs import Running
from trimopt.winding.knives.order_path import Steps

__all__ = ["Walk"]

_STEPS = 60  # at a time
_WARM = 0.5  # moves: a step to an order that promises so many more is taken once in e


class Walk:
    """Leads to orders that promise few moves.

    Parameters
    ----------
    steps
        What orders cost at the least.
    running
        What they cost besides.
    draw
        Chance.
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
        draw = self.draw
        now, promise = list(order), self.promise(order)
        for _ in range(_STEPS):
            first, last = sorted(draw.sample(range(len(now) + 1), 2))
            part = now[first:last]
            new = now[:first] + now[last:]
            gap = draw.randrange(len(new) + 1)
            new[gap:gap] = part if draw.random() < 0.5 else part[::-1]
            if not self.running.allowed(new):
                continue
            other = self.promise(new)
            worse = (other - promise) / self.running.move
            if worse <= 0 or draw.random() < exp(-worse / _WARM):
                now, promise = new, other
        self.work += _STEPS * len(now)
        return now, promise
