"""From the linear program over patterns to prices that know whole pieces, their bound, and dives.

A dive makes fractions of sets whole, one pattern at a time. The last few sets are what goes wrong
in it: what is left to be made does not fill them. So it stops where the next set would make the
program lose too much, and leaves the rest to exchanges. No pattern is sought on the way: that took
three times as long and gave no better starts.

References
----------
R. Sadykov, F. Vanderbeck, A. Pessoa, I. Tahiri, E. Uchoa (2019), "Primal heuristics for branch and
price: the assets of diving methods", INFORMS Journal on Computing 31, 251-267.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.column_generation import values_at
from trimopt.cutting.lp.convexified.convexified_bound import WholePrices, production_bound
from trimopt.cutting.lp.convexified.convexified_master import ConvexifiedMaster
from trimopt.cutting.lp.convexified.order_production import production_of, values_of_pieces
from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.lp.master import LPSolution
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.search.search_state import Search

_NEARLY = 1e-6  # of a set


Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Guide:
    """What a linear program says of good plans.

    `values` has what a piece of each option of the instance is worth, in units of loss, `parts` the
    sets of an optimum, in fractions, and `bound` the loss that the values prove, None where none.
    `prices` are the values as they were proven, where they are those of whole pieces.
    `hull` is the program over whole pieces at its optimum, of loss `loss`, where it was solved;
    to its losses `more` is to be added.
    """

    values: Floats
    parts: dict[Pattern, float]
    bound: int | None
    hull: ConvexifiedMaster | None = None
    loss: float = 0.0
    prices: WholePrices | None = None
    more: int = 0

    def if_closer(self, other: Guide) -> Guide:
        """Return this one, with what another one proves where that is more."""
        worse = self.bound is None or (other.bound is not None and self.bound < other.bound)
        closer = other if worse else self
        parts = self.parts or other.parts
        return replace(closer, parts=parts, hull=self.hull, loss=self.loss, more=self.more)

    def whole_sets(
        self, kept: Mapping[Pattern, int], more: float, rng: random.Random
    ) -> dict[Pattern, int] | None:
        """Return whole sets, those kept among them, that a plan may complete, others each time.

        Parameters
        ----------
        kept
            Sets to be wound in any case; patterns of the run.
        more
            By how much the program may lose more than at its optimum, in units of loss.
        rng
            Draws among patterns of which nearly the same part of a set is left.

        Returns
        -------
        The sets, or None where those kept cannot be completed to that.
        """
        hull = self.hull
        if hull is None:
            return dict(kept) or {pattern: int(n) for pattern, n in self.parts.items()}
        sets, done = dict(kept), False
        shuffle = hull.search.params.convexified.shuffle
        found: dict[Pattern, int] | None = None
        with suppress(SolverFailedError):
            hull.hold(sets)
            while hull.loss <= self.loss + more and not done:
                parts = hull.parts()
                for pattern, n in parts.items():
                    sets[pattern] = max(sets.get(pattern, 0), int(n + _NEARLY))
                found = {pattern: n for pattern, n in sets.items() if n}
                left = {p: n - sets[p] for p, n in parts.items() if n - sets[p] > _NEARLY}
                done = not left
                if left:
                    up = max(left, key=lambda p: left[p] + shuffle * rng.random())
                    sets[up] += 1
                    hull.hold(sets)
        return found


def convexified_guide(
    search: Search,
    closer: tuple[Instance, int],
    pricers: Sequence[Pricer],
    point: LPSolution,
    patterns: Iterable[Pattern],
) -> Guide:
    """Prove what prices of whole pieces prove, and give what they and the program say.

    Parameters
    ----------
    closer
        The run with its ranges drawn in, and the loss to be added to its losses.
    pricers, point, patterns
        One pricer for each class, an optimum of the linear program over patterns, and its patterns.
    """
    instance, more = closer
    params = search.params.convexified
    options = instance.by_demand()
    wholes = [
        production_of(demand, places, [instance.options[k] for k in places], params.max_ways)
        for demand, places in zip(instance.demands, options, strict=True)
    ]
    begun = values_at(instance, point)
    prices = [
        begun[list(places)]
        if whole.by_counts
        else np.array([point.gain_price[i], point.worth_price[i]])
        for i, (whole, places) in enumerate(zip(wholes, options, strict=True))
    ]
    hull = ConvexifiedMaster(instance, wholes, pricers, search)
    hull.begin(patterns, prices)
    return _guide(hull, prices, more)


def guide_of_tables(search: Search, guide: Guide) -> Guide:
    """Prove more from tables of all ways, where a guide knows but the range of a demand.

    Not for dives: over the few ways that are read from tables they end sooner.
    """
    hull, cells = guide.hull, search.params.convexified.max_cells
    if hull is None or not cells:
        return guide
    pairs = zip(hull.wholes, hull.instance.demands, strict=True)
    wholes = [whole.in_table(demand, cells) for whole, demand in pairs]
    if all(whole.table is None for whole in wholes):
        return guide
    begun = [guide.values[list(w.options)] if w.by_counts else np.zeros(2) for w in wholes]
    closer = ConvexifiedMaster(hull.instance, wholes, hull.pricers, search)
    closer.begin(hull.patterns, begun)
    found = _guide(closer, begun, guide.more)
    if found.hull is None or found.bound is None or found.bound < (guide.bound or 0):
        return guide
    return found


def _guide(hull: ConvexifiedMaster, prices: list[Floats], more: int) -> Guide:
    """Solve the program, and prove what its prices do; where it fails, what the prices given do."""
    search, instance = hull.search, hull.instance
    parts: dict[Pattern, float] = {}
    with suppress(SolverFailedError):
        prices = hull.solve()
        parts = hull.parts()
    loss = hull.loss
    bound, proven, work = production_bound(
        instance, hull.pricers, hull.wholes, prices, hull.params.max_mixtures
    )
    search.budget.spend(work)
    if proven is not None:
        search.prove(bound + more, "prices and whole pieces")
        prices = [np.array(some) / proven.scale for some in proven.measures]
    return Guide(
        values=values_of_pieces(hull.wholes, prices, len(instance.options)),
        parts=parts,
        bound=None if proven is None else bound + more,
        hull=hull if parts else None,
        loss=loss,
        prices=proven,
        more=more,
    )
