"""How well running orders fill their jumbos with sets about their classes' lengths.

What sets lose that move off their classes' lengths is known only with all orders together. Here it
is a price a metre, within ranges that orders hardly break (`narrowed`), and the full metre beyond
them. That is a shortest path over the sets: some tens of microseconds an order where many are asked
about at once.

Lengths are counted in 64ths of a metre and prices in tenths, so that costs are whole numbers and
rounding tells no two orders apart that cost the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf

import numpy as np
from numpy.typing import NDArray

from trimopt.winding.jumbos.laying import Content
from trimopt.winding.jumbos.order_slack import LengthProblem, narrowed

Floats = NDArray[np.float64]

REACHES = ((2.0, 0.3), (1.0, 0.3), (2.0, 0.1), (1.0, 0.1))
"""How far ranges reach, and what a metre off the length wanted costs within them, metres."""

_PARTS = 64  # of a metre
_TENTHS = 10  # of the full price of a metre
_METRE = _PARTS * _TENTHS
_MAX_AT_ONCE = 64
_CELLS = 100_000  # of a table


@dataclass(frozen=True, slots=True)
class _OnJumbo:
    """A listed jumbo, or nominal ones without end. Rows are sets wound, columns running orders.

    `before` is the least cost of the jumbos finished before, `after` with this one, or some of
    these; `begin` where one of them can begin. `used[n, -d]` is what one costs that has the last d
    of n sets. Where it is too short for the next set it may stay closed (`closed`).
    """

    usable: int
    endless: bool
    before: Floats
    begin: Floats
    after: Floats
    used: Floats
    closed: NDArray[np.bool_]

    def first(self, end: int) -> int:
        """The first set on the jumbo that ends before a set, of the one order asked about."""
        if not self.endless and self.closed[end, 0] and self.after[end, 0] == self.before[end, 0]:
            return end
        for d in range(1, self.used.shape[1] + 1):
            if self.begin[end - d, 0] + self.used[end, -d, 0] == self.after[end, 0]:
                return end - d
        raise AssertionError("a cost that no jumbo has")


class NominalEnds:
    """The shortest paths of a run for any running orders.

    Listed jumbos come one after another, then nominal ones without end.

    Parameters
    ----------
    bold
        How far ranges reach (`narrowed`).
    off_price
        Cost of a metre between what a jumbo holds and its sets at the lengths wanted, in tenths.
    wanted_m
        The length wanted of each block's sets.
    """

    def __init__(
        self, problem: LengthProblem, bold: float, off_price: float, wanted_m: Sequence[float]
    ) -> None:
        reach = narrowed(problem, bold) if problem.gains else problem.blocks
        # Of a set: the least, the least that orders hardly break, the length wanted, the most.
        self._sizes = np.array(
            [
                (block.min_m, min(near.min_m, wanted), wanted, max(near.max_m, wanted))
                for block, near, wanted in zip(problem.blocks, reach, wanted_m, strict=True)
            ]
        )
        self._sizes = np.round(self._sizes.T * _PARTS)
        self._sets = np.array([block.sets for block in problem.blocks])
        self.count = int(self._sets.sum())
        self._off_price = round(off_price * _TENTHS)
        supply = problem.supply
        self._jumbos = [(jumbo.usable_m * _PARTS, False) for jumbo in supply.stock]
        if supply.nominal is not None:
            self._jumbos.append((supply.nominal.usable_m * _PARTS, True))
        shortest = np.cumsum(np.sort(np.repeat(self._sizes[0], self._sets)))
        longest_jumbo = max(usable for usable, _ in self._jumbos)
        most = int(np.searchsorted(shortest, longest_jumbo, side="right"))
        self._most = max(1, most)  # sets on a jumbo; where it holds none, one that costs infinity

    @property
    def at_once(self) -> int:
        """So many orders are best asked about together: more, and tables leave the cache."""
        return max(1, min(_MAX_AT_ONCE, _CELLS // (self.count * self._most)))

    def costs_m(self, orders: Sequence[Sequence[int]]) -> Floats:
        """Cost of the best ends of each order, metres of jumbo; infinite where jumbos end first."""
        until = self._until(orders)
        costs = [self._last(until, jumbo).min(axis=0) for jumbo in self._path(until)]
        least: Floats = np.min(costs, axis=0) / _METRE
        return least

    def contents(self, order: Sequence[int]) -> tuple[Content, ...] | None:
        """Sets by block on each jumbo, blocks by their position in the problem."""
        until = self._until([order])
        path = list(self._path(until))
        last = [self._last(until, jumbo)[:, 0] for jumbo in path]
        at = min(range(len(path)), key=lambda at: last[at].min())
        if last[at].min() == inf:
            return None
        ends = [self.count, self.count - 1 - int(np.argmin(last[at]))]
        while True:
            jumbo, end = path[at], ends[-1]
            if not (jumbo.endless and jumbo.begin[end, 0] < jumbo.before[end, 0]):
                at -= 1
            if at < 0:
                break
            ends.append(path[at].first(end))
        sets = [b for b in order for _ in range(self._sets[b])]
        return tuple(
            tuple(sorted(Counter(sets[first:end]).items()))
            for first, end in pairwise(reversed(ends))
        )

    def _until(self, orders: Sequence[Sequence[int]]) -> Floats:
        """Of each size the sum over the sets before: by size, sets wound, and order."""
        places = np.asarray(orders, dtype=np.intp)
        sets = np.repeat(places.ravel(), self._sets[places.ravel()]).reshape(len(places), -1)
        until = np.zeros((len(self._sizes), self.count + 1, len(places)))
        np.cumsum(self._sizes[:, sets.T], axis=1, out=until[:, 1:])
        return until

    def _path(self, until: Floats) -> Iterator[_OnJumbo]:
        """The jumbos one after another, with what they and those before them cost."""
        before = np.full(until.shape[1:], inf)
        before[0] = 0.0
        same: dict[int, Floats] = {}
        for usable, endless in self._jumbos:
            if usable not in same:
                same[usable] = self._used(until, usable)
            used, after = same[usable], np.full(before.shape, inf)
            closed = np.zeros(before.shape, dtype=bool)
            closed[:-1] = np.diff(until[0], axis=0) > usable
            begin = before
            if endless:
                begin = self._without_end(before, used, after)
            else:
                after[closed] = before[closed]
                for d in range(1, used.shape[1] + 1):
                    np.minimum(after[d:], before[:-d] + used[d:, -d], out=after[d:])
            yield _OnJumbo(usable, endless, before, begin, after, used, closed)
            before = after

    def _without_end(self, before: Floats, used: Floats, after: Floats) -> Floats:
        """Fill in what any number of jumbos cost; gives the costs where one can begin."""
        most = used.shape[1]
        begin = np.full((most + len(before), before.shape[1]), inf)
        found = np.empty(used.shape[1:])
        rows = zip(used, before, after, begin[most:], strict=True)
        for n, (last, known, least, first) in enumerate(rows):
            np.add(begin[n : n + most], last, out=found)
            np.minimum.reduce(found, axis=0, out=least)
            np.minimum(known, least, out=first)
        return begin[most:]

    def _used(self, until: Floats, usable: int) -> Floats:
        """What a jumbo costs by sets wound at its end, sets on it (the most first), and order."""
        used = np.full((until.shape[1], self._most, until.shape[2]), inf)
        for d in range(1, self._most + 1):
            beyond = until[:, d:] - until[:, :-d]
            beyond -= usable
            shortest, low, at, high = beyond
            fits = shortest <= 0
            if not fits.any():  # nor do more sets
                return used[:, 1 - d :] if d > 1 else used[:, -1:]
            np.maximum(low, 0.0, out=low)
            low -= np.minimum(high, 0.0, out=high)
            low *= _TENTHS
            cost = np.abs(at, out=at)
            cost *= self._off_price
            cost += low
            used[d:, -d] = np.where(fits, cost, inf)
        return used

    def _last(self, until: Floats, jumbo: _OnJumbo) -> Floats:
        """The cost with all that is left on one jumbo whose rest is not lost, fewest sets first."""
        first = slice(-2, -2 - self._most, -1)
        shortest, low, at, _ = until[:, -1:] - until[:, first]
        over = np.maximum(low - jumbo.usable, 0.0) * _TENTHS
        over += np.maximum(at - jumbo.usable, 0.0) * self._off_price
        return np.where(shortest <= jumbo.usable, jumbo.begin[first] + over, inf)
