"""Looking for a plan of K sets: fix whole parts, then a large fraction, price what is left.

References
----------
W. D. Harvey, M. L. Ginsberg (1995), "Limited discrepancy search", IJCAI 14, 607-613.
"""

from __future__ import annotations

from collections.abc import Callable
from math import floor

import numpy as np

from trimopt.cutting.bin_packing.bin_master import BinMaster, PackingSolution
from trimopt.cutting.bin_packing.bin_problem import BinProblem, Sets
from trimopt.cutting.bin_packing.greedy_fill import best_fill
from trimopt.cutting.bin_packing.item_tables import BestPatterns, Counts
from trimopt.cutting.search.search_state import Search

NEARLY = 1e-6


class BinDive:
    """Dives on one master; its columns stay, its limits are taken off again.

    Parameters
    ----------
    problem, master, search
        The problem, the program over its columns, and the state that counts the work.
    price
        Gives patterns for whole prices and pieces still needed.
    """

    def __init__(
        self,
        problem: BinProblem,
        master: BinMaster,
        search: Search,
        price: Callable[[np.ndarray, list[int], int], BestPatterns],
    ) -> None:
        self.problem = problem
        self.master = master
        self.search = search
        self.price = price

    def dive(
        self, point: PackingSolution, target: int, *, depth: int, deviations: int
    ) -> Sets | None:
        """Return a plan of at most `target` sets, where one of the dives ends in it.

        Parameters
        ----------
        point
            Optimum at the whole need.
        depth
            Levels at which the second choice may be taken.
        deviations
            How many second choices a dive may take.
        """
        need = list(self.problem.need)
        open_before = set(self.master.closed)
        try:
            return self._descend(
                {}, need, point, target, depth=depth, deviations=deviations, tabu=set()
            )
        finally:
            self.master.ask(self.problem.need)
            for place in list(self.master.closed - open_before):
                self.master.open(place)

    def _descend(
        self,
        fixed: Sets,
        need: list[int],
        point: PackingSolution,
        target: int,
        *,
        depth: int,
        deviations: int,
        tabu: set[Counts],
    ) -> Sets | None:
        """One step of a dive, and the dives that deviate from it."""
        fixed, need, before = dict(fixed), list(need), sum(need)
        parts = self._fix_whole(fixed, need, point)
        if not any(need):
            return fixed if sum(fixed.values()) <= target else None
        rest = best_fill(self.problem, need, cap=target - sum(fixed.values()))
        if rest is not None:
            return _joined(fixed, rest)
        # The largest fraction goes up first. Near the root, where a wrong choice costs most, so do
        # the next largest in turn, as many as may deviate; one that failed is not tried again below
        # its neighbours (limited discrepancy search).
        choices = [part for part in parts if part not in tabu]
        choices = choices[: 1 + (deviations if depth > 0 else 0)]
        if not choices:
            if sum(need) == before:
                return None
            choices = [()]
        for taken, counts in enumerate(choices):
            child, left = dict(fixed), list(need)
            if counts:
                self._fix(child, left, counts, 1)
            plan = self._next(child, left, target)
            if isinstance(plan, PackingSolution):
                plan = self._descend(
                    child,
                    left,
                    plan,
                    target,
                    depth=depth - 1,
                    deviations=deviations - taken,
                    tabu=tabu,
                )
            if plan is not None:
                return plan
            tabu = tabu | {counts}
        return None

    def _fix_whole(self, fixed: Sets, need: list[int], point: PackingSolution) -> list[Counts]:
        """Take the whole parts of an optimum; its columns in fractions, the largest first."""
        parts = []
        for x, counts in zip(point.columns.tolist(), self.master.columns, strict=False):
            if x > NEARLY:
                n = floor(x + NEARLY)
                if n:
                    self._fix(fixed, need, counts, n)
                if x - n > NEARLY:
                    parts.append((n - x, counts))
        return [counts for _, counts in sorted(parts)]

    def _next(self, fixed: Sets, need: list[int], target: int) -> PackingSolution | Sets | None:
        """Price the rest; a plan where there is no rest, None where it needs too many sets."""
        room = target - sum(fixed.values())
        if not any(need):
            return fixed if room >= 0 else None
        if room <= 0:
            return None
        for p, counts in enumerate(self.master.columns):
            if any(n > need[i] for i, n in counts):
                self.master.close(p)
            else:
                self.master.open(p)
        self.master.ask(need)
        node = self.master.generate(
            lambda prices, cutoff: self.price(prices, need, cutoff), self.search, room
        )
        return None if node.bound > room else node.point

    @staticmethod
    def _fix(fixed: Sets, need: list[int], counts: Counts, sets: int) -> None:
        """Take sets of a column, as many of its pieces as are still needed."""
        for _ in range(sets):
            kept = tuple((i, min(n, need[i])) for i, n in counts if need[i] > 0)
            if not kept:
                return
            run = min(need[i] // n for i, n in kept)
            run = max(1, min(run, sets))
            for i, n in kept:
                need[i] -= run * n
            fixed[kept] = fixed.get(kept, 0) + run
            sets -= run
            if sets <= 0:
                return


def _joined(fixed: Sets, rest: Sets) -> Sets:
    plan = dict(fixed)
    for counts, n in rest.items():
        plan[counts] = plan.get(counts, 0) + n
    return plan
