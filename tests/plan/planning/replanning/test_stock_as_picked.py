"""Reels from stock in a plan of the rest: with their order, once, and none where it is filled."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from functools import cache

import pytest

from tests.plan.planning.replanning.rests import done, replan
from tests.plan.test_from_stock import ORDERS, mill
from trimopt import (
    Book,
    Effort,
    Plan,
    Request,
    WhatRan,
    make_plan,
    read_book,
    revise_plan,
    verify_plan,
)
from trimopt.plan.revision import EditedPlan


@cache
def book() -> Book:
    """An order of reels, of which one lies in stock, and one of sheets."""
    whole = read_book(ORDERS / "stock.xlsx", mill())
    orders = tuple(each for each in whole.orders if each.number in ("4801-01", "4801-09"))
    few = tuple(
        replace(each, quantity=Fraction(12 if each.number == "4801-01" else 30_000), due=None)
        for each in orders
    )
    stock = tuple(each for each in whole.stock if each.name in ("S-1107", "S-1150"))
    return replace(whole, orders=few, stock=stock)


@cache
def plan() -> Plan:
    """Its plan."""
    return make_plan(book(), mill(), Request(effort=Effort.QUICK), number="stock-1")


def used(of: Plan) -> dict[str, str]:
    """The order of each reel that comes from stock."""
    return {reel.name: number for number, _, reel in of.stock_used}


def test_a_reel_stays_with_the_order_it_was_picked_for() -> None:
    """A line due before it is of the same width and diameter: the reel may be on its way."""
    assert used(plan()) == {"S-1107": "4801-01", "S-1150": "4801-09"}
    soon = plan().runs[0].start
    assert soon is not None
    rush = replace(
        book().orders[0], number="rush", quantity=Fraction(1), over=Fraction(0), priority=1,
        due=soon + timedelta(hours=3),
    )  # fmt: skip
    now = replace(book(), orders=(rush, *book().orders))
    assert used(make_plan(now, mill(), Request(effort=Effort.QUICK)))["S-1107"] == "rush"
    answer = replan(plan(), now, mill(), done(plan(), 0, 2))
    assert used(answer.plan) == used(plan())
    assert verify_plan(answer.plan, now, mill()) == ()
    edited = EditedPlan(issued=answer.plan, plan=answer.plan)
    revision = revise_plan(edited, now, mill())
    assert revision.faults == ()
    assert revision.plan is not None
    assert used(revision.plan) == used(plan())


def test_a_reel_that_is_listed_later_goes_to_no_order_that_is_filled() -> None:
    """All sets were run: the order has what its tolerance allows, or lacks so much less."""
    sets = len(plan().runs[0].sets)
    new = replace(book().stock[0], name="new")
    now = replace(book(), stock=(*book().stock, new))
    answer = replan(plan(), now, mill(), done(plan(), 0, sets))
    line = next(each for each in answer.plan.runs[0].orders if each.number == "4801-01")
    made = line.planned + line.from_stock
    assert made <= line.asked * (1 + book().orders[0].over)
    assert line.surplus_kg == 0
    assert verify_plan(answer.plan, now, mill()) == ()


def test_one_that_is_listed_while_its_order_is_made_takes_a_place() -> None:
    """Nothing was run of it yet: so much less is made."""
    new = replace(book().stock[0], name="new")
    now = replace(book(), stock=(*book().stock, new))
    answer = replan(plan(), now, mill(), WhatRan())
    assert used(answer.plan)["new"] == "4801-01"
    assert verify_plan(answer.plan, now, mill()) == ()


def test_one_that_is_listed_no_more_is_named() -> None:
    """What it gave is made, unless somebody says that it was delivered."""
    now = replace(book(), stock=book().stock[1:])
    answer = replan(plan(), now, mill(), done(plan(), 0, 1))
    (warning,) = answer.warnings
    assert "stock reel S-1107 is on the stock sheet no more" in warning
    line = next(each for each in answer.plan.runs[0].orders if each.number == "4801-01")
    assert line.planned + line.from_stock >= line.asked * (1 - book().orders[0].under)
    assert verify_plan(answer.plan, now, mill()) == ()


@pytest.mark.parametrize("number", ["4801-01", "4801-09"])
def test_one_of_a_cancelled_order_is_free_again(number: str) -> None:
    """It goes to nobody where nobody wants it."""
    left = tuple(each for each in book().orders if each.number != number)
    now = replace(book(), orders=left)
    answer = replan(plan(), now, mill(), WhatRan())
    assert number not in used(answer.plan).values()
    assert verify_plan(answer.plan, now, mill()) == ()


def test_an_order_that_is_left_out_of_the_rest_keeps_its_reel() -> None:
    """No jumbo is left for it; the warehouse brings what was picked all the same."""
    now = replace(book(), only_listed_jumbos=True, jumbos=())
    answer = replan(plan(), now, mill(), done(plan(), 0, 1))
    assert used(answer.plan) == used(plan())
    assert verify_plan(answer.plan, now, mill()) == ()
