"""Do the pieces of one class fit into so many sets, and by which patterns?

The linear program of fewest sets answers the first, bin packing the second.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from trimopt.budget import SearchEnded
from trimopt.cutting.bin_packing.bin_problem import bin_problem_of
from trimopt.cutting.bin_packing.fewest_sets import FewestSets
from trimopt.cutting.lp.class_offers import ClassOffer, class_offers
from trimopt.cutting.lp.column_generation import RESOLUTION
from trimopt.cutting.lp.linear_program import LinearProgram, SolverFailedError
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern, is_allowed
from trimopt.cutting.model.instance import Demand, Instance, WindingClass
from trimopt.cutting.model.products import product
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
            if product(safe, pieces) > sets + _NEARLY or not any(new):
                self.prices = np.concatenate([self.prices, safe[None]])
                return False

    def _add(self, pattern: Pattern) -> bool:
        if pattern in self._known:
            return False
        parts = [(self._place[k], float(n)) for k, n in pattern.pieces]
        self._known[pattern] = self._program.column(1.0, parts)
        return True


def packed(
    search: Search,
    offer: ClassOffer,
    pieces: NDArray[np.int64],
    sets: int,
    known: Iterable[Pattern] = (),
) -> dict[Pattern, int] | None:
    """Return patterns that make just these pieces in at most so many sets; None: none found.

    The sets are filled by width and stations alone. They come out nearly full, so that the rules
    on what is left beside the pieces are seldom broken; where they are, there is no answer.

    Parameters
    ----------
    offer, pieces
        A class, and the pieces of each of its options.
    """
    whole, max_work = search.instance, search.params.piece_moves.packing_work
    made = [(k, int(n)) for k, n in zip(offer.options, pieces, strict=True) if n]
    if not made:
        return {}
    limits = whole.classes[offer.winding_class]
    run = Instance(
        demands=tuple(Demand(low=n, high=n, surplus_worth=whole.options[k].worth) for k, n in made),
        classes=(WindingClass(cost=limits.cost, width=limits.width, max_pieces=limits.max_pieces),),
        options=tuple(
            replace(whole.options[k], demand=i, winding_class=0, gain=1, no_edge=False)
            for i, (k, _) in enumerate(made)
        ),
    )
    offers = class_offers(run)
    problem = bin_problem_of(run, offers)
    assert problem is not None, "one class, one option a demand, no rules"
    place = {k: i for i, (k, _) in enumerate(made)}
    begun = [tuple((place[k], n) for k, n in pattern.pieces if k in place) for pattern in known]
    one = Search(instance=run, budget=search.budget.share(1, max_work), params=search.params)
    with suppress(SearchEnded, SolverFailedError):
        FewestSets(one, problem, offers[0], seed=0).reach(
            sets, [problem.items(counts) for counts in begun if counts]
        )
    search.budget.spend(min(one.budget.work, max_work))
    if not one.cuts or sum(cut.sets for cut in one.cuts) > sets:
        return None
    plan = {
        Pattern(
            offer.winding_class, tuple(sorted((made[i][0], n) for i, n in cut.pattern.pieces))
        ): cut.sets
        for cut in one.cuts
    }
    return plan if all(is_allowed(whole, pattern) for pattern in plan) else None
