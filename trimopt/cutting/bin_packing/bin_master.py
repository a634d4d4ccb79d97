"""The linear program of fewest sets, kept warm in the solver, and its column generation.

References
----------
P. Wentges (1997), "Weighted Dantzig-Wolfe decomposition for linear mixed-integer programming",
International Transactions in Operational Research 4, 151-162.
A. Pessoa, R. Sadykov, E. Uchoa, F. Vanderbeck (2018), "Automation and combination of linear-
programming based stabilization techniques in column generation", INFORMS Journal on Computing 30,
339-360.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import ceil, inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.bin_packing.item_tables import BestPatterns, Counts
from trimopt.cutting.lp.linear_program import LinearProgram
from trimopt.cutting.search.search_state import Search

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

PRICE_SCALE = 1 << 32
"""Whole-number prices: what a set costs."""

ARTIFICIAL = 16.0
"""Sets that a missing piece costs at first; raised where it turns out too little."""

Pricing = Callable[[Ints, int], BestPatterns]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PackingSolution:
    """An optimum: sets of each column, pieces missing, price of a piece of each item."""

    sets: float
    columns: Floats
    missing: float
    prices: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Node:
    """What column generation leaves: the last optimum, and a bound with its whole prices.

    `total` is the sum of need and price, `max_worth` what no pattern is worth more than; no plan
    has fewer sets than total / max_worth.
    """

    point: PackingSolution
    bound: int
    prices: Ints
    total: int
    max_worth: int


@dataclass(slots=True)
class BinMaster:
    """Columns so far and the program over them.

    `exact` asks for just the pieces needed and none above, as positions of pieces require.
    """

    need: list[int]
    exact: bool = False
    columns: list[Counts] = field(default_factory=list)
    index: dict[Counts, int] = field(default_factory=dict)
    closed: set[int] = field(default_factory=set)
    artificial: float = ARTIFICIAL
    _program: LinearProgram = field(init=False, default_factory=LinearProgram)
    _missing: list[int] = field(init=False, default_factory=list)
    _sets: list[int] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        for i, n in enumerate(self.need):
            self._program.row(float(n), float(n) if self.exact else inf)
            self._missing.append(self._program.column(self.artificial, [(i, 1.0)]))

    def add(self, counts: Counts) -> bool:
        """Add a column; False where it is there and open."""
        place = self.index.get(counts)
        if place is not None:
            if place in self.closed:
                self.open(place)
                return True
            return False
        self._sets.append(self._program.column(1.0, [(i, float(n)) for i, n in counts]))
        self.index[counts] = len(self.columns)
        self.columns.append(counts)
        return True

    def leading(self, point: PackingSolution) -> list[Counts]:
        """Return the columns, those first that are used or cost least above their worth."""
        worth = [sum(point.prices[i] * n for i, n in counts) for counts in self.columns]
        used = np.zeros(len(self.columns))
        used[: len(point.columns)] = point.columns
        order = sorted(
            range(len(self.columns)), key=lambda p: (used[p] <= 0, -round(worth[p], 9), p)
        )
        return [self.columns[p] for p in order]

    def open(self, place: int) -> None:
        """Let a column be used."""
        if place in self.closed:
            self._program.set_max(self._sets[place], inf)
            self.closed.discard(place)

    def close(self, place: int) -> None:
        """Keep a column from being used."""
        if place not in self.closed:
            self._program.set_max(self._sets[place], 0.0)
            self.closed.add(place)

    def ask(self, need: Sequence[int]) -> None:
        """Change the pieces needed."""
        for i, n in enumerate(need):
            if n != self.need[i]:
                self._program.limits(i, float(n), float(n) if self.exact else inf)
                self.need[i] = n

    def tilt(self, less: Floats) -> None:
        """Ask for so much less of each piece; for the whole need again where that is nothing."""
        for i, n in enumerate(self.need):
            part = n - float(less[i])
            self._program.limits(i, part, part if self.exact else inf)

    def raise_artificial(self) -> None:
        """Make missing pieces dearer."""
        self.artificial *= 16
        for part in self._missing:
            self._program.cost(part, self.artificial)

    def solve(self) -> PackingSolution:
        """Solve the program.

        Raises
        ------
        SolverFailedError
            Where no solver gives an optimum.
        """
        found = self._program.solve()
        values = self._program.values()
        return PackingSolution(
            sets=found.cost,
            columns=values[self._sets],
            missing=float(values[self._missing].sum()),
            prices=found.rows,
        )

    @property
    def iterations(self) -> int:
        """Simplex iterations so far: the work done."""
        return self._program.iterations

    def generate(self, price: Pricing, search: Search, target: int | None = None) -> Node:
        """Add columns until the bound meets the program, or passes `target`.

        Parameters
        ----------
        price
            Gives the best patterns for whole-number prices.
        target
            Stop once the bound is above this many sets: the branch is dead.
        """
        # Prices of one optimum after another swing far. So they are asked for half-way between the
        # last optimum and the prices of the best bound so far, and where that brings no column, at
        # the optimum itself (smoothing; Wentges 1997, Pessoa et al. 2018).
        point = self.solve()
        centre: Ints | None = None
        best = Node(point=point, bound=0, prices=whole(point.prices), total=0, max_worth=1)
        while True:
            aim = whole(point.prices)
            trial = aim if centre is None else (aim + centre) // 2
            added, best, centre = self._price(price, search, trial, best, centre)
            if not added and trial is not aim:
                added, best, centre = self._price(price, search, aim, best, centre)
            done = best.bound >= ceil(point.sets - 1e-6) and point.missing < 1e-9
            if done or not added or (target is not None and best.bound > target):
                return replace(best, point=point)
            before = self.iterations
            point = self.solve()
            search.budget.spend(50 * (self.iterations - before + 10) * len(self.need))

    def _price(
        self, price: Pricing, search: Search, prices: Ints, best: Node, centre: Ints | None
    ) -> tuple[int, Node, Ints | None]:
        """Price once: columns added, the better bound, and the prices that gave it."""
        found = price(prices, PRICE_SCALE + 16)
        search.budget.spend(found.work)
        added = sum([self.add(counts) for _, counts in found.patterns])
        total = sum(int(p) * n for p, n in zip(prices, self.need, strict=True))
        most = max(found.bound, 1)
        # total / most bounds the sets from below (Farley 1990): compared without dividing.
        if centre is None or total * best.max_worth > best.total * most:
            bound = max(best.bound, -(-total // most))
            best = Node(point=best.point, bound=bound, prices=prices, total=total, max_worth=most)
            centre = prices
        return added, best, centre


def whole(prices: Floats) -> Ints:
    """Return prices in whole numbers, on the scale of `PRICE_SCALE`."""
    return np.floor(prices * PRICE_SCALE).astype(np.int64)
