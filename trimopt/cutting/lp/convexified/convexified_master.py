"""The linear program over patterns and whole pieces: patterns in fractions, demands in mixtures.

In the linear program over patterns a demand may get any yield and worth between its ranges. Here
it gets a mixture of what whole pieces can give it, so that the program is the convex hull of both
sides; its prices, one for each measure of a demand, prove more.

References
----------
G. B. Dantzig, P. Wolfe (1960), "Decomposition principle for linear programs", Operations Research
8, 101-111 (columns that are mixtures of whole solutions).
A. M. Geoffrion (1974), "Lagrangean relaxation for integer programming", Mathematical Programming
Study 2, 82-114 (what such a program proves: the convex hull of each side).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.column_generation import RESOLUTION, whole_numbers
from trimopt.cutting.lp.convexified.order_production import (
    OrderProduction,
    min_surplus_loss,
    values_of_pieces,
)
from trimopt.cutting.lp.linear_program import LinearProgram, Optimum
from trimopt.cutting.lp.master import demand_rows
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.products import product
from trimopt.cutting.search.search_state import Search

Floats = NDArray[np.float64]

_OUTSIDE = 30.0  # dearest sets that a measure costs which no pattern gives
_NEARLY = 1e-9  # of a set
_STEP_WORK = 2_500  # of a step of the solver, for each demand


class ConvexifiedMaster:
    """The program; losses are in the dearest set, measures in the most that a piece counts for.

    Parameters
    ----------
    pricers, search
        One pricer for each class, and the search that is told of the work.
    """

    def __init__(
        self,
        instance: Instance,
        wholes: Sequence[OrderProduction],
        pricers: Sequence[Pricer],
        search: Search,
    ) -> None:
        self.instance, self.pricers, self.search = instance, pricers, search
        self.wholes = [*wholes]
        self.params = search.params.convexified
        self._unit = float(max(SCALE * pricer.offer.cost for pricer in pricers))
        self._program = LinearProgram()
        self._units = [whole.pieces.max(axis=0, initial=1).astype(np.float64) for whole in wholes]
        self._rows: list[list[int]] = []
        self._mixture: dict[int, int] = {}
        self._known: dict[Pattern, int] = {}
        self._held: list[Pattern] = []
        self.loss = 0.0
        self._used: list[set[int]] = [set() for _ in wholes]
        for i, whole in enumerate(wholes):
            if not whole.is_range:
                self._listed(i)
            else:
                # The ways of this one are too many: a range, as in the master over patterns.
                gain_unit, worth_unit = self._units[i].tolist()
                units = gain_unit, worth_unit
                rows = demand_rows(self._program, instance.demands[i], units, self._unit)
                self._rows.append([*rows])

    def begin(self, patterns: Iterable[Pattern], prices: Sequence[Floats]) -> None:
        """Add patterns, and the ways that come to least at prices near the optimum."""
        for i in self._mixture:
            self._grow(i, prices[i])
            self._ways(i, self._loss(i, prices[i]), self.params.ways_begun)
        for pattern in patterns:
            self._add(pattern)

    def _listed(self, i: int) -> None:
        """What patterns give is a mixture of the ways of the demand, and pieces too many."""
        program, whole, unit = self._program, self.wholes[i], self._units[i]
        # One row a measure: what patterns give of it less what the mixture of ways takes is 0. The
        # convexity row makes the mixture one; each way of the demand is a column in these rows.
        rows = [program.row(0.0, 0.0) for _ in unit]
        # Before the patterns are there, what they lack comes from outside, dearer than any pattern.
        for row in rows:
            program.column(_OUTSIDE, [(row, 1.0)])
        # Ways end with less than a piece beyond `high`; pieces beyond that leave by a column of
        # their own, each for the least that a piece of surplus can lose.
        demand = self.instance.demands[i]
        for k, measured in zip(whole.options, whole.pieces / unit, strict=True):
            loss = min_surplus_loss(demand, self.instance.options[k])
            parts = [(row, -float(n)) for row, n in zip(rows, measured, strict=True) if n]
            program.column(loss / self._unit, parts)
        self._rows.append(rows)
        self._mixture[i] = program.row(1.0, 1.0)

    def solve(self) -> list[Floats]:
        """Return the prices of the measures of each demand at an optimum, in units of loss.

        Raises
        ------
        SolverFailedError
            Where no solver gives an optimum.
        """
        found = self._solved()
        for _ in range(self.params.max_rounds):
            prices = [self._prices(i, found.rows) for i in range(len(self.wholes))]
            # Both sides are priced at the same duals: patterns by the exact pricing of each class,
            # ways by a product over the list, which is whole and so misses none, or from a table.
            new = self._patterns(prices)
            for i, mixture in self._mixture.items():
                self._grow(i, prices[i])
                loss = self._loss(i, prices[i])
                if loss.min() < found.rows[mixture] - _NEARLY:
                    new += self._ways(i, loss, self.params.ways_added)
            if not new:
                break
            found = self._solved()
        return [self._prices(i, found.rows) for i in range(len(self.wholes))]

    def _solved(self) -> Optimum:
        before = self._program.iterations
        found = self._program.solve()
        self.search.budget.spend(
            _STEP_WORK * (self._program.iterations - before + 10) * len(self.wholes)
        )
        self.loss = found.cost * self._unit
        return found

    @property
    def patterns(self) -> tuple[Pattern, ...]:
        """Patterns of the program."""
        return tuple(self._known)

    def parts(self) -> dict[Pattern, float]:
        """Sets of each pattern at the optimum, in fractions."""
        values = self._program.values(self._known.values()).tolist()
        return {p: n for p, n in zip(self._known, values, strict=True) if n > 0}

    def hold(self, sets: Mapping[Pattern, int]) -> None:
        """Find the optimum where no fewer sets of some patterns are wound, over patterns known.

        Nothing is held any longer that is not in `sets`; `loss` is that of the optimum, in units.

        Raises
        ------
        SolverFailedError
            Where no solver gives an optimum.
        """
        for pattern in self._held:
            if pattern not in sets:
                self._program.set_min(self._known[pattern], 0.0)
        for pattern, n in sets.items():
            self._add(pattern)
            self._program.set_min(self._known[pattern], float(n))
        self._held = [*sets]
        self._solved()

    def _prices(self, i: int, duals: Floats) -> Floats:
        # A ranged demand has its worth in the objective (`demand_rows`), a listed one in its ways.
        prices: Floats = duals[self._rows[i]] * self._unit / self._units[i]
        if i not in self._mixture:
            prices[1] += SCALE
        return prices

    def _loss(self, i: int, prices: Floats) -> Floats:
        """What each way of a listed demand comes to at prices, in the dearest set."""
        whole = self.wholes[i]
        self.search.budget.spend(2 * whole.ways.size)
        loss: Floats = (whole.loss + product(whole.ways, prices)) / self._unit
        return loss

    def _grow(self, i: int, prices: Floats) -> None:
        """Take cheap ways from the table of a demand, if it has one."""
        whole = self.wholes[i]
        if whole.table is not None:
            self.search.budget.spend(whole.table.work)
            self.wholes[i] = whole.grown(prices, self.params.ways_read)

    def _ways(self, i: int, loss: Floats, max_ways: int) -> int:
        """Add the ways of a demand that come to least; how many were new."""
        best = loss.argsort(kind="stable")[:max_ways]
        new = [int(way) for way in best if int(way) not in self._used[i]]
        whole = self.wholes[i]
        for way in new:
            self._used[i].add(way)
            parts = [(self._mixture[i], 1.0)]
            for row, unit, amount in zip(
                self._rows[i], self._units[i], whole.ways[way], strict=True
            ):
                if amount:
                    parts.append((row, -float(amount) / unit))
            self._program.column(float(whole.loss[way]) / self._unit, parts)
        return len(new)

    def _patterns(self, prices: Sequence[Floats]) -> int:
        """Add the patterns that each class lacks at prices; how many were new."""
        value = values_of_pieces(self.wholes, prices, len(self.instance.options)) / self._unit
        new = 0
        for pricer in self.pricers:
            offer = pricer.offer
            cost = int(SCALE * offer.cost / self._unit * RESOLUTION)
            values = whole_numbers(value[list(offer.options)] * RESOLUTION)
            priced = pricer.price(values, cutoff=cost + (cost >> 26) + 2)
            self.search.budget.spend(priced.work)
            for _, counts in priced.patterns:
                new += self._add(pricer.pattern(counts))
        return new

    def _add(self, pattern: Pattern) -> bool:
        if pattern in self._known:
            return False
        loss = float(SCALE * self.instance.classes[pattern.winding_class].cost)
        parts: dict[int, float] = {}
        for k, count in pattern.pieces:
            option = self.instance.options[k]
            i = option.demand
            whole = self.wholes[i]
            if i not in self._mixture:
                loss -= SCALE * option.worth * count
            measured = whole.pieces[whole.options.index(k)] * count
            for row, unit, amount in zip(self._rows[i], self._units[i], measured, strict=True):
                if amount:
                    parts[row] = parts.get(row, 0.0) + float(amount) / unit
        self._known[pattern] = self._program.column(loss / self._unit, [*parts.items()])
        return True
