"""How well a running order fills its jumbos with sets about their classes' lengths.

What sets lose that move off their classes' lengths is known only with all orders together. Here it
is a price a metre, within ranges that orders hardly break (`narrowed`), and the full metre beyond
them. That is a shortest path over the sets, a tenth of a millisecond where the exact program of
ends (`trimopt.winding.jumbos.jumbo_ends`) takes several.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import inf

from trimopt.winding.jumbos.jumbo_ends import Content
from trimopt.winding.jumbos.length_relaxation import narrowed
from trimopt.winding.jumbos.order_slack import LengthProblem

__all__ = ["NominalEnds"]


# Of a set, metres: the least, the least that orders hardly break, the length wanted, and the most.
_Sizes = tuple[int, float, float, float]


class NominalEnds:
    """The shortest path of a run for any running order.

    Listed jumbos come one after another, then nominal ones without end.

    Parameters
    ----------
    problem
        The run.
    bold
        How far ranges reach (`narrowed`).
    off_price
        Cost of a metre between what a jumbo holds and its sets at the lengths wanted.
    wanted_m
        The length wanted of each block's sets.
    """

    def __init__(
        self, problem: LengthProblem, bold: float, off_price: float, wanted_m: Sequence[float]
    ) -> None:
        reach = narrowed(problem, bold) if problem.gains else problem.blocks
        self._sizes = [
            (block.min_m, min(near.min_m, wanted), wanted, max(near.max_m, wanted))
            for block, near, wanted in zip(problem.blocks, reach, wanted_m, strict=True)
        ]
        self._sets = [block.sets for block in problem.blocks]
        self.count = sum(self._sets)
        self._off_price = off_price
        supply = problem.supply
        self._layers = [jumbo.usable_m for jumbo in supply.stock]
        self._nominal = supply.nominal is not None
        if supply.nominal is not None:
            self._layers.append(supply.nominal.usable_m)

    def cost_m(self, order: Sequence[int]) -> float:
        """Cost of the best ends, metres of jumbo; infinite where the jumbos do not last."""
        return self._path(order)[0]

    def contents(self, order: Sequence[int]) -> tuple[Content, ...] | None:
        """Sets by block on each jumbo, blocks by their position in the problem."""
        cost, steps = self._path(order)
        if cost == inf:
            return None
        sets = [b for b in order for _ in range(self._sets[b])]
        found: list[Content] = []
        layer, end = steps[-1][len(sets)]
        found.append(tuple(sorted(Counter(sets[end:]).items())))
        while layer >= 0:
            before, first = steps[layer][end]
            found.append(tuple(sorted(Counter(sets[first:end]).items())))
            layer, end = before, first
        return tuple(reversed(found))

    def _path(self, order: Sequence[int]) -> tuple[float, list[list[tuple[int, int]]]]:
        """The least cost, and for each layer and number of sets wound the step that led there.

        A step is (layer, sets wound) before; layer -1 is before the first jumbo. The last row of
        steps is that of the last jumbo.
        """
        sizes = [self._sizes[b] for b in order for _ in range(self._sets[b])]
        count = len(sizes)
        costs = [0.0] + [inf] * count  # of the jumbos finished, by sets wound, before this layer
        finished: list[list[tuple[int, int]]] = []
        least, last = inf, (-1, 0)
        for layer, usable in enumerate(self._layers):
            endless = self._nominal and layer == len(self._layers) - 1
            least, last = self._last(sizes, costs, usable, layer - 1, (least, last))
            costs, steps = self._layer(sizes, costs, usable, layer, endless=endless)
            finished.append(steps)
            if endless:
                least, last = self._last(sizes, costs, usable, layer, (least, last))
        row = [(-1, 0)] * count + [last]
        return least, [*finished, row]

    def _layer(
        self,
        sizes: Sequence[_Sizes],
        before: Sequence[float],
        usable: int,
        layer: int,
        *,
        endless: bool,
    ) -> tuple[list[float], list[tuple[int, int]]]:
        """Costs after one jumbo of this length, or after as many as one likes."""
        off_price = self._off_price
        costs = [inf] * len(before)
        steps = [(layer - 1, 0)] * len(before)
        for end in range(len(before)):
            best, step = inf, (layer - 1, end)
            if end < len(sizes) and sizes[end][0] > usable:
                best = before[end]  # no set fits on it: it is not opened
            shortest = 0
            low = at = high = 0.0
            for first in range(end - 1, -1, -1):
                size = sizes[first]
                shortest += size[0]
                low += size[1]
                if shortest > usable or low - usable >= best:
                    break
                at += size[2]
                high += size[3]
                cost = off_price * abs(usable - at)
                if high < usable:
                    cost += usable - high
                elif low > usable:
                    cost += low - usable
                if before[first] + cost < best:
                    best, step = before[first] + cost, (layer - 1, first)
                if endless and costs[first] + cost < best:
                    best, step = costs[first] + cost, (layer, first)
            costs[end], steps[end] = best, step
        return costs, steps

    def _last(
        self,
        sizes: Sequence[_Sizes],
        costs: Sequence[float],
        usable: int,
        layer: int,
        known: tuple[float, tuple[int, int]],
    ) -> tuple[float, tuple[int, int]]:
        """The least cost with all that is left on one more jumbo, whose rest is not lost."""
        least, step = known
        shortest = 0
        low = at = 0.0
        for first in range(len(sizes) - 1, -1, -1):
            shortest += sizes[first][0]
            low += sizes[first][1]
            at += sizes[first][2]
            if shortest > usable:
                break
            cost = costs[first] + max(0, low - usable) + self._off_price * max(0, at - usable)
            if cost < least:
                least, step = cost, (layer, first)
        return least, step
