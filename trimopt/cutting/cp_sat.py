"""The constraint solver, limited by work, by the budget, and by whoever asks to stop."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import contextmanager
from importlib import import_module
from math import inf
from types import ModuleType
from typing import Any

from trimopt.budget import Budget


class _PandasLater(ModuleType):
    """Stands for pandas until something of it is used."""

    Index: type
    Series: type

    def __getattr__(self, name: str) -> Any:
        self.step_aside()
        return getattr(import_module(self.__name__), name)

    def step_aside(self) -> None:
        if sys.modules.get(self.__name__) is self:
            del sys.modules[self.__name__]


@contextmanager
def _without_pandas() -> Iterator[None]:
    """For an import of the solver, whose annotations alone name two types of pandas.

    That takes a tenth of a second and 40 MB in each process, for series of variables which no model
    here has. Where somebody does make one, pandas is imported then.
    """
    later = _PandasLater("pandas")
    if sys.modules.setdefault(later.__name__, later) is not later:
        yield  # it is there already
        return
    later.Index = later.Series = object
    try:
        yield
    finally:
        del later.Index, later.Series
        later.step_aside()


with _without_pandas():
    from ortools.sat.python import cp_model as cp_model  # noqa: PLC0414  handed on

FOUND = frozenset({cp_model.OPTIMAL, cp_model.FEASIBLE})
"""Status of a solver whose values may be read."""

_LOOK_S = 0.05  # between two looks at whether somebody asked to stop
_MIN_S = 0.01


def run_cp_sat(
    model: cp_model.CpModel,
    budget: Budget,
    *,
    effort: float,
    seed: int = 0,
    gap: float | None = None,
) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus]:
    """Solve a model.

    Parameters
    ----------
    effort
        Most work, in the solver's own deterministic seconds.
    gap
        Stop where objective and bound are so close; None: where they meet.

    Returns
    -------
    tuple of CpSolver and status
        Values may be read where the status is in `FOUND`.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
    if gap is not None:
        solver.parameters.absolute_gap_limit = gap
    # It would take the signal away from Python's handler, and leave none behind.
    solver.parameters.catch_sigint_signal = False
    if budget.left_s < inf:
        solver.parameters.max_time_in_seconds = max(_MIN_S, budget.left_s)
    # In a thread of its own: a signal's handler runs in Python only, between two looks.
    with ThreadPoolExecutor(1) as beside:
        search = beside.submit(solver.solve, model)
        try:
            while wait((search,), timeout=_LOOK_S).not_done:
                if budget.over():
                    solver.stop_search()
        finally:
            solver.stop_search()
    status = search.result()
    ended = status in {cp_model.OPTIMAL, cp_model.INFEASIBLE}
    if not ended and solver.response_proto.deterministic_time < effort:
        budget.over()  # the solver's own look at the clock may have ended it
    return solver, status
