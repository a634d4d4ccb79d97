"""The linear program over patterns: least loss with sets in fractions."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.linear_program import LinearProgram
from trimopt.cutting.model.cuts import Pattern, yields_of
from trimopt.cutting.model.instance import SCALE, Demand, Instance

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LPSolution:
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
    _program: LinearProgram = field(init=False, default_factory=LinearProgram)
    _sets: list[int] = field(init=False, default_factory=list)
    _rows: list[tuple[int, int]] = field(init=False, default_factory=list)
    _units: list[tuple[int, int]] = field(init=False, default_factory=list)
    _loss_unit: float = field(init=False)

    def __post_init__(self) -> None:
        instance = self.instance
        self._loss_unit = float(SCALE * max([limits.cost for limits in instance.classes] + [1]))
        for demand, places in zip(instance.demands, instance.by_demand(), strict=True):
            options = [instance.options[k] for k in places]
            gain = max([1, *(option.gain for option in options)])
            worth = max([1, *(option.worth for option in options)])
            self._units.append((gain, worth))
            self._rows.append(demand_rows(self._program, demand, (gain, worth), self._loss_unit))

    def add(self, pattern: Pattern) -> int:
        """Return the place of a pattern, adding it where it is new."""
        place = self.index.get(pattern)
        if place is not None:
            return place
        instance = self.instance
        yields = yields_of(instance, pattern)
        parts = [
            (row, amount / unit)
            for i, amounts in yields.items()
            for row, amount, unit in zip(self._rows[i], amounts, self._units[i], strict=True)
        ]
        worth = sum(worth for _, worth in yields.values())
        loss = SCALE * (instance.classes[pattern.winding_class].cost - worth)
        self.index[pattern] = len(self.patterns)
        self.patterns.append(pattern)
        self._sets.append(self._program.column(loss / self._loss_unit, parts))
        return len(self.patterns) - 1

    def solve(self) -> LPSolution:
        """Solve the program.

        Raises
        ------
        SolverFailedError
            Where no solver gives an optimum.
        """
        found = self._program.solve()
        duals = found.rows[np.array(self._rows).reshape(-1, 2)] * self._loss_unit
        prices = duals / np.array(self._units, dtype=np.float64).reshape(-1, 2)
        return LPSolution(
            loss=found.cost * self._loss_unit,
            sets=self._program.values(self._sets),
            gain_price=prices[:, 0],
            worth_price=SCALE + prices[:, 1],
        )

    def set_price(self, winding_class: int) -> float:
        """What a pattern of a class must be worth to pay, at the last optimum."""
        return SCALE * self.instance.classes[winding_class].cost

    @property
    def iterations(self) -> int:
        """Simplex iterations so far: the work done."""
        return self._program.iterations


def demand_rows(
    program: LinearProgram, demand: Demand, units: tuple[float, float], loss_unit: float
) -> tuple[int, int]:
    """Add the rows of one demand, and the columns of its surplus and of what it is off the mark.

    Parameters
    ----------
    units
        Of yield and of worth in the program: with them coefficients are about 1.
    loss_unit
        Of the program's objective.

    Returns
    -------
    tuple of int
        Its rows of yield and of worth. To a pattern's worth in the second belongs a cost of
        -SCALE times it in the objective; where nothing is ordered the row limits nothing.
    """
    gain_unit, worth_unit = units
    high = inf if demand.high is None else demand.high / gain_unit
    gain_row = program.row(demand.low / gain_unit, high)
    wanted = demand.ordered
    limits = (-inf, inf) if wanted is None else (wanted / worth_unit, wanted / worth_unit)
    worth_row = program.row(*limits)
    if demand.high is not None:
        back = demand.surplus_worth * gain_unit
        parts = [(gain_row, -1.0), (worth_row, -back / worth_unit)]
        program.column(SCALE * back / loss_unit, parts)
    if wanted is not None:
        for sign, price in ((1.0, demand.under_price), (-1.0, demand.over_price)):
            program.column(price * worth_unit / loss_unit, [(worth_row, sign)])
    return gain_row, worth_row
