"""Linear programs read safely: an optimum with duals, or None for any other end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from ortools.math_opt.python import mathopt

__all__ = ["KeptWarm", "lean_results", "optimum"]


def lean_results() -> mathopt.ModelSolveParameters:
    """Ask for what is read alone: turning results into Python objects costs more than solving."""
    return mathopt.ModelSolveParameters(
        variable_values_filter=mathopt.SparseVectorFilter(skip_zero_values=True),
        reduced_costs_filter=mathopt.SparseVectorFilter(filtered_items=()),
    )


def optimum(run: Callable[[], mathopt.SolveResult]) -> mathopt.SolveResult | None:
    """Run a solver; None where it ends without an optimum and duals, abnormally too.

    A solver can come back abnormal, and the binding's own translation of that error can fail with
    another exception.
    """
    try:
        result = run()
    except (AttributeError, RuntimeError, ValueError):
        return None
    if result.termination.reason != mathopt.TerminationReason.OPTIMAL:
        return None
    return result if result.has_dual_feasible_solution() else None


@dataclass(slots=True)
class KeptWarm:
    """A linear program that stays in the solver between changes.

    GLOP kept warm; where it fails, anew; where it fails again, with its own defaults, then HiGHS.
    """

    model: mathopt.Model
    iterations: int = 0
    _solver: mathopt.IncrementalSolver | None = None

    def solve(self) -> mathopt.SolveResult | None:
        """The optimum; None where no solver gives one with duals."""
        quick = mathopt.SolveParameters(presolve=mathopt.Emphasis.OFF)
        for fresh in (False, True):
            if fresh or self._solver is None:
                self._solver = mathopt.IncrementalSolver(self.model, mathopt.SolverType.GLOP)
            warm = self._solver
            result = optimum(partial(warm.solve, params=quick, model_params=lean_results()))
            if result is not None:
                self.iterations += result.solve_stats.simplex_iterations
                return result
        self._solver = None
        for kind in (mathopt.SolverType.GLOP, mathopt.SolverType.HIGHS):
            result = optimum(partial(mathopt.solve, self.model, kind))
            if result is not None:
                return result
        return None
