"""Do the pieces of one class fit into so many sets? The linear program of fewest sets answers."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.column_generation import RESOLUTION
from trimopt.cutting.lp.linear_program import LinearProgram
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.search.search_state import Search

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_ALONE = 4.0  # sets that a piece outside every pattern costs: more than one of its own
_COLUMN_WORK = 2_000  # of reading one column's part of an optimum
_NEARLY = 1e-7  # of a set


class ClassFit:
    """One class: what fits into its sets in fractions, and prices that say what does not.

    `prices` has shape (rows, options of the offer), in sets: in every pattern the prices of a row
    add up to at most one set, so pieces whose prices add up to more than n do not fit into n sets.
    `used` has the patterns with which pieces last fitted.

    Parameters
    ----------
    pricer, patterns, search
        The class, patterns to begin from, and the state that counts the work.
    prices
        Prices of the pieces at an optimum of the whole run, in sets.
    """

    def __init__(
        self, pricer: Pricer, patterns: Iterable[Pattern], prices: Floats, search: Search
    ) -> None:
        offer = pricer.offer
        self.pricer, self.search = pricer, search
        self._place = {k: j for j, k in enumerate(offer.options)}
        self._program = LinearProgram()
        for row in range(offer.size):
            self._program.row(0.0, inf)
            self._program.column(_ALONE, [(row, 1.0)])
        self._known: dict[Pattern, int] = {}
        self.used: list[Pattern] = []
        for pattern in patterns:
            self._add(pattern)
        self._asked = np.zeros(offer.size, dtype=np.int64)
        self.prices: Floats = np.array(
            [
                np.maximum(0.0, prices),
                offer.widths / offer.width,
                np.full(offer.size, 1 / offer.max_pieces),
            ]
        )

    def fits(self, pieces: Ints, sets: int) -> bool:
        """Whether pieces, an entry an option, fit into whole sets in fractions.

        Where they do not, a row of prices that shows it is added to `prices`.

        Raises
        ------
        SolverFailedError
            Where no solver answers.
        """
        for j in np.flatnonzero(pieces != self._asked):
            self._program.limits(int(j), float(pieces[j]), inf)
        self._asked = pieces.copy()
        while True:
            before = self._program.iterations
            found = self._program.solve()
            self.search.budget.spend(
                50 * (self._program.iterations - before) * len(pieces)
                + _COLUMN_WORK * len(self._known)
            )
            if found.cost <= sets + _NEARLY:
                values = self._program.values()
                self.used = [p for p, column in self._known.items() if values[column] > 0]
                return True
            prices = np.maximum(0.0, found.rows)
            priced = self.pricer.price(
                np.floor(prices * RESOLUTION).astype(np.int64),
                cutoff=RESOLUTION + (RESOLUTION >> 26),
            )
            self.search.budget.spend(priced.work)
            safe = prices / max(1.0, priced.bound / RESOLUTION)
            new = [self._add(self.pricer.pattern(counts)) for _, counts in priced.patterns]
            if safe @ pieces > sets + _NEARLY or not any(new):
                self.prices = np.concatenate([self.prices, safe[None]])
                return False

    def _add(self, pattern: Pattern) -> bool:
        if pattern in self._known:
            return False
        parts = [(self._place[k], float(n)) for k, n in pattern.pieces]
        self._known[pattern] = self._program.column(1.0, parts)
        return True
