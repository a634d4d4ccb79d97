"""A linear program's abnormal end is an answer like any other, never an exception."""

from __future__ import annotations

from math import inf

import pytest

from tests.bench.mill_like import KINDS, mill_like
from trimopt.budget import Budget
from trimopt.cutting import Demand, Instance, Option, WindingClass, faults_of, solve
from trimopt.cutting.lp.linear_program import LinearProgram, Optimum, SolverFailedError
from trimopt.cutting.lp.tightening import tightened


def test_an_infeasible_program_gives_no_optimum() -> None:
    """Nothing is read from an answer that is no optimum."""
    program = LinearProgram()
    column = program.column(1.0, [(program.row(2.0, inf), 1.0)])
    program.set_max(column, 1.0)
    with pytest.raises(SolverFailedError):
        program.solve()


def test_the_values_that_are_asked_for_come_in_their_order() -> None:
    """Some columns, or all of them."""
    program = LinearProgram()
    columns = [program.column(1.0, [(program.row(low, inf), 1.0)]) for low in (2.0, 3.0, 5.0)]
    program.solve()
    assert program.values().tolist() == [2.0, 3.0, 5.0]
    assert program.values([columns[2], columns[0]]).tolist() == [5.0, 2.0]


def test_a_plan_stands_though_every_program_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no linear program at all the answer is whole, allowed, and its bound below it."""

    def fails(_: LinearProgram) -> None:
        raise SolverFailedError

    monkeypatch.setattr(LinearProgram, "solve", fails)
    instance = Instance(
        demands=(
            Demand(low=7, high=9, ordered=80, under_price=100, over_price=100, surplus_worth=10),
            Demand(low=5, high=5, ordered=60, under_price=100, over_price=100, surplus_worth=12),
        ),
        classes=(WindingClass(cost=40, width=30, max_pieces=3),),
        options=(
            Option(demand=0, winding_class=0, width=10, gain=1, worth=10),
            Option(demand=1, winding_class=0, width=12, gain=1, worth=12),
        ),
    )
    outcome = solve(instance)
    assert outcome.cuts
    assert outcome.loss is not None
    assert faults_of(instance, outcome.cuts) == ()
    assert outcome.bound <= outcome.loss


@pytest.mark.parametrize("solved", [1, 2, 5, 12, 25])
def test_a_plan_stands_though_programs_fail_from_one_on(
    monkeypatch: pytest.MonkeyPatch, solved: int
) -> None:
    """Where so many programs were solved, and no further one is, the answer is whole all the same.

    The last optimum then knows nothing of the patterns that were added after it.
    """
    left = iter(range(solved))
    solves = LinearProgram.solve

    def fails_at_last(program: LinearProgram) -> Optimum:
        if next(left, None) is None:
            raise SolverFailedError
        return solves(program)

    monkeypatch.setattr(LinearProgram, "solve", fails_at_last)
    kind = next(kind for kind in KINDS if kind.name == "reels_classes")
    instance, _ = tightened(mill_like(kind, 4))  # so that its first program is the only one
    outcome = solve(instance, budget=Budget(max_work=1e8))
    assert outcome.loss is not None
    assert faults_of(instance, outcome.cuts) == ()
    assert outcome.bound <= outcome.loss


def test_what_is_held_of_a_column_outlives_a_solver() -> None:
    """The least of a column holds in the solver that is begun anew after a failure, too."""
    program = LinearProgram()
    row = program.row(0.0, 10.0)
    column = program.column(2.0, [(row, 1.0)])
    assert program.solve().cost == 0.0
    program.set_min(column, 3.0)
    assert program.solve().cost == pytest.approx(6.0)
    program._start(1)
    assert program.solve().cost == pytest.approx(6.0)
    assert program.values() == pytest.approx([3.0])
    program.set_min(column, 0.0)
    assert program.solve().cost == 0.0
