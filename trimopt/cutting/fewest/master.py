"""The linear program of fewest sets, kept warm in the solver, and its column generation."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import ceil

import numpy as np
from numpy.typing import NDArray
from ortools.math_opt.python import mathopt

from trimopt.cutting.fewest.tables import Counts, Found
from trimopt.cutting.programs import KeptWarm
from trimopt.cutting.search import Search

__all__ = ["PRICE_SCALE", "Master", "Node", "Point", "SolverFailedError"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

PRICE_SCALE = 1 << 32
"""Whole-number prices: what a set costs."""

ARTIFICIAL = 16.0
"""Sets that a missing piece costs at first; raised where it turns out too little."""

Pricing = Callable[[Ints, int], Found]


class SolverFailedError(Exception):
    """No solver of linear programs gave an optimum with duals."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Point:
    """An optimum: sets of each column, pieces missing, price of a piece of each item."""

    sets: float
    columns: Floats
    missing: float
    prices: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Node:
    """What column generation leaves: the last optimum, and a bound with its whole prices.

    `total` is the sum of need and price, `most` what no pattern is worth more than; no plan has
    fewer sets than total / most.
    """

    point: Point
    bound: int
    prices: Ints
    total: int
    most: int


@dataclass(slots=True)
class Master:
    """Columns so far and the program over them.

    `exact` asks for just the pieces needed and none above, as positions of pieces require.
    """

    need: list[int]
    exact: bool = False
    columns: list[Counts] = field(default_factory=list)
    index: dict[Counts, int] = field(default_factory=dict)
    closed: set[int] = field(default_factory=set)
    artificial: float = ARTIFICIAL
    _model: mathopt.Model = field(init=False)
    _program: KeptWarm = field(init=False)
    _rows: list[mathopt.LinearConstraint] = field(init=False, default_factory=list)
    _missing: list[mathopt.Variable] = field(init=False, default_factory=list)
    _sets: list[mathopt.Variable] = field(init=False, default_factory=list)

    _places: dict[int, int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._model = mathopt.Model()
        self._program = KeptWarm(self._model)
        self._model.objective.is_maximize = False
        for n in self.need:
            upper = float(n) if self.exact else float("inf")
            row = self._model.add_linear_constraint(lb=float(n), ub=upper)
            part = self._model.add_variable(lb=0.0)
            row.set_coefficient(part, 1.0)
            self._model.objective.set_linear_coefficient(part, self.artificial)
            self._rows.append(row)
            self._missing.append(part)

    def add(self, counts: Counts) -> bool:
        """Add a column; False where it is there and open."""
        place = self.index.get(counts)
        if place is not None:
            if place in self.closed:
                self.open(place)
                return True
            return False
        column = self._model.add_variable(lb=0.0)
        self._model.objective.set_linear_coefficient(column, 1.0)
        for i, n in counts:
            self._rows[i].set_coefficient(column, float(n))
        self.index[counts] = len(self.columns)
        self.columns.append(counts)
        self._places[column.id] = len(self._sets)
        self._sets.append(column)
        return True

    def leading(self, point: Point) -> list[Counts]:
        """Give the columns, those first that are used or cost least above their worth."""
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
            self._sets[place].upper_bound = float("inf")
            self.closed.discard(place)

    def close(self, place: int) -> None:
        """Keep a column from being used."""
        if place not in self.closed:
            self._sets[place].upper_bound = 0.0
            self.closed.add(place)

    def ask(self, need: Sequence[int]) -> None:
        """Change the pieces needed."""
        for i, n in enumerate(need):
            if n != self.need[i]:
                self._rows[i].lower_bound = float(n)
                if self.exact:
                    self._rows[i].upper_bound = float(n)
                self.need[i] = n

    def raise_artificial(self) -> None:
        """Make missing pieces dearer."""
        self.artificial *= 16
        for part in self._missing:
            self._model.objective.set_linear_coefficient(part, self.artificial)

    def solve(self) -> Point:
        """Solve the program.

        Raises
        ------
        SolverFailedError
            Where no solver gives an optimum.
        """
        result = self._program.solve()
        if result is None:
            raise SolverFailedError
        values = result.variable_values()
        columns = np.zeros(len(self.columns))
        missing = 0.0
        for variable, value in values.items():
            place = self._places.get(variable.id)
            if place is None:
                missing += value
            else:
                columns[place] = value
        return Point(
            sets=result.objective_value(),
            columns=columns,
            missing=missing,
            prices=np.array(result.dual_values(self._rows)),
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
        search
            Told of the work.
        target
            Stop once the bound is above this many sets: the branch is dead.
        """
        point = self.solve()
        centre: Ints | None = None
        best = Node(point=point, bound=0, prices=_whole(point.prices), total=0, most=1)
        while True:
            aim = _whole(point.prices)
            trial = aim if centre is None else (aim + centre) // 2
            added, best, centre = self._price(price, search, trial, best, centre)
            if not added and trial is not aim:
                added, best, centre = self._price(price, search, aim, best, centre)
            done = best.bound >= ceil(point.sets - 1e-6) and point.missing < 1e-9
            if done or not added or (target is not None and best.bound > target):
                return Node(
                    point=point,
                    bound=best.bound,
                    prices=best.prices,
                    total=best.total,
                    most=best.most,
                )
            before = self.iterations
            point = self.solve()
            search.spend(50 * (self.iterations - before + 10) * len(self.need))

    def _price(
        self, price: Pricing, search: Search, prices: Ints, best: Node, centre: Ints | None
    ) -> tuple[int, Node, Ints | None]:
        """Price once: columns added, the better bound, and the prices that gave it."""
        found = price(prices, PRICE_SCALE + 16)
        search.spend(found.work)
        added = sum([self.add(counts) for _, counts in found.patterns])
        total = sum(int(p) * n for p, n in zip(prices, self.need, strict=True))
        most = max(found.most, 1)
        if centre is None or total * best.most > best.total * most:
            bound = max(best.bound, -(-total // most))
            best = Node(point=best.point, bound=bound, prices=prices, total=total, most=most)
            centre = prices
        return added, best, centre


def _whole(prices: Floats) -> Ints:
    return np.floor(prices * PRICE_SCALE).astype(np.int64)
