"""Held enquiries take part in plans, each once, and are shown as held and not ordered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from tests.plan.test_stock import book, listed
from trimopt.book.model import Book, LeftOut, Order, TakenUp
from trimopt.check import verify_plan
from trimopt.errors import RequestError
from trimopt.plan.codec import from_json, plan_json
from trimopt.plan.model import OrderLine, Plan, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.report.words.attention import calls_of
from trimopt.report.words.plan_words import state_text
from trimopt.report.words.units import METRIC

_UNTIL = date(2026, 3, 6)


def held(number: str, **more: object) -> Order:
    """Reels of the sample mill's board that somebody has been offered."""
    return board_reel(number, **{"customer": "Wrenlow", "held_until": _UNTIL, **more})


def plan_with(of: Book, *more: Order) -> Plan:
    """The plan of a book with what is held, checked, and read back as it was written."""
    request = Request(held=more)
    plan = replace(make_plan(of, sample_mill(), request), number="held-1")
    assert [str(one) for one in verify_plan(plan, of, sample_mill(), request)] == []
    assert from_json(plan_json(plan)) == plan
    return plan


def _numbers(plan: Plan) -> list[str]:
    return [line.number for run in plan.runs for line in run.orders]


def test_it_is_planned_beside_the_orders_and_shown() -> None:
    """Reels are made of it; the scheduler reads first that it is no order, and until when."""
    plan = plan_with(book((board_reel("A1"), board_reel("A2"))), held("HELD-7"))
    assert _numbers(plan) == ["A1", "A2", "HELD-7"]
    (line,) = (line for run in plan.runs for line in run.orders if line.number == "HELD-7")
    assert line.planned > 0
    assert state_text(line).startswith("held, not ordered; ")
    (call,) = (call for call in calls_of(plan, METRIC) if call.order == "HELD-7")
    assert (call.customer, call.state) == ("Wrenlow", "held, not ordered")
    assert call.why.startswith("held until 2026-03-06")


@pytest.mark.parametrize(
    "order", [board_reel("A2", held_as="held-7"), board_reel("Held-7")], ids=["column", "number"]
)
def test_an_order_that_names_it_takes_its_place(order: Order) -> None:
    """By the column or by its own number: it is planned once, and the plan says what it was."""
    plan = plan_with(book((board_reel("A1"), order)), held("HELD-7"), held("HELD-8"))
    assert _numbers(plan) == ["A1", order.number, "HELD-8"]
    assert plan.taken_up == (TakenUp(held="HELD-7", order=order.number),)


def test_its_paper_is_not_run_for_it_alone() -> None:
    """Nor does a grade that the mill file has no more break the plan."""
    of = book((board_reel("A1"),))
    plan = plan_with(of, held("HELD-7", grade="Gone board"), held("HELD-8", grammage_gsm=1.0))
    assert _numbers(plan) == ["A1"]
    why = "held until 2026-03-06, not ordered; the book has no order of its paper"
    assert plan.left_out == tuple(LeftOut(order=f"HELD-{k}", why=why) for k in (7, 8))


def test_what_cannot_be_made_any_more_is_left_out_with_the_limit() -> None:
    """Wider than the winder takes, as after a change of the mill file."""
    plan = plan_with(book((board_reel("A1"),)), held("HELD-7", width_mm=Fraction(9000)))
    (left,) = plan.left_out
    assert left.order == "HELD-7"
    assert _numbers(plan) == ["A1"]


def test_an_order_with_a_due_date_goes_before_it() -> None:
    """Where the listed jumbos do not last for both, the held enquiry is short."""
    due = replace(board_reel("A1"), due=plan_with(book((board_reel("A1"),))).runs[0].finish)
    more = replace(due, quantity=due.quantity * 20)
    of = book((more,), listed("L1", 9000), only=True)
    plan = plan_with(of, held("HELD-7", width_mm=due.width_mm))
    made = {line.number: line for run in plan.runs for line in run.orders}
    assert made["A1"].planned > 0
    assert made["HELD-7"].planned == 0


def test_what_is_held_is_sound() -> None:
    """Each with a day and a number of its own."""
    of = book((board_reel("A1"),))
    for wrong, said in (
        ([held("HELD-7", held_until=None)], "no day until which it is held"),
        ([held("HELD-7"), held("held-7")], "is there twice"),
    ):
        with pytest.raises(RequestError, match=said):
            make_plan(of, sample_mill(), Request(held=tuple(wrong)))


def _with_lines(plan: Plan, lines: Iterable[OrderLine]) -> Plan:
    (run,) = plan.runs
    return replace(plan, runs=(replace(run, orders=tuple(lines)),))


def test_the_check_finds_what_is_not_so() -> None:
    """A held enquiry passed off as an order, dropped, planned twice, or taken up by nobody."""
    of = book((board_reel("A1"), board_reel("A2", held_as="HELD-8")))
    plan = plan_with(of, held("HELD-7"), held("HELD-8"), held("HELD-9", grammage_gsm=1.0))
    (run,) = plan.runs
    ordered = [replace(line, held_until=None) for line in run.orders]
    for wrong, said in (
        (_with_lines(plan, ordered), "held until"),
        (replace(plan, taken_up=()), "have become orders"),
        (replace(plan, taken_up=(TakenUp(held="HELD-7", order="A1"),)), "have become orders"),
        (replace(plan, left_out=()), "planned, or left out"),
        (_with_lines(plan, [line for line in run.orders if line.held_until is None]), "HELD-7"),
        (replace(plan, request=Request()), "order HELD-7"),
    ):
        findings = "\n".join(map(str, verify_plan(wrong, of, sample_mill())))
        assert said in findings, findings
