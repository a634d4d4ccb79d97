"""The solver comes without pandas, and with all of it where somebody wants it."""

import subprocess
import sys

_SERIES = """
import sys
import trimopt.check, trimopt.fit.curve_tables, trimopt.plan.planning.plan_book
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
