"""The linear program over patterns: least loss with sets in fractions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from ortools.math_opt.python import mathopt

from trimopt.cutting.instance import SCALE, Instance
from trimopt.cutting.outcome import Pattern
from trimopt.cutting.programs import KeptWarm

__all__ = ["Master", "NoSolutionError", "Point"]

Floats = NDArray[np.float64]


class NoSolutionError(Exception):
    """No solver of linear programs gave an optimum with duals."""


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
    _model: mathopt.Model = field(init=False)
    _program: KeptWarm = field(init=False)
    _sets: list[mathopt.Variable] = field(init=False, default_factory=list)
    _gain_rows: list[mathopt.LinearConstraint] = field(init=False, default_factory=list)
    _worth_rows: dict[int, mathopt.LinearConstraint] = field(init=False, default_factory=dict)
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
        self._model = mathopt.Model()
        self._program = KeptWarm(self._model)
        self._model.objective.is_maximize = False
        for i, demand in enumerate(instance.demands):
            unit = self._gain_unit[i]
            high = float("inf") if demand.high is None else demand.high / unit
            row = self._model.add_linear_constraint(lb=demand.low / unit, ub=high)
            self._gain_rows.append(row)
            surplus = None
            if demand.high is not None:
                surplus = self._model.add_variable(lb=0.0)
                row.set_coefficient(surplus, -1.0)
                cost = SCALE * demand.surplus_worth * unit / self._loss_unit
                self._model.objective.set_linear_coefficient(surplus, cost)
            if demand.ordered is not None:
                self._goal(i, surplus)

    def _goal(self, i: int, surplus: mathopt.Variable | None) -> None:
        demand, unit = self.instance.demands[i], self._worth_unit[i]
        assert demand.ordered is not None
        wanted = demand.ordered / unit
        row = self._model.add_linear_constraint(lb=wanted, ub=wanted)
        self._worth_rows[i] = row
        if surplus is not None:
            row.set_coefficient(surplus, -demand.surplus_worth * self._gain_unit[i] / unit)
        for sign, price in ((1.0, demand.under_price), (-1.0, demand.over_price)):
            part = self._model.add_variable(lb=0.0)
            row.set_coefficient(part, sign)
            self._model.objective.set_linear_coefficient(part, price * unit / self._loss_unit)

    def add(self, pattern: Pattern) -> int:
        """Give the place of a pattern, adding it where it is new."""
        place = self.index.get(pattern)
        if place is not None:
            return place
        instance = self.instance
        column = self._model.add_variable(lb=0.0)
        gains: dict[int, int] = {}
        worths: dict[int, int] = {}
        for k, count in pattern.pieces:
            option = instance.options[k]
            gains[option.demand] = gains.get(option.demand, 0) + option.gain * count
            worths[option.demand] = worths.get(option.demand, 0) + option.worth * count
        for i, gain in gains.items():
            self._gain_rows[i].set_coefficient(column, gain / self._gain_unit[i])
            if i in self._worth_rows:
                self._worth_rows[i].set_coefficient(column, worths[i] / self._worth_unit[i])
        loss = SCALE * (instance.classes[pattern.winding_class].cost - sum(worths.values()))
        self._model.objective.set_linear_coefficient(column, loss / self._loss_unit)
        self.index[pattern] = len(self.patterns)
        self.patterns.append(pattern)
        self._sets.append(column)
        return len(self.patterns) - 1

    def bounds(self, changes: Mapping[int, tuple[float, float]]) -> None:
        """Set the least and greatest number of sets of patterns."""
        for place, (least, most) in changes.items():
            column = self._sets[place]
            column.lower_bound = least
            column.upper_bound = most

    def free(self, places: Iterable[int]) -> None:
        """Take the limits off patterns."""
        self.bounds({place: (0.0, float("inf")) for place in places})

    def solve(self) -> Point:
        """Solve the program.

        Raises
        ------
        NoSolutionError
            Where no solver gives an optimum.
        """
        result = self._program.solve()
        if result is None:
            raise NoSolutionError
        gains = np.array(result.dual_values(self._gain_rows))
        worth = {i: result.dual_values(row) for i, row in self._worth_rows.items()}
        count = len(self.instance.demands)
        gain_price = gains * self._loss_unit / np.array(self._gain_unit, dtype=np.float64)
        worth_price = np.array(
            [
                SCALE + worth.get(i, 0.0) * self._loss_unit / self._worth_unit[i]
                for i in range(count)
            ]
        )
        return Point(
            loss=result.objective_value() * self._loss_unit,
            sets=self._values(result.variable_values()),
            gain_price=gain_price,
            worth_price=worth_price,
        )

    def _values(self, values: Mapping[mathopt.Variable, float]) -> Floats:
        """Sets of each pattern; the solver names only those that are not 0."""
        return np.array([values.get(column, 0.0) for column in self._sets])

    @property
    def iterations(self) -> int:
        """Simplex iterations so far: the work done."""
        return self._program.iterations
