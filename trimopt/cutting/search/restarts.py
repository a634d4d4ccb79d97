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
from collections.abc import Callable, Mapping, Sequence

from trimopt.cutting.lp.convexified import Guide
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.search.local_search import LocalSearch
from trimopt.cutting.search.piece_moves import ClassSweeps
from trimopt.cutting.search.search_state import Search, paper_cost


class Restarts:
    """Turns of a search that has a plan, until plan and bound are close."""

    def __init__(self, search: Search, guide: Guide, exchange: LocalSearch, seed: int) -> None:
        self.search, self.guide, self.exchange, self.seed = search, guide, exchange, seed
        self.params = search.params.restarts
        self.rng = random.Random(seed)
        self.proved: int | None = None  # the plan's loss when the bound was raised
        of_orders = self.params.order_exchanges * len(search.instance.demands)
        self.many = of_orders > self.params.start_exchanges
        self.start_exchanges = max(self.params.start_exchanges, of_orders)

    @property
    def closed(self) -> bool:
        """Whether plan and bound are as close as it pays to bring them."""
        return self.search.within(self.params.target_gap) or self.search.rests()

    def first(self, plans: Sequence[Mapping[Pattern, int] | None]) -> None:
        """Exchange sets from fresh starts, and from plans that are known; None is the best one."""
        if not self.closed:
            self.begin()
        for plan in plans:
            if not self.closed:
                self._exchanged(plan)

    def run(self, pricers: Sequence[Pricer], prove: Callable[[], None]) -> None:
        """Take turns, each other one from a fresh start, those between from the best plan.

        Where the plan stands still the gap may be the bound's: then that is raised (`prove`), once.
        """
        if self.closed:
            return
        amounts = ClassSweeps(self.search, pricers, self.guide, self.seed)
        end, anew = max(self.params.work, self.search.budget.work + self.params.min_work), True
        while self.search.budget.work < end and not self.closed:
            if anew:
                start = self.begin()
            else:
                self._again()
                start = self._best()
            amounts.run(start, self.params.piece_move_work, lambda: self.closed)
            if not self.closed:
                self.exchange.run(self.params.exchanges_after)
            anew = not anew
            if self.proved is None and not self.closed and self.search.stands_still():
                before = self.search.budget.work
                prove()
                self.proved = self.search.loss
                end += self.search.budget.work - before

    def begin(self) -> dict[Pattern, int]:
        """Return the best of some plans that begin from whole sets of the linear program.

        It need not make all that is wanted: one that lacks a piece is near a good one.
        """
        found: list[tuple[float, int, dict[Pattern, int]]] = []
        end = self.search.budget.work + self.params.min_work
        for start in range(self.params.starts):
            sets = self.guide.whole_sets({}, self.params.max_rise * self._paper(), self.rng)
            loss, plan = self._exchanged(sets or {})
            found.append((loss, start, plan))
            if self.closed or self.search.budget.work > end:
                break
        return min(found)[2]

    def _exchanged(self, plan: Mapping[Pattern, int] | None) -> tuple[float, dict[Pattern, int]]:
        """Exchange sets from a fresh start.

        Of many orders some lack a little at all times, which costs less than the set that mends
        it: where that is far below any whole plan, it is made whole.
        """
        loss, best = self.exchange.run(self.start_exchanges, plan)
        assert self.search.loss is not None
        far = self.search.params.stages.far_gap * self._paper()
        if self.many and self.search.loss - loss > far:
            loss, best = self.exchange.run(self.start_exchanges, best, whole=True)
        return loss, best

    def _again(self) -> None:
        """Leave a part of the best plan out, and make it anew, some times."""
        for _ in range(self.params.repairs):
            if self.closed:
                return
            best = self._best()
            each = [pattern for pattern in sorted(best) for _ in range(best[pattern])]
            number = min(
                len(each), self.rng.randint(self.params.min_left_out, self.params.max_left_out)
            )
            for pattern in self.rng.sample(each, number):
                best[pattern] -= 1
            assert self.search.loss is not None
            gap = self.search.loss - (self.search.bound or 0)
            more = max(self.params.max_rise * self._paper(), self.params.gap_share * gap)
            sets = self.guide.whole_sets({p: n for p, n in best.items() if n}, more, self.rng)
            if sets is not None:
                self.exchange.run(self.params.repair_exchanges, sets)

    def _best(self) -> dict[Pattern, int]:
        return {cut.pattern: cut.sets for cut in self.search.cuts}

    def _paper(self) -> int:
        return paper_cost(self.search.instance, self.search.cuts)
