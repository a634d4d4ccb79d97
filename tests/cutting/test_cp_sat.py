"""The solver comes without pandas, and with all of it where somebody wants it."""

import subprocess
import sys
from itertools import chain, repeat
from random import Random

import pytest

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import cp_model, run_cp_sat

_SERIES = """
import sys
import trimopt.check, trimopt.fit.curve, trimopt.plan.planning.plan_book
from trimopt.cutting.cp_sat import cp_model

assert "pandas" not in sys.modules
model = cp_model.CpModel()
names = cp_model.pd.Index(["a", "b"])
assert isinstance(names, sys.modules["pandas"].Index)
put = model.new_int_var_series("sets", names, 0, 3)
model.add(put["a"] + put["b"] == 5)
model.maximize(put["b"])
solver = cp_model.CpSolver()
assert solver.solve(model) == cp_model.OPTIMAL
assert solver.values(put).tolist() == [2, 3]
"""
_THERE = """
import pandas
from trimopt.cutting.cp_sat import cp_model

assert cp_model.pd is pandas
"""


def test_pandas_is_imported_by_whoever_uses_it_and_by_nobody_else() -> None:
    subprocess.run([sys.executable, "-c", _SERIES], check=True)


def test_pandas_that_is_there_is_the_one_that_the_solver_knows() -> None:
    subprocess.run([sys.executable, "-c", _THERE], check=True)


@pytest.mark.parametrize(("effort", "stopped"), [(0.02, False), (1e6, True)])
def test_time_that_is_over_after_work_ended_a_solve_stopped_nothing(
    monkeypatch: pytest.MonkeyPatch, effort: float, stopped: bool
) -> None:
    draw, model = Random(1), cp_model.CpModel()
    counts = [model.new_bool_var("") for _ in range(40)]
    for _ in range(5):  # a market split: hard, however small
        shares = [draw.randint(1, 99) for _ in counts]
        halves = sum(share * count for share, count in zip(shares, counts, strict=True))
        model.add(halves == sum(shares) // 2)
    clock = chain([0.0, 0.0], repeat(1e9))
    monkeypatch.setattr("trimopt.budget.monotonic", lambda: next(clock))
    monkeypatch.setattr("trimopt.cutting.cp_sat._LOOK_S", 0.2 if stopped else 60.0)
    budget = Budget(ends_at=1e6)
    _, status = run_cp_sat(model, budget, effort=effort)
    assert status not in {cp_model.OPTIMAL, cp_model.INFEASIBLE}
    assert budget.stopped == stopped
