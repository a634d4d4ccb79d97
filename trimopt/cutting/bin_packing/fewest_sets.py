"""Fewest sets: fill, bound, dive, branch."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.bin_packing.bin_dive import BinDive
from trimopt.cutting.bin_packing.bin_master import PRICE_SCALE, BinMaster, Node, PackingSolution
from trimopt.cutting.bin_packing.bin_problem import BinProblem, Sets, narrowed
from trimopt.cutting.bin_packing.greedy_fill import best_fill, first_fit
from trimopt.cutting.bin_packing.item_tables import BestPatterns, Counts, price_items
from trimopt.cutting.lp.class_offers import ClassOffer
from trimopt.cutting.lp.knapsack_tables import fill_pieces
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.search.search_state import Search

Ints = NDArray[np.int64]

_NEARLY = 1e-6


class FewestSets:
    """The steps for one problem of fewest sets; plans and bounds go to the search."""

    def __init__(self, search: Search, problem: BinProblem, offer: ClassOffer, seed: int) -> None:
        self.search = search
        self.given = problem
        self.problem = narrowed(problem)
        self.offer = offer
        self.seed = seed
        self.params = search.params.bin_packing
        self.fewest: int | None = None
        self.constant: int | None = None
        self.root: Node | None = None
        self.piece_price = 0

    def run(self) -> None:
        """Find the fewest sets and prove it, as far as the limits allow."""
        problem = self.problem
        self._fill()
        master, node = self._root()
        self.prove(node.bound, "prices")
        waste = node.bound * problem.width - sum(
            w * n for w, n in zip(problem.widths, problem.need, strict=True)
        )
        # Where next to nothing may be wasted the arcs are few, and the dive goes along them; not
        # where many pieces of a width are needed, each of which has arcs of its own.
        crowded = sum(problem.need) > self.params.few_of_a_width * len(problem.need)
        if problem.max_pieces is not None or crowded or waste > problem.width // 10:
            self._dive(master, node.point, node.bound)
        target = node.bound
        # Only textbook classes come so far.
        from trimopt.cutting.bin_packing.branch_and_price import BranchAndPrice  # noqa: PLC0415

        while self.fewest is not None and target < self.fewest and problem.max_pieces is None:
            plan = BranchAndPrice(self.search, problem, target).run(master.leading(node.point))
            if plan is not None:
                self.take(plan, "branch and price")
                return
            target += 1
            self.prove(target, "branch and price")

    def prices(self) -> tuple[list[float], list[float]]:
        """Prices of yield and worth of each demand of the run, from those of pieces at the root.

        Where the widths alone proved the plan, each piece's price is its share of the width.
        """
        instance, problem = self.search.instance, self.given
        pieces = [PRICE_SCALE * width // problem.width for width in problem.widths]
        if self.root is not None:
            pieces = [int(price) for price in self.root.prices]
        gain_price = [0.0] * len(instance.demands)
        cost = SCALE * self.offer.cost / PRICE_SCALE
        for item, price in zip(problem.members, pieces, strict=True):
            for k, _ in item:
                option = instance.options[k]
                own = SCALE * option.worth
                gain_price[option.demand] = (cost * float(price) - own) / option.gain
        return gain_price, [float(SCALE)] * len(instance.demands)

    def reach(self, sets: int, known: Iterable[Counts]) -> None:
        """Look for a plan of so many sets by one dive, and give up where it finds none.

        Parameters
        ----------
        known
            Patterns to begin from; where they fit into so many sets in fractions, no more are
            sought before the dive.
        """
        problem = self.problem
        master = self._master()
        for counts in known:
            master.add(counts)
        point = master.solve()
        if point.missing > _NEARLY or point.sets > sets + _NEARLY:
            point = master.generate(partial(self._price, need=problem.need), self.search).point
        self._dive(master, point, sets)

    def _fill(self) -> None:
        """Fill one set after the other, in several orders."""
        problem = self.problem
        self.take(first_fit(problem), "first fit")
        self.prove(problem.material, "width")
        plan = best_fill(problem)
        if plan is not None:
            self.take(plan, "best fill")
        rng = random.Random(self.seed)
        for _ in range(8):
            plan = best_fill(problem, shuffle=rng, cap=(self.fewest or 0) - 1)
            if plan is not None:
                self.take(plan, "best fill")

    def _master(self) -> BinMaster:
        """The linear program over sets filled one after the other and sets of one item."""
        problem = self.problem
        master = BinMaster(need=list(problem.need))
        for counts in sorted(best_fill(problem) or {}):
            master.add(counts)
        for i, width in enumerate(problem.widths):
            most = min(problem.need[i], problem.width // width)
            master.add(((i, min(most, problem.max_pieces or most)),))
        return master

    def _root(self) -> tuple[BinMaster, Node]:
        """The linear program at its optimum."""
        master = self._master()
        problem = self.problem
        self.root = master.generate(partial(self._price, need=problem.need), self.search)
        return master, self.root

    def _dive(self, master: BinMaster, point: PackingSolution, target: int) -> None:
        diver = BinDive(self.problem, master, self.search, self.price)
        plan = diver.dive(point, target, depth=self.params.depth, deviations=self.params.deviations)
        if plan is not None:
            self.take(plan, "dive")

    def price(self, prices: Ints, need: Sequence[int], cutoff: int) -> BestPatterns:
        """Return best patterns for pieces that are still needed."""
        return self._price(prices, cutoff, need=need)

    def _price(self, prices: Ints, cutoff: int, *, need: Sequence[int]) -> BestPatterns:
        problem, limit = self.problem, self.problem.max_pieces
        if limit is None:
            return price_items(problem.widths, prices, need, problem.width, cutoff)
        # The station limit first as a price on each piece, then, where that finds nothing, exactly.
        dear = self.piece_price
        found = price_items(
            problem.widths, prices - dear, need, problem.width, cutoff - dear * limit
        )
        most = found.bound + dear * limit
        fitting = []
        for value, counts in found.patterns:
            pieces = sum(n for _, n in counts)
            if pieces <= limit and value + dear * pieces > cutoff:
                fitting.append((value + dear * pieces, counts))
        crowded = len(found.patterns) - len(fitting)
        if crowded > len(fitting):
            self.piece_price = min(PRICE_SCALE // 8, max(2 * dear, PRICE_SCALE // 512))
        elif dear and not crowded:
            self.piece_price = dear * 3 // 4
        if most <= cutoff or fitting:
            return BestPatterns(bound=most, patterns=tuple(fitting), work=found.work)
        return self._few_pieces(prices, cutoff, need)

    def _few_pieces(self, prices: Ints, cutoff: int, need: Sequence[int]) -> BestPatterns:
        """Best pattern within the station limit, from the table over width and pieces."""
        problem = self.problem
        limit = problem.max_pieces or 1
        useful = np.flatnonzero(prices > 0)
        table = fill_pieces(
            np.array(problem.widths, dtype=np.int64)[useful],
            prices[useful],
            np.array(need, dtype=np.int64)[useful],
            np.zeros(len(useful), dtype=bool),
            (limit, problem.width),
        )
        place = np.unravel_index(int(table.best.argmax()), table.best.shape)
        most = int(table.best[place])
        work = 6 * len(useful) * limit * problem.width
        if most <= cutoff:
            return BestPatterns(bound=most, patterns=(), work=work)
        counts = table.pieces(int(place[0]), int(place[1]), int(place[2]))
        pieces = tuple((int(useful[j]), n) for j, n in counts)
        return BestPatterns(bound=most, patterns=((most, pieces),), work=work)

    def take(self, sets: Sets, step: str) -> None:
        """Hand a plan over, and note how many sets it has."""
        number = sum(sets.values())
        if self.fewest is None or number < self.fewest:
            self.fewest = number
            plan = self.problem.cuts(sets, self.offer.winding_class)
            if self.constant is None:
                self.constant = self.search.measure(plan) - SCALE * self.offer.cost * sum(
                    plan.values()
                )
            self.search.take(plan, step)

    def prove(self, sets: int, step: str) -> None:
        """Hand a bound on the number of sets over."""
        if self.constant is not None:
            self.search.prove(SCALE * self.offer.cost * sets + self.constant, step)
