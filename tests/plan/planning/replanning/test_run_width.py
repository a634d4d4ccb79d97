"""A run of listed jumbos alone has the width of the most of them, and keeps it once begun."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from tests.making.orders import board_jumbo, board_reel
from tests.plan.planning.replanning.rests import done, replan
from tests.properties.test_several_widths import plain_mill
from trimopt import WhatRan, verify_plan
from trimopt.book.model import Book
from trimopt.plan.model import Effort, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.replanning.standing import standing_runs


def test_a_run_of_which_only_an_odd_jumbo_was_begun_has_the_width_of_the_others() -> None:
    """The other is found to be narrow too, so that none has the width that was planned."""
    order = board_reel("A", width_mm=Fraction(880), quantity=Fraction(24), over=Fraction(1, 5))
    narrow, wide = board_jumbo("N", 6_600, width_mm=Fraction(3_570)), board_jumbo("W", 14_200)
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,),
                jumbos=(narrow, wide), only_listed_jumbos=True, jumbos_in_order=True)  # fmt: skip
    mill = plain_mill()
    plan = replace(make_plan(book, mill, Request(effort=Effort.QUICK)), number="w-1")
    assert [block.jumbo_width_mm for block in plan.runs[0].blocks] == [3_570, None]
    now = replace(book, jumbos=(narrow, replace(wide, width_mm=Fraction(3_590))))
    (begun,) = standing_runs(plan, now, mill, done(plan, 0, 1))
    assert begun.mill.jumbo.width_mm == 3_590
    assert {block.jumbo_width_mm for block in begun.head} == {3_570}
    assert {block.jumbo_width_mm for block in begun.tail} == {3_570, 3_600}
    (before,) = standing_runs(plan, book, mill, WhatRan())
    assert [block.jumbo_width_mm for block in before.tail] == [3_570, None]
    answer = replan(plan, now, mill, done(plan, 0, 1))
    assert verify_plan(answer.plan, now, mill) == ()


def test_a_jumbo_of_half_millimetres_that_left_the_book_still_counts() -> None:
    """A set was run off it, so the run's unit of width has to divide its width."""
    order = board_reel("A", width_mm=Fraction(880), quantity=Fraction(24), over=Fraction(1, 5))
    odd = board_jumbo("N", 6_600, width_mm=Fraction(7_141, 2))
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,),
                jumbos=(odd,), jumbos_in_order=True)  # fmt: skip
    mill = plain_mill()
    plan = replace(make_plan(book, mill, Request(effort=Effort.QUICK)), number="w-1")
    assert plan.runs[0].jumbos[0].name == "N"
    now = replace(book, jumbos=())
    answer = replan(plan, now, mill, done(plan, 0, 2))
    assert verify_plan(answer.plan, now, mill) == ()
