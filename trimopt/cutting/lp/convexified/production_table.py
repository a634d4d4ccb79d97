"""All ways to make a demand of whole pieces, in a table over what they give.

Where the ways are too many to be listed, the cheapest at given prices is read from a table: a
state says what is made so far, a piece of an option leads some states up, and from `low` on a state
has its loss. The table is made option by option, from the end: what it costs to go from a state to
a way. So it also lists all ways that cost little more than the cheapest.

References
----------
P. C. Gilmore, R. E. Gomory (1966), "The theory and computation of knapsack functions", Operations
Research 14, 1045-1074.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.instance import SCALE, Demand
from trimopt.cutting.model.loss import LossTable
from trimopt.cutting.model.products import whole_product

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_BITS = 61  # of whole numbers: twice as much is no way
_ROUNDING = 1e-9  # of the greatest sum, above what floats err by
_PROPORTIONAL = 1_000_000  # a worth that misses its share of the yield by less than one part in it
_WORK = 2  # of a cell


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProductionTable:
    """A demand by states.

    A piece of option k leads `steps[k]` states up and loses `own[k]`; `ends` is what is lost
    besides in each state from `low`, the `first`, on. No loss is more than that of the pieces.
    """

    steps: Ints
    own: Ints
    first: int
    ends: Ints

    @property
    def work(self) -> int:
        """What a table takes."""
        return _WORK * len(self.steps) * (self.first + len(self.ends))

    def losses(self, counts: Ints) -> Ints:
        """What each way loses; shape (ways, options)."""
        states = whole_product(counts, self.steps)
        return whole_product(counts, self.own) + self.ends[states - self.first]

    def best(self, prices: Floats, wanted: int) -> Ints:
        """Cheap ways at prices of a piece, the cheapest among them, shape (ways, options)."""
        costs = prices + self.own
        *_, table = self._tables(costs, self.ends.astype(np.float64), np.inf)
        each = costs + table[self.steps]  # the least with a piece of each option
        firsts = np.argsort(each, kind="stable")[:wanted]
        ways = [self._way(table, costs, int(k)) for k in firsts if each[k] < np.inf]
        if not self.first:
            ways.append(np.zeros(len(costs), dtype=np.int64))
        return np.array(ways, dtype=np.int64).reshape(-1, len(costs))

    def least(self, prices: Sequence[int], scale: int) -> Fraction:
        """No way costs less at prices of a piece, `scale` (a power of two) to a unit of loss."""
        costs = [price + int(own) * scale for price, own in zip(prices, self.own, strict=True)]
        pieces = (self.first + len(self.ends)) // int(self.steps.min()) + 1
        size = max(map(abs, costs)) * pieces + int(np.abs(self.ends).max()) * scale
        # All rounded down, so that no way comes to more.
        down = max(0, size.bit_length() - _BITS)
        up = scale.bit_length() - 1 - down
        ends = self.ends << up if up > 0 else self.ends >> -up
        whole = np.array([cost >> down for cost in costs], dtype=np.int64)
        *_, table = self._tables(whole, ends, 1 << (_BITS + 1))
        return Fraction(int(table[0]) << down, scale)

    def near(self, prices: Floats, span: float, max_ways: int) -> Ints | None:
        """All ways that cost less than `span` more than the cheapest; None where too many."""
        costs = prices + self.own
        tables = [t.copy() for t in self._tables(costs, self.ends.astype(np.float64), np.inf)]
        size = float(np.abs(costs).max()) * len(tables[0]) / float(self.steps.min())
        most = float(tables[-1][0]) + span + _ROUNDING * size
        states, sums = np.zeros(1, dtype=np.int64), np.zeros(1)
        counts = np.zeros((1, len(costs)), dtype=np.int64)
        # The last table knows all options, the one before it all but the first, and so on.
        for k in range(len(costs)):
            with_it, left = tables[len(costs) - k], tables[len(costs) - k - 1]
            kept, number = [], 0
            while len(states):
                ends = sums + left[states] <= most
                kept.append((states[ends], sums[ends], counts[ends]))
                number += int(ends.sum())
                if number > max_ways:
                    return None
                states, sums = states + self.steps[k], sums + costs[k]
                goes = sums + with_it[states] <= most
                states, sums, counts = states[goes], sums[goes], counts[goes]
                counts[:, k] += 1
            states, sums, counts = (np.concatenate(some) for some in zip(*kept, strict=True))
        return counts

    def _tables(
        self, costs: NDArray[Any], ends: NDArray[Any], none: float
    ) -> Iterator[NDArray[Any]]:
        """What it costs to end from each state, by the last options: none, one, … all of them."""
        top = self.first + len(ends)
        table = np.full(top + int(self.steps.max()), none, dtype=ends.dtype)
        table[self.first : top] = ends
        yield table
        for step, cost in zip(self.steps.tolist()[::-1], costs.tolist()[::-1], strict=True):
            for low in range((top - 1) // step * step, -1, -step):
                high = min(low + step, top)
                block = table[low:high]
                np.minimum(block, table[low + step : high + step] + cost, out=block)
            yield table

    def _way(self, table: Floats, costs: Floats, first: int) -> Ints:
        way = np.zeros(len(costs), dtype=np.int64)
        way[first] = 1
        state = int(self.steps[first])
        while True:
            after = costs + table[state + self.steps]
            k = int(after.argmin())
            if state >= self.first and self.ends[state - self.first] <= after[k]:
                return way
            way[k] += 1
            state += int(self.steps[k])


def production_table(demand: Demand, yields: Ints, max_cells: int) -> ProductionTable | None:
    """Return the table of a demand; None where it has more than so many cells, or no `high`.

    Parameters
    ----------
    yields
        Yield and worth of a piece of each option, shape (options, 2).
    """
    if demand.high is None or not len(yields):
        return None
    gains, worths = yields.T
    unit = int(np.gcd.reduce(gains))
    top = (max(demand.low, demand.high) + int(gains.max()) - 1) // unit + 1
    steps, own, width = gains // unit, np.zeros(len(gains), dtype=np.int64), 1
    least = -(-demand.low // unit)
    if top * len(gains) > max_cells:
        return None
    made = unit * np.arange(least, top)
    by_price = demand.ordered is not None and (demand.under_price or demand.over_price)
    best = max(range(len(gains)), key=lambda k: Fraction(int(worths[k]), int(gains[k])))
    if not by_price:  # what is lost is a sum over pieces, but for the surplus
        own, worth = -SCALE * worths, np.zeros_like(made)
    elif (worths[best] * gains <= gains[best] * (worths + worths // _PROPORTIONAL)).all():
        worth = -(-made * worths[best] // gains[best])  # up, so that nothing loses too much
    else:  # two figures make a state
        of_worth = max(1, int(np.gcd.reduce(worths)))
        width = top * int(worths[best]) * unit // (int(gains[best]) * of_worth) + 2
        if top * width * len(gains) > max_cells:
            return None
        steps = steps * width + worths // of_worth
        worth = np.tile(of_worth * np.arange(width), len(made))
        made = np.repeat(made, width)
    ends = LossTable.one(demand).loss(made, worth)
    return ProductionTable(steps=steps, own=own, first=least * width, ends=ends)
