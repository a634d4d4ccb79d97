"""Patterns sought in a second way: only where much is left, and the better plan is taken."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book
from trimopt.check import verify_plan
from trimopt.cutting import prove
from trimopt.plan.model import Effort, Request, RunPlan
from trimopt.plan.planning import plan_run, run_patterns
from trimopt.plan.planning.plan_book import make_plan
from trimopt.winding.jumbos import joint_bound

_BOOK = Book(
    source="s",
    fingerprint="f",
    as_of=date(2026, 3, 1),
    orders=tuple(
        board_reel(
            f"O{k}",
            width_mm=Fraction(700 + 145 * k),
            quantity=Fraction(5 - k),
            min_diameter_mm=900.0 + 20 * k,
            max_diameter_mm=1240.0 - 45 * k,
        )
        for k in range(3)
    ),
)


def _run(monkeypatch: pytest.MonkeyPatch, gap: float) -> tuple[RunPlan, list[bool]]:
    """The run's plan with patterns sought again beyond that gap, and the ways that were gone."""
    tried: list[bool] = []
    one_way = plan_run._wound

    def wound(choice: plan_run.RunChoice) -> plan_run.PlannedRun:
        tried.append(choice.task.stretched)
        return one_way(choice)

    monkeypatch.setattr(plan_run, "_wound", wound)
    monkeypatch.setattr(plan_run, "_WIDE_GAP", gap)
    plan = make_plan(_BOOK, sample_mill(), Request())
    monkeypatch.undo()
    assert not verify_plan(plan, _BOOK, sample_mill())
    (run,) = plan.runs
    return replace(run, proof=replace(run.proof, seconds=0.0)), tried


def test_the_better_of_two_ways_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """A run whose gap is small is sought one way; else both, and none is dearer for it."""
    once, one = _run(monkeypatch, float("inf"))
    twice, both = _run(monkeypatch, -1.0)
    assert (one, both) == ([False], [False, True])

    def lost_kg(run: RunPlan) -> float:
        balance = run.balance
        tied = 0.1 * (balance.under_kg + balance.over_kg)
        return balance.used_kg - balance.delivered_kg + tied

    assert lost_kg(twice) <= lost_kg(once) + 1e-6


@pytest.mark.parametrize("few", [2, 3])
def test_of_few_orders_the_second_way_is_sought_quickly(
    monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    """Of the book's three orders; of more than are few with the effort that was asked for."""
    efforts: list[Effort] = []
    again = plan_run._again

    def noted(task: run_patterns.RunTask) -> plan_run.PlannedRun:
        efforts.append(task.settings.effort)
        return again(task)

    monkeypatch.setattr(plan_run, "_again", noted)
    monkeypatch.setattr(plan_run, "_FEW_ORDERS", few)
    run, _ = _run(monkeypatch, -1.0)
    assert efforts == [Effort.QUICK if few == 3 else Effort.NORMAL]
    assert run.sets


def test_what_holds_whichever_way_is_proven_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both ways state the bounds of the first: across the width, and over every length."""
    asked: list[str] = []

    def counted(name: str, real: Callable[..., object]) -> Callable[..., object]:
        def proven(*given: object, **how: object) -> object:
            asked.append(name)
            return real(*given, **how)

        return proven

    monkeypatch.setattr(run_patterns, "prove", counted("bound", prove))
    monkeypatch.setattr(joint_bound, "least_loss", counted("least", joint_bound.least_loss))
    _, both = _run(monkeypatch, -1.0)
    assert both == [False, True]
    assert sorted(asked) == ["bound", "least"]
