"""A shift that ends early, over random books: against the whole plan cut off at the same moment."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from random import Random

import pytest

from tests.properties.test_plans_hold import random_book, random_mill
from trimopt.book.model import Book
from trimopt.check import verify_plan
from trimopt.check.check_formulas import need_of
from trimopt.check.findings import CheckContext, Findings
from trimopt.check.orders_check import made_by
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.request_settings import shift_begins

_DUE = datetime.fromisoformat("2026-03-03T12:00")


def equal_book(draw: Random) -> tuple[Book, Mill]:
    """Reels and sheets of one paper or two, no order more urgent than another.

    Two papers are two runs, of which one may be begun before the other is made.
    """
    mill = random_mill(draw)
    book = random_book(draw)
    due, priority = draw.choice([None, _DUE]), draw.choice([None, 1])
    orders = tuple(replace(order, due=due, priority=priority) for order in book.orders)
    if draw.random() < 0.4:
        more = random_book(draw).orders
        orders += tuple(
            replace(
                order, number=f"{order.number}b", grammage_gsm=220.0, due=due, priority=priority
            )
            for order in more
        )
    return replace(book, orders=orders), mill


def cut_off_kg(whole: Plan, until: datetime, book: Book, mill: Mill) -> float:
    """What the sets of a plan that are finished by then deliver, counted as the check counts."""
    total = 0.0
    by_number = {order.number: order for order in book.orders}
    for run in whole.runs:
        blocks = tuple(
            replace(
                block,
                sets=tuple(x for x in block.sets if x.finish is not None and x.finish <= until),
            )
            for block in run.blocks
        )
        case = CheckContext(
            run=replace(run, blocks=blocks),
            mill=mill,
            book=book,
            orders={line.number: by_number[line.number] for line in run.orders},
            notes=Findings(),
        )
        for number, made in made_by(case.run, case.orders, mill).items():
            order = by_number[number]
            surplus = made.surplus_kg(order, need_of(order, case.unit_mm))
            total += float(made.product_kg(order) - surplus)
    return total


def _planned(book: Book, mill: Mill, until: datetime | None) -> Plan | None:
    try:
        plan = make_plan(book, mill, Request(until=until), number="hours-1")
    except InfeasibleError:
        return None
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    return plan


def delivered_kg(plan: Plan) -> float:
    """Of all orders, within their tolerances."""
    return sum(line.delivered_kg for run in plan.runs for line in run.orders)


def finish(plan: Plan) -> datetime:
    """When the last set is finished."""
    return max(run.finish for run in plan.runs if run.finish is not None)


@pytest.mark.parametrize("seed", [1, 8, 10])
def test_orders_alike_get_no_less_than_by_cutting_off_the_whole_plan(seed: int) -> None:
    """Priorities and due dates equal: whatever the shift's end, tonnes are not fewer."""
    draw = Random(seed)
    book, mill = equal_book(draw)
    whole = _planned(book, mill, None)
    if whole is None:
        return
    begin = shift_begins(book)
    share = draw.uniform(0.15, 0.95)
    until = begin + (finish(whole) - begin) * share
    plan = _planned(book, mill, until)
    cut = cut_off_kg(whole, until, book, mill)
    if plan is None:
        assert cut == 0.0
        return
    assert finish(plan) <= until
    assert delivered_kg(plan) >= cut - 0.001
