"""A linear program of columns and rows, kept warm in the solver."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver import linear_solver_pb2, pywraplp

Floats = NDArray[np.float64]

_WAYS = (
    ("GLOP", "use_preprocessing: false"),
    ("GLOP", "use_preprocessing: false"),
    ("GLOP", ""),
    ("CLP", ""),
)
"""Solvers with their parameters; the first is kept warm, the others begin anew after a failure."""


class SolverFailedError(Exception):
    """No solver of linear programs gave an optimum."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Optimum:
    """Cost, and dual of each row."""

    cost: float
    rows: Floats


class LinearProgram:
    """Least cost over columns from zero up, and rows between two limits.

    The solver's own wrapper takes a column in a tenth of the time of the modelling layer, and reads
    no basis: together these were a third of column generation.
    """

    def __init__(self) -> None:
        self.iterations = 0
        self.duals: Floats = np.zeros(0)  # of the rows at the last optimum
        self._costs: list[float] = []
        self._bottoms: list[float] = []
        self._tops: list[float] = []
        self._limits: list[tuple[float, float]] = []
        self._parts: list[dict[int, float]] = []
        self._start(0)

    def _start(self, way: int) -> None:
        """Put the whole program into a new solver."""
        kind, parameters = _WAYS[way]
        solver = pywraplp.Solver.CreateSolver(kind)
        if solver is None:
            raise SolverFailedError
        if parameters:
            solver.SetSolverSpecificParametersAsString(parameters)
        self._solver = solver
        self._objective = solver.Objective()
        self._objective.SetMinimization()
        self._rows = [solver.Constraint(low, high, "") for low, high in self._limits]
        ends = zip(self._bottoms, self._tops, strict=True)
        self._columns = [solver.NumVar(bottom, top, "") for bottom, top in ends]
        for column, cost, parts in zip(self._columns, self._costs, self._parts, strict=True):
            self._objective.SetCoefficient(column, cost)
            for row, part in parts.items():
                self._rows[row].SetCoefficient(column, part)

    def row(self, low: float, high: float) -> int:
        """Add a row; infinite limits are none."""
        self._limits.append((low, high))
        self._rows.append(self._solver.Constraint(low, high, ""))
        return len(self._rows) - 1

    def limits(self, row: int, low: float, high: float) -> None:
        """Change the limits of a row."""
        self._limits[row] = (low, high)
        self._rows[row].SetBounds(low, high)

    def column(self, cost: float, parts: Sequence[tuple[int, float]]) -> int:
        """Add a column with its coefficients by row."""
        column = self._solver.NumVar(0.0, self._solver.infinity(), "")
        self._objective.SetCoefficient(column, cost)
        for row, part in parts:
            self._rows[row].SetCoefficient(column, part)
        self._costs.append(cost)
        self._bottoms.append(0.0)
        self._tops.append(self._solver.infinity())
        self._parts.append(dict(parts))
        self._columns.append(column)
        return len(self._columns) - 1

    def part(self, row: int, column: int, part: float) -> None:
        """Set a coefficient."""
        self._parts[column][row] = part
        self._rows[row].SetCoefficient(self._columns[column], part)

    def cost(self, column: int, cost: float) -> None:
        """Change what a column costs."""
        self._costs[column] = cost
        self._objective.SetCoefficient(self._columns[column], cost)

    def set_min(self, column: int, value: float) -> None:
        """Change the least value of a column."""
        self._bottoms[column] = value
        self._columns[column].SetLb(value)

    def set_max(self, column: int, value: float) -> None:
        """Change the greatest value of a column."""
        self._tops[column] = value
        self._columns[column].SetUb(value)

    def solve(self) -> Optimum:
        """Return the optimum.

        Raises
        ------
        SolverFailedError
            Where no solver gives one.
        """
        for way in range(len(_WAYS)):
            if way:
                self._start(way)
            if self._solver.Solve() == pywraplp.Solver.OPTIMAL:
                break
        else:
            raise SolverFailedError
        self.iterations += self._solver.iterations()
        self.duals = np.array([row.dual_value() for row in self._rows])
        return Optimum(cost=self._objective.Value(), rows=self.duals)

    def basis(self) -> tuple[list[int], list[int]]:
        """Columns and rows that are basic at the optimum, before anything is changed."""
        basic = pywraplp.Solver.BASIC
        columns = [j for j, column in enumerate(self._columns) if column.basis_status() == basic]
        return columns, [i for i, row in enumerate(self._rows) if row.basis_status() == basic]

    def parts_of(self, column: int) -> Mapping[int, float]:
        """Coefficients of a column by row."""
        return self._parts[column]

    def values(self, columns: Iterable[int] | None = None) -> Floats:
        """Return the values of columns, None: of all, at the optimum, before anything is changed.

        To read them takes longer than many an optimum, so they are read where they are wanted, all
        at once: in a fifth of the time of one by one.
        """
        answer = linear_solver_pb2.MPSolutionResponse()
        self._solver.FillSolutionResponseProto(answer)
        values = np.array(answer.variable_value)
        return values if columns is None else values[np.fromiter(columns, np.int64)]
