"""Closing the gap in turns: whole sets from the linear program, whole pieces, exchanges of sets.

Each of them finds what the others miss, and none is worth much for long: fresh starts are good at
once and no better later, whole pieces mend what is short or too long in an order and leave patterns
as they are where they fit, exchanges do the reverse.

References
----------
P. Shaw (1998), "Using constraint programming and local search methods to solve vehicle routing
problems", CP-98, 417-431, for leaving a part of a plan out and making it anew.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence

from trimopt.cutting.lp.convexified import Guide
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.outcome import Pattern
from trimopt.cutting.search.local_search import Exchange
from trimopt.cutting.search.piece_moves import Amounts
from trimopt.cutting.search.search_state import Search, paper_cost

__all__ = ["CLOSER", "Closing"]

CLOSER = 5e-4  # of paper used: the gap at which to stop
# Of a search with all its turns, of the turns at least, and of whole pieces in one of them.
_WORK, _MIN_WORK, _AMOUNTS_WORK = 13_000_000_000, 3_000_000_000, 500_000_000
_STARTS, _EXCHANGES = 4, 300  # starts to choose from, and exchanges from each
_AGAIN, _EXCHANGES_AGAIN = 4, 150  # times that a part is made anew, and exchanges from there
_EXCHANGES_AFTER = 450  # after whole pieces were sought
_LEFT_OUT = (20, 60)  # sets that are made anew, at least and at most
_RISE = 6e-4  # of paper used: what whole sets may lose more than the linear program
_SHARE = 0.9  # of the gap: what sets must save that are made anew


class Closing:
    """Turns of a search that has a plan, until plan and bound are close.

    Parameters
    ----------
    search, guide
        The search, and what the linear program says of good plans.
    exchange
        Exchanges over a pool of patterns.
    seed
        The same again gives the same.
    """

    def __init__(self, search: Search, guide: Guide, exchange: Exchange, seed: int) -> None:
        self.search, self.guide, self.exchange, self.seed = search, guide, exchange, seed
        self.rng = random.Random(seed)

    @property
    def closed(self) -> bool:
        """Whether plan and bound are as close as it pays to bring them."""
        return self.search.within(CLOSER)

    def first(self, plans: Sequence[Mapping[Pattern, int] | None]) -> None:
        """Exchange sets from fresh starts, and from plans that are known; None is the best one."""
        if not self.closed:
            self.begin()
        for plan in plans:
            if not self.closed:
                self.exchange.run(_EXCHANGES, plan)

    def run(self, pricers: Sequence[Pricer]) -> None:
        """Take turns, each other one from a fresh start, those between from the best plan."""
        if self.closed:
            return
        amounts = Amounts(self.search, pricers, self.guide, self.seed)
        end, anew = max(_WORK, self.search.budget.work + _MIN_WORK), True
        while self.search.budget.work < end and not self.closed:
            if anew:
                start = self.begin()
            else:
                self._again()
                start = self._best()
            amounts.run(start, _AMOUNTS_WORK, CLOSER)
            if not self.closed:
                self.exchange.run(_EXCHANGES_AFTER)
            anew = not anew

    def begin(self) -> dict[Pattern, int]:
        """Give the best of some plans that begin from whole sets of the linear program.

        It need not make all that is wanted: one that lacks a piece is near a good one.
        """
        found: list[tuple[float, int, dict[Pattern, int]]] = []
        for start in range(_STARTS):
            sets = self.guide.whole_sets({}, _RISE * self._paper(), self.rng)
            loss, plan = self.exchange.run(_EXCHANGES, sets or {})
            found.append((loss, start, plan))
            if self.closed:
                break
        return min(found)[2]

    def _again(self) -> None:
        """Leave a part of the best plan out, and make it anew, some times."""
        for _ in range(_AGAIN):
            if self.closed:
                return
            best = self._best()
            each = [pattern for pattern in sorted(best) for _ in range(best[pattern])]
            number = min(len(each), self.rng.randint(*_LEFT_OUT))
            for pattern in self.rng.sample(each, number):
                best[pattern] -= 1
            assert self.search.loss is not None
            gap = self.search.loss - (self.search.bound or 0)
            more = max(_RISE * self._paper(), _SHARE * gap)
            sets = self.guide.whole_sets({p: n for p, n in best.items() if n}, more, self.rng)
            if sets is not None:
                self.exchange.run(_EXCHANGES_AGAIN, sets)

    def _best(self) -> dict[Pattern, int]:
        return {cut.pattern: cut.sets for cut in self.search.cuts}

    def _paper(self) -> int:
        return paper_cost(self.search.instance, self.search.cuts)
