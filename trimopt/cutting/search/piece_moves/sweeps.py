"""Better pieces and numbers of sets, a few orders and classes at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.convexified import Guide
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.products import product
from trimopt.cutting.search.piece_moves.change_pairs import Settling, Ways, meet
from trimopt.cutting.search.piece_moves.class_fit import ClassFit, packed
from trimopt.cutting.search.piece_moves.order_changes import Changes, OrderMoves
from trimopt.cutting.search.search_state import Search

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_NEARLY = 1e-6  # of a set
_MEETING_WORK, _ROW_WORK = 3_000_000, 90_000  # of settling one class, for each row of prices


class ClassSweeps:
    """Pieces of each option and sets of each class of a plan, changed for the better.

    Parameters
    ----------
    search
        Has a plan, and is given every better one.
    pricers, guide
        The classes, and what the linear program says of good plans.
    """

    def __init__(self, search: Search, pricers: Sequence[Pricer], guide: Guide, seed: int) -> None:
        instance = search.instance
        self.search, self.guide = search, guide
        self.params = search.params.piece_moves
        self.rng = np.random.default_rng(seed)
        self.unit = float(SCALE * max(pricer.offer.cost for pricer in pricers))
        self.offers = {pricer.offer.winding_class: pricer.offer for pricer in pricers}
        self.place = {k: j for offer in self.offers.values() for j, k in enumerate(offer.options)}
        self.column = {c: column for column, c in enumerate(self.offers)}
        self.costs = {c: SCALE * offer.cost / self.unit for c, offer in self.offers.items()}
        self.fit: dict[int, ClassFit] = {}
        known = {*guide.parts, *(cut.pattern for cut in search.cuts)}
        for pricer in pricers:
            offer = pricer.offer
            value = guide.values[list(offer.options)]
            own = sorted(
                pattern for pattern in known if pattern.winding_class == offer.winding_class
            )
            self.fit[offer.winding_class] = ClassFit(
                pricer, own, value / (SCALE * offer.cost), search
            )
        wanted = np.zeros(len(instance.options))
        for pattern, sets in guide.parts.items():
            for k, count in pattern.pieces:
                wanted[k] += count * sets
        # Options of each order in each class, by their places in the order and in the offer.
        self.held: dict[tuple[int, int], tuple[Ints, Ints]] = {}
        self.orders: dict[int, OrderMoves] = {}
        for i, options in enumerate(instance.by_demand()):
            some = [k for k in options if k in self.place]
            if some:
                self.orders[i] = self._order(i, some, wanted[some])
        self.members = {
            c: sorted({int(i) for i in offer.demand}) for c, offer in self.offers.items()
        }
        self.pieces: dict[int, Ints] = {}
        self.sets: dict[int, int] = {}
        self.patterns: dict[int, dict[Pattern, int]] = {}
        self.unpackable: set[tuple[int, int, bytes]] = set()

    def _order(self, i: int, options: Sequence[int], wanted: Floats) -> OrderMoves:
        """Return an order by its options, whose places in each class are noted."""
        instance = self.search.instance
        needs = np.zeros((len(options), len(self.offers)))
        for c, column in self.column.items():
            own = [j for j, k in enumerate(options) if instance.options[k].winding_class == c]
            places = [self.place[options[j]] for j in own]
            self.held[c, i] = np.array(own, dtype=np.int64), np.array(places, dtype=np.int64)
            needs[own, column] = self.fit[c].prices[0, places]
        return OrderMoves(
            instance,
            i,
            options,
            wanted=wanted,
            prices=self.guide.values[list(options)] / self.unit,
            needs=needs,
            unit=self.unit,
            params=self.search.params,
        )

    def _begin(self, sets: Mapping[Pattern, int]) -> None:
        """Take over a plan."""
        for c, offer in self.offers.items():
            self.pieces[c] = np.zeros(offer.size, dtype=np.int64)
            self.sets[c] = 0
            self.patterns[c] = {}
        for pattern, number in sets.items():
            c = pattern.winding_class
            self.sets[c] += number
            self.patterns[c][pattern] = number
            for k, count in pattern.pieces:
                self.pieces[c][self.place[k]] += count * number

    def run(self, sets: Mapping[Pattern, int], work: int, enough: Callable[[], bool]) -> None:
        """Change a plan until changes stop to pay; every better one is given to the search.

        Parameters
        ----------
        enough
            Says whether to stop; asked before each sweep.
        """
        self._begin(sets)
        end, idle = self.search.budget.work + work, 0
        while self.search.budget.work < end and idle < self.params.max_idle_sweeps:
            if enough():
                return
            idle = 0 if self._sweep() else idle + 1

    def _sweep(self) -> bool:
        """Change some orders for the better, class by class, where a way is found.

        Each class in its turn has a group of orders to itself, and is settled with them: they may
        change in it and in the classes after it, not in those that are settled.
        """
        classes, spare, groups = self._groups()
        costs = np.array([self.costs[c] for c in classes])
        ways = Ways.of(self._changes(spare, classes, 0), costs, self.params, self.rng)
        for place, (c, group) in enumerate(zip(classes, groups, strict=True)):
            others = Ways.of(self._changes(group, classes, place), costs, self.params, self.rng)
            need = product(self.fit[c].prices, self.pieces[c])
            settling = Settling(
                costs=costs,
                place=place,
                sets=self.sets[c],
                need=need,
                prices=partial(self._rows, c, self.fit[c].prices),
            )
            ways = meet(ways, others, settling, self.params, self.rng)
            self.search.budget.spend(_MEETING_WORK + _ROW_WORK * len(need))
            if not len(ways.loss):
                return False
        return self._try(ways, classes, costs)

    def _groups(self) -> tuple[list[int], list[int], list[list[int]]]:
        """Classes in the order in which they are settled, orders to begin with, and their groups.

        Classes of which few orders are left come first; an order goes to the class after which it
        could change least.
        """
        rng = self.rng
        classes = [*self.offers]
        number = min(len(classes), int(rng.choice(self.params.classes)))
        if number < len(classes):
            first = set(self.members[classes[int(rng.integers(len(classes)))]])
            shared = {c: len(first & set(self.members[c])) + 4 * rng.random() for c in classes}
            classes = sorted(classes, key=lambda c: -shared[c])[:number]
        left = {i for c in classes for i in self.members[c]}
        most = min(self.params.max_group, max(2, -(-len(left) // (number + 1))))
        rest, settled, groups = set(classes), [], []
        while rest:
            few = {
                c: len(left.intersection(self.members[c])) + 2 * rng.random() for c in sorted(rest)
            }
            c = min(few, key=few.__getitem__)
            rest.discard(c)
            later = {
                i: sum(i in self.members[d] for d in rest) + 1.5 * rng.random()
                for i in self.members[c]
                if i in left
            }
            group = sorted(later, key=later.__getitem__)[:most]
            left.difference_update(group)
            settled.append(c)
            groups.append(group)
        spare = [sorted(left)[j] for j in rng.permutation(len(left))[: self.params.max_spare]]
        return settled, spare, groups

    def _changes(self, orders: Sequence[int], classes: Sequence[int], place: int) -> list[Changes]:
        """Changes of orders in the classes from a place on; their needs are of all the classes."""
        columns = [self.column[c] for c in classes]
        drawn: list[Changes] = []
        for i in orders:
            order = self.orders[i]
            now = np.array(
                [
                    self.pieces[c][self.place[k]]
                    for c, k in zip(order.classes.tolist(), order.options, strict=True)
                ]
            )
            change = order.changes(now, classes[place:], self.rng)
            drawn.append(replace(change, needs=change.needs[:, columns]))
        return drawn

    def _rows(self, c: int, rows: Floats, i: int) -> tuple[Ints, Floats]:
        """Rows of prices of one class for the options of an order in it."""
        own, places = self.held[c, i]
        return own, rows[:, places].T

    def _try(self, ways: Ways, classes: Sequence[int], costs: Floats) -> bool:
        """Make a plan of the best of the ways for which patterns are found."""
        gain = ways.loss + product(ways.sets, costs)
        better = np.flatnonzero(gain < -_NEARLY)
        ways = ways.chosen(better[np.argsort(gain[better], kind="stable")])
        for _ in range(self.params.max_tried):
            if not len(ways.loss):
                break
            pieces = {c: self.pieces[c].copy() for c in classes}
            for change, pick in zip(ways.changes, ways.picks[0], strict=True):
                self._add(pieces, change, int(pick))
            sets = {c: self.sets[c] + int(ways.sets[0, j]) for j, c in enumerate(classes)}
            known = {c: len(self.fit[c].prices) for c in classes}
            if self._made(pieces, sets):
                return True
            kept = np.ones(len(ways.loss), dtype=bool)
            kept[0] = False
            for place, c in enumerate(classes):
                rows = self.fit[c].prices[known[c] :]
                if len(rows):
                    need = ways.at(partial(self._rows, c, rows)) + product(rows, self.pieces[c])
                    most = self.sets[c] + ways.sets[:, place] + _NEARLY
                    kept &= (need <= most[:, None]).all(axis=1)
            ways = ways.chosen(np.flatnonzero(kept))
        return False

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
