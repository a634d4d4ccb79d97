"""Where listed jumbos come off in the list's order, a rest is wound from what is still to come."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from tests.making.orders import board_jumbo, board_reel
from tests.plan.planning.replanning.rests import done
from tests.properties.test_several_widths import plain_mill
from trimopt import WhatRan, replan, verify_plan
from trimopt.book.model import Book, Defect
from trimopt.plan.model import Effort, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.replanning.standing import standing_runs


def test_a_jumbo_that_was_passed_over_is_not_come_back_to() -> None:
    """The first costs a reel of each set, so the second was opened; the last has a hole."""
    streak, hole = (
        Defect(from_m=0, to_m=m, from_mm=Fraction(at), to_mm=Fraction(to), what="s")
        for m, at, to in ((14_200, 1_700, 1_720), (100, 0, 3_600))
    )
    order = board_reel("A", width_mm=Fraction(1180), quantity=Fraction(60))
    jumbos = (
        board_jumbo("first", 14_200, defects=(streak,)),
        board_jumbo("second", 14_200),
        board_jumbo("third", 14_200),
        board_jumbo("last", 14_200, defects=(hole,)),
    )
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,),
                jumbos=jumbos, jumbos_in_order=True)  # fmt: skip
    mill = plain_mill()
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="o-1")
    assert plan.runs[0].jumbos[0].name == "second"
    plan = replace(plan, number="o-1")
    (begun,) = standing_runs(plan, book, mill, done(plan, 0, 1))
    assert [each.name for each in begun.stock] == ["second", "third", "last"]
    (before,) = standing_runs(plan, book, mill, WhatRan())
    assert [each.name for each in before.stock] == ["first", "second", "third", "last"]


def test_jumbos_that_come_while_a_plan_runs_may_keep_their_order() -> None:
    """They were listed when nominal ones had been opened: these, as issued, come before them."""
    order = board_reel("A", width_mm=Fraction(1180), quantity=Fraction(60))
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,))
    mill, quick = plain_mill(), Request(effort=Effort.QUICK)
    plan = replace(make_plan(book, mill, quick, number="o-1"), number="o-1")
    listed = (board_jumbo("M-1", 9_000), board_jumbo("M-2", 9_000))
    book = replace(book, jumbos=listed, jumbos_in_order=True)
    answer = replan(plan, book, mill, done(plan, 0, 1), request=quick)
    (run,) = answer.plan.runs
    names = [jumbo.name for jumbo in run.jumbos]
    assert names == ["R1-J 1", "R1-J 2", "R1-J 3", "M-1", "M-2", "R1-J 4"]
    blocks = tuple(
        replace(
            block,
            sets=tuple(replace(r, issued="") if "R1-J 3" in r.jumbos else r for r in block.sets),
        )
        for block in run.blocks
    )
    claimed = replace(answer.plan, runs=(replace(run, blocks=blocks),))
    said = [str(each) for each in verify_plan(claimed, book, mill)]
    assert any("M-1: is opened in the order of the book's list" in each for each in said)


def test_a_jumbo_not_needed_is_named_when_the_one_before_left_the_list() -> None:
    """It was run off, and the list as it is now has the other alone."""
    order = board_reel("A", width_mm=Fraction(1180), quantity=Fraction(9))
    first, second = board_jumbo("first", 14_200), board_jumbo("second", 14_200)
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,),
                jumbos=(first, second))  # fmt: skip
    mill, quick = plain_mill(), Request(effort=Effort.QUICK)
    plan = replace(make_plan(book, mill, quick, number="o-1"), number="o-1")
    numbers = [row.number for row in plan.runs[0].sets]
    answer = replan(
        plan, replace(book, jumbos=(second,)), mill, done(plan, 0, len(numbers)), request=quick
    )
    (unused,) = answer.plan.unused_jumbos
    assert (unused.name, unused.why[:10]) == ("second", "not needed")
    assert verify_plan(answer.plan, replace(book, jumbos=(second,)), mill) == ()
