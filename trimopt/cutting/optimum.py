"""Linear programs read safely: an optimum with duals, or None for any other end."""

from __future__ import annotations

from collections.abc import Callable

from ortools.math_opt.python import mathopt

__all__ = ["optimum"]


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
