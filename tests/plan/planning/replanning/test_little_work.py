"""Plans of the rest for which there is next to no work."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.plan.planning.conftest import Case
from trimopt import Budget, WhatRan, replan


@pytest.mark.parametrize("parts", [1, 3], ids=["most", "a part"])
def test_what_nobody_asks_for_any_more_is_not_made(cases: tuple[Case, Case], parts: int) -> None:
    """A line asks for a quarter, or for three: the sets that are left over are given up."""
    case = cases[0]
    less = [
        replace(each, quantity=Fraction(each.quantity * parts // 4))
        if each.number == "4801-01"
        else each
        for each in case.book.orders
    ]
    book = replace(case.book, orders=tuple(less))
    start = case.plan.settings.start
    answer = replan(
        case.plan, book, case.mill, WhatRan(), now=start, keep_until=start,
        request=replace(case.plan.request, time_limit_s=0.5), budget=Budget(),
    )  # fmt: skip
    was, now = (
        {line.number: line for run in plan.runs for line in run.orders}["4801-01"]
        for plan in (case.plan, answer.plan)
    )
    assert was.planned > now.max_quantity
    assert now.planned <= now.max_quantity
    surplus_kg = sum(run.balance.surplus_kg for run in answer.plan.runs)
    assert surplus_kg < 1_000
