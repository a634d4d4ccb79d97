"""What a set of each pattern of a pool would change of the loss, for several plans at once.

A pattern is a few *atoms* (demand, yield, worth). The change by each distinct atom is computed
once, and a pattern's is the sum over its atoms and the cost of its set. The loss of a demand at
what it gets is the greater of two linear functions of its net worth (`model/loss.py`), with a price
on what it lacks, so that all atoms take some twenty sweeps over short arrays: about 20 microseconds
for a plan and a thousand patterns, and as much again for two plans more beside it.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.cuts import Pattern, yields_of
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.loss import LossTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class PoolChanges:
    """A pool of patterns, and what a set of each would change.

    Parameters
    ----------
    patterns
        The pool; more can be added.
    set_up
        What each pattern of a plan adds to its loss.

    Attributes
    ----------
    cost, costs
        Of a set of each pattern; the same in a list, as one of them is read faster from it.
    dearest
        Cost of the dearest set.
    made, worth
        What a set of each pattern gives to each demand; patterns by demands.
    """

    def __init__(self, instance: Instance, patterns: Iterable[Pattern], set_up: float) -> None:
        self.instance = instance
        self.patterns: list[Pattern] = []
        self.place: dict[Pattern, int] = {}
        self.cost: Floats = np.zeros(0)
        self.costs: list[float] = []
        self.made: Floats = np.zeros((0, len(instance.demands)))
        self.worth: Floats = self.made
        self.size = 0  # atoms of all patterns
        self._known: dict[tuple[int, int, int], int] = {}
        self._atoms: list[list[int]] = []
        self.dearest = SCALE * max([c.cost for c in instance.classes] + [1])
        self.price_patterns(set_up)
        self.add(patterns)

    def price_patterns(self, set_up: float) -> None:
        """Let each pattern of a plan cost so much; no shortage must buy one off."""
        self._bought = 2 * (set_up + self.dearest) if set_up else 0.0
        self._lacking = self._bought

    def price_lacks(self, *, whole: bool) -> None:
        """Let an order that lacks anything cost a set beside the price of what it lacks, or not."""
        self._lacking = max(self._bought, self.dearest if whole else 0.0)

    def add(self, patterns: Iterable[Pattern]) -> None:
        """Take in more patterns, behind those that are there."""
        new = [pattern for pattern in dict.fromkeys(patterns) if pattern not in self.place]
        made = np.zeros((len(new), len(self.instance.demands)))
        worth = made.copy()
        for row, pattern in enumerate(new):
            self.place[pattern] = len(self.patterns)
            self.patterns.append(pattern)
            some = []
            for i, (gain, back) in yields_of(self.instance, pattern).items():
                made[row, i], worth[row, i] = gain, back
                some.append(self._known.setdefault((i, gain, back), len(self._known)))
            self._atoms.append(some)
        classes = self.instance.classes
        cost = [float(SCALE * classes[pattern.winding_class].cost) for pattern in new]
        self.cost = np.concatenate([self.cost, cost])
        self.costs += cost
        self.made = np.concatenate([self.made, made])
        self.worth = np.concatenate([self.worth, worth])
        self.size = sum(map(len, self._atoms))
        self._tabulate()

    def _tabulate(self) -> None:
        """Figures of every atom and, behind them, of every demand that nothing is added to."""
        number = len(self.instance.demands)
        empty = np.zeros(number)
        keys = np.array([*self._known], dtype=np.int64).reshape(-1, 3)
        self._first_demand = len(keys)
        self._demand: Ints = np.concatenate([keys[:, 0], np.arange(number)])
        self._gain: Floats = np.concatenate([keys[:, 1], empty])
        self._back: Floats = np.concatenate([keys[:, 2], empty])
        table = LossTable.of(self.instance.demands, np.float64)
        # A piece short costs as much as half a set: always worth mending.
        short = self.dearest / 2 / np.maximum(1.0, self.made.max(axis=0, initial=1.0))
        self._short: Floats = short[self._demand]
        self._table = table.at(self._demand)
        self._over: Floats = self._table.over_price - SCALE  # by net worth, above what is ordered
        self._under: Floats = -self._table.under_price - SCALE
        self._bases = self._bases_of(1)
        # A demand adds nothing to itself, so it fills the rows of patterns with few atoms.
        depth = max(map(len, self._atoms), default=0)
        rows = [[*some, *[len(keys)] * (depth - len(some))] for some in self._atoms]
        self._held: Ints = np.array(rows, dtype=np.int64).reshape(-1, depth).T.copy()

    def _bases_of(self, sets: int) -> tuple[Floats, Floats, Floats, Floats]:
        """What so many sets of each atom move.

        Gives the yield from which on there is surplus, that up to which something lacks, and the
        constants of the two linear functions of the net worth.
        """
        table, back = self._table, sets * self._back
        return (
            table.high - sets * self._gain,
            table.low - sets * self._gain,
            self._over * back - table.over_price * table.ordered,
            self._under * back + table.under_price * table.ordered,
        )

    def of_sets(self, made: Floats, worth: Floats, sets: int = 1) -> tuple[Floats, Floats]:
        """Change of the loss by more sets of each pattern.

        Parameters
        ----------
        made, worth
            What each demand gets in each plan; plans by demands.
        sets
            How many sets of one pattern are put in at once.

        Returns
        -------
        Floats
            For each plan the loss of all its demands at what they get, without that of its sets,
            and with a price on what they lack.
        Floats
            Plans by patterns: the change of the loss, without the price of a pattern.
        """
        # Under and over the ordered worth the loss is one linear function each, and as the loss is
        # convex it is the greater of the two: no branch, so one sweep serves all atoms. Arrays are
        # used again, since making them takes as long as the sums.
        high, low, over, under = self._bases if sets == 1 else self._bases_of(sets)
        gets = made.take(self._demand, axis=1)
        surplus = gets - high
        np.maximum(surplus, 0.0, out=surplus)
        surplus *= self._table.surplus_worth
        net = worth.take(self._demand, axis=1)
        net -= surplus
        loss = np.multiply(self._over, net, out=surplus)
        loss += over
        net *= self._under
        net += under
        np.maximum(loss, net, out=loss)
        lacks = np.subtract(low, gets, out=gets)
        if self._lacking:
            loss += self._lacking * (lacks > 0)
        np.maximum(lacks, 0.0, out=lacks)
        lacks *= self._short
        loss += lacks
        now = loss[:, self._first_demand :]
        whole: Floats = now.sum(axis=1)
        loss -= now.take(self._demand, axis=1)
        changes: Floats = loss.take(self._held, axis=1).sum(axis=1)
        changes += self.cost if sets == 1 else sets * self.cost
        return whole, changes
