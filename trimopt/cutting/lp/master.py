"""The linear program over patterns: least loss with sets in fractions."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.linear_program import Program
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.outcome import Pattern, yields_of

__all__ = ["Master", "Point"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Point:
    """An optimum of the linear program; prices in units of loss per unit of yield and worth."""

    loss: float
    sets: Floats
    gain_price: Floats
    worth_price: Floats


@dataclass(slots=True)
class Master:
    """Patterns so far and the program over them, kept in the solver between rounds.

    For demand i, with sums over patterns, surplus s, and u and o what is below and above the
    ordered worth::

        low <= Σ yield · sets - s <= high
        Σ worth · sets - surplus_worth · s + u - o = ordered

    Rows are scaled by the greatest yield and worth of a piece, the loss by the dearest set, so
    that the solver's tolerances mean the same in every instance.
    """

    instance: Instance
    patterns: list[Pattern] = field(default_factory=list)
    index: dict[Pattern, int] = field(default_factory=dict)
    _program: Program = field(init=False, default_factory=Program)
    _sets: list[int] = field(init=False, default_factory=list)
    _gain_rows: list[int] = field(init=False, default_factory=list)
    _worth_rows: dict[int, int] = field(init=False, default_factory=dict)
    _gain_unit: list[int] = field(init=False)
    _worth_unit: list[int] = field(init=False)
    _loss_unit: float = field(init=False)
    _constant: float = field(init=False, default=0.0)

    def __post_init__(self) -> None:
        instance = self.instance
        self._gain_unit = [1] * len(instance.demands)
        self._worth_unit = [1] * len(instance.demands)
        for option in instance.options:
            i = option.demand
            self._gain_unit[i] = max(self._gain_unit[i], option.gain)
            self._worth_unit[i] = max(self._worth_unit[i], option.worth)
        self._loss_unit = float(SCALE * max([limits.cost for limits in instance.classes] + [1]))
        for i, demand in enumerate(instance.demands):
            unit = self._gain_unit[i]
            high = inf if demand.high is None else demand.high / unit
            row = self._program.row(demand.low / unit, high)
            self._gain_rows.append(row)
            surplus = None
            if demand.high is not None:
                cost = SCALE * demand.surplus_worth * unit / self._loss_unit
                surplus = self._program.column(cost, [(row, -1.0)])
            if demand.ordered is not None:
                self._goal(i, surplus)

    def _goal(self, i: int, surplus: int | None) -> None:
        demand, unit = self.instance.demands[i], self._worth_unit[i]
        assert demand.ordered is not None
        wanted = demand.ordered / unit
        row = self._program.row(wanted, wanted)
        self._worth_rows[i] = row
        if surplus is not None:
            self._program.part(row, surplus, -demand.surplus_worth * self._gain_unit[i] / unit)
        for sign, price in ((1.0, demand.under_price), (-1.0, demand.over_price)):
            self._program.column(price * unit / self._loss_unit, [(row, sign)])

    def add(self, pattern: Pattern) -> int:
        """Give the place of a pattern, adding it where it is new."""
        place = self.index.get(pattern)
        if place is not None:
            return place
        instance = self.instance
        yields = yields_of(instance, pattern)
        parts = [(self._gain_rows[i], gain / self._gain_unit[i]) for i, (gain, _) in yields.items()]
        parts += [
            (self._worth_rows[i], worth / self._worth_unit[i])
            for i, (_, worth) in yields.items()
            if i in self._worth_rows
        ]
        worth = sum(worth for _, worth in yields.values())
        loss = SCALE * (instance.classes[pattern.winding_class].cost - worth)
        self.index[pattern] = len(self.patterns)
        self.patterns.append(pattern)
        self._sets.append(self._program.column(loss / self._loss_unit, parts))
        return len(self.patterns) - 1

    def solve(self) -> Point:
        """Solve the program.

        Raises
        ------
        SolverFailedError
            Where no solver gives an optimum.
        """
        found = self._program.solve()
        gains = found.rows[self._gain_rows]
        worth = {i: float(found.rows[row]) for i, row in self._worth_rows.items()}
        gain_price = gains * self._loss_unit / np.array(self._gain_unit, dtype=np.float64)
        worth_price = np.array(
            [
                SCALE + worth.get(i, 0.0) * self._loss_unit / self._worth_unit[i]
                for i in range(len(self.instance.demands))
            ]
        )
        return Point(
            loss=found.cost * self._loss_unit,
            sets=self._program.values()[self._sets],
            gain_price=gain_price,
            worth_price=worth_price,
        )

    @property
    def iterations(self) -> int:
        """Simplex iterations so far: the work done."""
        return self._program.iterations
