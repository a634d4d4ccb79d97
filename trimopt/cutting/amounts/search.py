"""Better pieces and numbers of sets, a few orders and classes at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.amounts.changes import Changes, Order
from trimopt.cutting.amounts.fitting import ClassFit
from trimopt.cutting.amounts.halves import Half, meet
from trimopt.cutting.amounts.packing import packed
from trimopt.cutting.instance import SCALE
from trimopt.cutting.master import Point
from trimopt.cutting.outcome import Pattern
from trimopt.cutting.pricing import Pricer
from trimopt.cutting.search import Search

__all__ = ["Amounts"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_ORDERS = 5  # in each half
_CHANGES = 12  # of each order
_WAYS = 2_500  # of each half
_WASTE = 0.006  # of a set
_CLASSES = (1, 2, 2, 3)  # drawn from: so many classes are changed together
_LOOKED_AT, _TRIED = 20_000, 8  # pairs held against all prices, and against the linear programs
_NEARLY = 1e-6  # of a set
_IDLE_MOST = 50  # turns that bring nothing
_TURN_WORK = 2_000_000  # of a turn beside what grows with its halves
_ROWS_NEAR = 0.02  # of a set: prices that show nearly as much need as the strictest


class Amounts:
    """Pieces of each option and sets of each class, beginning from the plan of a search.

    Parameters
    ----------
    search
        Has a plan, and is given every better one.
    pricers, point, patterns
        The classes, an optimum of the linear program, and patterns to begin from.
    seed
        The same again gives the same.
    """

    def __init__(
        self,
        search: Search,
        pricers: Sequence[Pricer],
        point: Point,
        patterns: Sequence[Pattern],
        seed: int,
    ) -> None:
        instance = search.instance
        self.search = search
        self.rng = np.random.default_rng(seed)
        self.unit = float(SCALE * max(pricer.offer.cost for pricer in pricers))
        self.offers = {pricer.offer.winding_class: pricer.offer for pricer in pricers}
        self.place = {k: j for offer in self.offers.values() for j, k in enumerate(offer.options)}
        self.costs = {c: SCALE * offer.cost / self.unit for c, offer in self.offers.items()}
        self.fit: dict[int, ClassFit] = {}
        for pricer in pricers:
            offer = pricer.offer
            value = point.gain_price[offer.demand] * offer.gains
            value = value + point.worth_price[offer.demand] * offer.worths
            known = {p for p in patterns if p.winding_class == offer.winding_class}
            known |= {
                cut.pattern
                for cut in search.cuts
                if cut.pattern.winding_class == offer.winding_class
            }
            self.fit[offer.winding_class] = ClassFit(
                pricer, sorted(known), value / (SCALE * offer.cost), search
            )
        options: list[list[int]] = [[] for _ in instance.demands]
        for k in self.place:
            options[instance.options[k].demand].append(k)
        self.orders = {
            i: Order(instance, i, some, point, self.unit) for i, some in enumerate(options) if some
        }
        self.members = {
            c: sorted({int(i) for i in offer.demand}) for c, offer in self.offers.items()
        }
        self.pieces: dict[int, Ints] = {}
        self.sets: dict[int, int] = {}
        self.patterns: dict[int, dict[Pattern, int]] = {}
        self.unpackable: set[tuple[int, int, bytes]] = set()
        self._begin()

    def _begin(self) -> None:
        """Take over the plan of the search."""
        for c, offer in self.offers.items():
            self.pieces[c] = np.zeros(offer.size, dtype=np.int64)
            self.sets[c] = 0
            self.patterns[c] = {}
        for cut in self.search.cuts:
            c = cut.pattern.winding_class
            self.sets[c] += cut.sets
            self.patterns[c][cut.pattern] = cut.sets
            for k, count in cut.pattern.pieces:
                self.pieces[c][self.place[k]] += count * cut.sets

    def run(self, work: int, enough: float) -> None:
        """Try changes until they stop to pay; every better plan is given to the search.

        Parameters
        ----------
        work
            How much may be spent.
        enough
            A gap, as a share of the paper used, at which to stop.
        """
        end, idle = self.search.work + work, 0
        while self.search.work < end and idle < _IDLE_MOST and not self.search.within(enough):
            idle = 0 if self._turn() else idle + 1

    def _turn(self) -> bool:
        """Change some orders in some classes for the better, where a way is found."""
        classes = self._classes()
        orders = sorted({i for c in classes for i in self.members[c]})
        orders = [orders[j] for j in self.rng.permutation(len(orders))[: 2 * _ORDERS]]
        costs = np.array([self.costs[c] for c in classes])
        prices = [self._prices(c) for c in classes]
        middle = -(-len(orders) // 2)
        left, right = (
            self._half(some, classes, prices, costs) for some in (orders[:middle], orders[middle:])
        )
        room = np.array(
            [
                self.sets[c] - float(price @ self.pieces[c])
                for c, price in zip(classes, prices, strict=True)
            ]
        )
        pairs = meet(left, right, room, costs, _WASTE)
        self.search.spend(
            _TURN_WORK + 100 * (len(left.loss) + len(right.loss)) + 50 * len(pairs.loss)
        )
        good = np.flatnonzero(pairs.loss < -_NEARLY)
        good = good[np.argsort(pairs.loss[good], kind="stable")[:_LOOKED_AT]]
        for place, c in enumerate(classes):
            if not len(good):
                return False
            need = sum(
                (
                    half.rows(ways[good], self._rows(half, c))
                    for half, ways in ((left, pairs.left), (right, pairs.right))
                ),
                start=self.fit[c].prices @ self.pieces[c],
            )
            most = self.sets[c] + pairs.sets[good, place] + _NEARLY
            good = good[(need <= most[:, None]).all(axis=1) & (most >= 0)]
        for pair in good[:_TRIED]:
            pieces = {c: self.pieces[c].copy() for c in classes}
            for half, way in ((left, pairs.left[pair]), (right, pairs.right[pair])):
                for change, pick in zip(half.changes, half.picks[way], strict=True):
                    self._add(pieces, change, int(pick))
            sets = {c: self.sets[c] + int(pairs.sets[pair, j]) for j, c in enumerate(classes)}
            if self._made(pieces, sets):
                return True
        return False

    def _classes(self) -> tuple[int, ...]:
        """Classes to change, those of many orders more often."""
        weight = np.array([1.0 + len(self.members[c]) for c in self.offers])
        number = min(int(self.rng.choice(_CLASSES)), len(self.offers))
        drawn = self.rng.choice(len(weight), size=number, replace=False, p=weight / weight.sum())
        return tuple([*self.offers][j] for j in drawn)

    def _prices(self, c: int) -> Floats:
        """Prices of the run or, as often, a row that shows nearly the most need."""
        rows = self.fit[c].prices
        if self.rng.random() < 0.5:
            first: Floats = rows[0]
            return first
        need = rows @ self.pieces[c]
        row: Floats = rows[self.rng.choice(np.flatnonzero(need >= need.max() - _ROWS_NEAR))]
        return row

    def _half(
        self,
        orders: Sequence[int],
        classes: tuple[int, ...],
        prices: Sequence[Floats],
        costs: Floats,
    ) -> Half:
        changes = []
        for i in orders:
            order = self.orders[i]
            now = np.array(
                [
                    self.pieces[int(c)][self.place[k]]
                    for c, k in zip(order.classes, order.options, strict=True)
                ]
            )
            change = order.changes(now, classes, _CHANGES, self.rng)
            need = np.zeros((len(change.loss), len(classes)))
            for j, (c, price) in enumerate(zip(classes, prices, strict=True)):
                for column in np.flatnonzero(order.classes == c):
                    value = price[self.place[order.options[column]]]
                    need[:, j] += value * change.pieces[:, column]
            changes.append((change, need))
        return Half.of(changes, costs, _WAYS, self.rng)

    def _rows(self, half: Half, c: int) -> list[Floats]:
        """Prices of one class for the options of each order of a half."""
        rows = self.fit[c].prices
        matrices = []
        for change in half.changes:
            order = self.orders[change.order]
            matrix = np.zeros((len(order.options), len(rows)))
            for column in np.flatnonzero(order.classes == c):
                matrix[column] = rows[:, self.place[order.options[column]]]
            matrices.append(matrix)
        return matrices

    def _add(self, pieces: dict[int, Ints], change: Changes, pick: int) -> None:
        order = self.orders[change.order]
        for column in np.flatnonzero(change.pieces[pick]):
            k = order.options[column]
            pieces[int(order.classes[column])][self.place[k]] += change.pieces[pick, column]

    def _made(self, pieces: Mapping[int, Ints], sets: Mapping[int, int]) -> bool:
        """Make a plan where pieces of some classes fit into sets, and give it to the search."""
        keys = {c: (c, sets[c], pieces[c].tobytes()) for c in pieces}
        if any(key in self.unpackable for key in keys.values()):
            return False
        if not all(self.fit[c].fits(pieces[c], sets[c]) for c in pieces):
            return False
        plan = dict(self.patterns)
        for c in pieces:
            patterns = packed(self.search, self.offers[c], pieces[c], sets[c], self.fit[c].used)
            if patterns is None:
                self.unpackable.add(keys[c])
                return False
            plan[c] = patterns
        self.pieces.update(pieces)
        self.sets.update(sets)
        self.patterns = plan
        together = {p: n for patterns in plan.values() for p, n in patterns.items()}
        self.search.take(together, "whole pieces and sets")
        return True
