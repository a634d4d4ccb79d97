"""The plan does not depend on who else uses the machine, nor on how many workers share the runs."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from time import process_time
from typing import Any

import pytest
from hypothesis import given, strategies as st

from tests.cli.conftest import ROOT
from tests.slow_clock import slow_clock
from trimopt import Book, Effort, Mill, Plan, Request, RunPlan, make_plan, read_book, read_mill
from trimopt.budget import MAX_PLAN_S, Budget
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.run_workers import longest_first, parts_of_time
from trimopt.plan.planning.schedule import run_winding
from trimopt.plan.proof_data import Proof
from trimopt.workers import Workers

_LINES = [
    (250, 1160, 8), (300, 1060, 6), (300, 900, 6), (230, 1160, 8), (230, 640, 6), (230, 900, 6),
]  # fmt: skip
_MADE_AT = datetime(2026, 3, 1, tzinfo=UTC)


def _read(folder: Path) -> tuple[Book, Mill]:
    mill = read_mill(ROOT / "orders" / "mill.toml")
    path = folder / "b.csv"
    rows = [
        f"G{n},K,Folding boxboard,{gsm},reel,{width},1140,1250,152,{reels},reels"
        for n, (gsm, width, reels) in enumerate(_LINES)
    ]
    head = (
        "Order,Customer,Grade,Grammage,Reel or sheet,Width,Min. diameter,Max. diameter,Core,"
        "Quantity,Unit"
    )
    path.write_text("\n".join([head, *rows]), encoding="utf-8")
    return read_book(path, mill), mill


def test_one_worker_or_six_make_one_plan(tmp_path: Path) -> None:
    """Work ends every search at the default limit, so the plans are equal, field by field.

    Six at once have a part of a processor each on most machines.
    """
    book, mill = _read(tmp_path)
    request = Request(time_limit_s=MAX_PLAN_S, effort=Effort.QUICK)

    def planned(workers: Workers | None = None) -> Plan:
        plan = make_plan(book, mill, request, workers=workers, made_at=_MADE_AT)
        assert not any(run.proof.clock_stopped for run in plan.runs)
        return replace(plan, runs=_but_clocks(plan))

    alone = planned()
    with ProcessPoolExecutor(6) as pool:
        assert planned(Workers(executor=pool, count=6)) == alone
        assert planned(Workers(executor=pool, count=2)) == alone  # in two steps


def _but_clocks(plan: Plan) -> tuple[RunPlan, ...]:
    return tuple(replace(run, proof=replace(run.proof, seconds=0.0)) for run in plan.runs)


def test_no_phase_is_cut_while_there_is_time(tmp_path: Path) -> None:
    """On a machine so slow that it takes half the limit, work ends the plan all the same."""
    book, mill = _read(tmp_path)
    request = Request(effort=Effort.QUICK)
    begun = process_time()
    unhurried = make_plan(book, mill, request, budget=Budget())
    spent_s = process_time() - begun
    with slow_clock(MAX_PLAN_S / 2 / spent_s):
        plan = make_plan(book, mill, request, budget=Budget.lasting(MAX_PLAN_S))
    assert not any(run.proof.clock_stopped for run in plan.runs)
    assert _but_clocks(plan) == _but_clocks(unhurried)


def test_idle_workers_prove_the_joint_bound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where there are more of them than runs, whoever winds a run has its bound already."""
    proof_of = run_winding._proof

    def known_already(run: ChosenRun, *args: Any, **more: Any) -> Proof:
        assert run.proven is not None
        assert run.proven.min_loss
        return proof_of(run, *args, **more)

    book, mill = _read(tmp_path)
    request = Request(effort=Effort.QUICK)
    bounds = [run.proof.metres_bound for run in make_plan(book, mill, request).runs]
    assert None not in bounds
    monkeypatch.setattr(run_winding, "_proof", known_already)
    with ProcessPoolExecutor(4) as pool:
        plan = make_plan(book, mill, request, workers=Workers(executor=pool, count=4))
    assert [run.proof.metres_bound for run in plan.runs] == bounds


def test_a_clock_that_stops_it_is_said(tmp_path: Path) -> None:
    """The one exception: then the plan is whole all the same, and says what ended it."""
    book, mill = _read(tmp_path)
    plan = make_plan(book, mill, Request(time_limit_s=0.1))
    assert {line.number for run in plan.runs for line in run.orders} == {
        order.number for order in book.orders
    }
    assert any(run.proof.clock_stopped for run in plan.runs)


@pytest.mark.parametrize(("limit_s", "share"), [(0.01, 0.75), (0.5, 0.5), (60.0, 0.995)])
def test_patterns_come_first_where_time_is_short(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit_s: float, share: float
) -> None:
    """A plan of patterns of one order each is wound soon, and loses what no winding saves.

    Where time is ample they have all but what is enough for the rest.
    """

    def sought(
        _task: object, _making: object, _usable_m: object, budget: Budget, _: object
    ) -> None:
        assert budget.ends_at == pytest.approx(share * limit_s)
        raise InterruptedError

    monkeypatch.setattr("trimopt.budget.monotonic", lambda: 0.0)
    monkeypatch.setattr("trimopt.plan.planning.run_patterns._solved", sought)
    book, mill = _read(tmp_path)
    book = replace(book, orders=book.orders[:1])
    with pytest.raises(InterruptedError):
        make_plan(book, mill, budget=Budget(ends_at=limit_s))


@given(
    st.lists(st.floats(0.5, 1e6), min_size=1, max_size=40),
    st.integers(1, 8),
)
def test_every_worker_has_time_for_all_its_runs(weights: list[float], workers: int) -> None:
    """Runs that take all that they may, on clocks that agree, end in time, and none is starved."""
    parts = parts_of_time(weights, workers)
    free_at, had = [0.0] * workers, [0.0] * len(weights)
    for step in range(len(parts[0])):
        for place in longest_first(weights):
            worker = free_at.index(min(free_at))
            took = parts[place][step] * (1 - free_at[worker])
            had[place] += took
            free_at[worker] += took
    assert all(
        took >= 0.99 * weight / sum(weights) - 1e-9
        for took, weight in zip(had, weights, strict=True)
    )
    assert max(free_at) <= 1 + 1e-9


@pytest.mark.parametrize(("workers", "first"), [(0, 1 / 6), (1, 0.7 / 6), (2, 0.7 / 3), (6, 1.0)])
def test_equal_runs_have_equal_time(workers: int, first: float) -> None:
    """Six of a size on so many workers: each has what its worker can give to all of its own."""
    parts = parts_of_time([7.0] * 6, workers)
    assert parts[0][0] == pytest.approx(first)
    assert parts[-1][-1] == 1
