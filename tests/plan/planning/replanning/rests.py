"""Plans of the rest in tests: how they are asked for, and what holds of all of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from typing import Any

import pytest

import trimopt
from tests.plan.planning.conftest import Case
from trimopt import Book, Budget, DoneSet, Plan, Replan, RunPlan, WhatRan, verify_plan
from trimopt.plan.model import Block, SetRow
from trimopt.plan.planning.replanning.kept_sets import task_of
from trimopt.plan.planning.replanning.least_disturbance import RestSearch
from trimopt.plan.planning.replanning.standing import standing_runs


def replan(plan: Plan, *args: Any, **named: Any) -> Replan:
    """A plan of the rest, with little work and no clock: the same on every machine."""
    request = replace(plan.request, time_limit_s=1)
    return trimopt.replan(plan, *args, **named, request=request, budget=Budget())


def rows(run: RunPlan) -> list[tuple[Block, SetRow]]:
    """Every set of a run with its block."""
    return [(block, row) for block in run.blocks for row in block.sets]


def goes_on(answer: Replan, book: Book, case: Case) -> None:
    """What holds of every plan of the rest."""
    plan = answer.plan
    assert verify_plan(plan, book, case.mill) == ()
    for run in plan.runs:
        numbers = [row.number for _, row in rows(run)]
        assert numbers == sorted(set(numbers))
        balance = run.balance
        parts = (
            balance.delivered_kg + balance.surplus_kg + balance.edge_trim_kg
            + balance.pattern_trim_kg + balance.sheeter_kg + balance.butts_kg
            + balance.start_end_kg + balance.culls_kg + balance.defects_kg
        )  # fmt: skip
        assert parts == pytest.approx(balance.used_kg, abs=0.1)
        area = sum(
            float(jumbo.width_mm) * (jumbo.length_m - jumbo.carried_forward_m)
            for jumbo in run.jumbos
        )
        paper_kg = area * run.grammage_gsm / 1e6
        assert paper_kg == pytest.approx(balance.used_kg, abs=0.1)
        names = [jumbo.name for jumbo in run.jumbos]
        assert len(set(names)) == len(names)


def rest_search(case: Case, book: Book) -> RestSearch:
    """The search for the whole of a plan, as long as nothing was run."""
    settings = case.plan.settings
    assert settings.start is not None
    stands = standing_runs(case.plan, book, case.mill, WhatRan())[0]
    task = task_of(
        stands, stands.run, book, settings=settings, start=settings.start, before=None,
        instructions=(), budget=Budget(),
    )  # fmt: skip
    return RestSearch(
        case=stands, tail=stands.tail, task=task, name="R1-J", settings=settings,
        now=settings.start, start=settings.start, before=None,
    )  # fmt: skip


def done(plan: Plan, place: int, count: int) -> WhatRan:
    """The first sets of a run, as planned."""
    run = plan.runs[place]
    return WhatRan(
        sets=tuple(DoneSet(run=run.name, number=row.number) for _, row in rows(run)[:count])
    )


def with_rush(case: Case, due: datetime | None = None) -> Book:
    """The book with a line more, due soon."""
    first = case.book.orders[0]
    rush = replace(
        first, number="rush", width_mm=Fraction(701), quantity=Fraction(6), due=due, priority=1
    )
    return replace(case.book, orders=(*case.book.orders, rush))
