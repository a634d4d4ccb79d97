"""What is held goes before a new enquiry: in the plan's paper, on its clock, and in the note."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest

from tests.fit.programs import NAMES
from tests.fit.small_books import WORK, asked, book_of, mill_of, planned
from trimopt.book import Book, Unit
from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Order
from trimopt.budget import Budget
from trimopt.check import verify_plan
from trimopt.fit import EnquiryService, as_order
from trimopt.fit.enquiry import with_tolerance
from trimopt.fit.held_in_plan import plan_with_held
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan

_LINER = NAMES[4]


def _small() -> tuple[Book, Mill]:
    return book_of(_LINER, 3), mill_of(_LINER)


def _held(mill: Mill, number: str, width_mm: int, reels: int) -> Order:
    order = as_order(with_tolerance(asked(_LINER, width_mm, reels, Unit.REELS), mill))
    return replace(order, number=number, held_until=date(2026, 12, 1))


def _placed(plan: Plan, book: Book, mill: Mill, *held: Order) -> Plan:
    found = plan_with_held(plan, with_held(book, held), mill, budget=Budget())
    return replace(found, request=replace(plan.request, held=held))


def test_the_plan_with_what_is_held_passes_the_check() -> None:
    """Two of them, one of a width on a finer grid: all that is said of sets, clock and proof."""
    book, mill = _small()
    plan = planned(book, mill)
    one, two = _held(mill, "HELD-1", 735, 4), _held(mill, "HELD-2", 1010, 3)
    two = replace(two, width_mm=Fraction(2021, 2))
    placed = _placed(plan, book, mill, one, two)
    lines = {line.number: line for line in placed.runs[0].orders}
    assert [number for number in lines if number.startswith("HELD")] == ["HELD-1", "HELD-2"]
    assert all(lines[number].planned >= 3 for number in ("HELD-1", "HELD-2"))
    assert [str(finding) for finding in verify_plan(placed, book, mill)] == []


def test_it_takes_hours_and_paper_from_the_next() -> None:
    """The minutes that are left are those after it, by the plan as issued."""
    book, mill = _small()
    plan = planned(book, mill)
    finish = plan.runs[0].finish
    assert finish is not None
    held = _held(mill, "HELD-1", 735, 8)
    after = _placed(plan, book, mill, held).runs[0].finish
    assert after is not None
    assert after > finish
    until = after + timedelta(minutes=20)
    short = replace(plan, settings=replace(plan.settings, until=until))
    enquiry = asked(_LINER, 735, 8, Unit.REELS)
    free = EnquiryService(mill, book, short, **WORK).answer(enquiry, quick=True)
    assert free.lacking is None
    service = EnquiryService(mill, book, short, **WORK, held=(held,))
    answer = service.answer(enquiry, quick=True)
    assert answer.from_plan == plan.number
    assert answer.lacking is not None
    assert answer.lacking.what == "hours"
    assert "held enquiries go before it: HELD-1" in answer.notes


@pytest.mark.parametrize("gone", ["order", "held"])
def test_a_plan_of_other_orders_is_not_patched(gone: str) -> None:
    """An order more in the book, or a held enquiry of the plan that is over: the run is planned."""
    book, mill = _small()
    held = _held(mill, "HELD-1", 735, 4)
    if gone == "held":
        plan = _placed(planned(book, mill), book, mill, held)
        answer = EnquiryService(mill, book, plan, **WORK).answer(
            asked(_LINER, 735, 4, Unit.REELS), quick=True
        )
        assert answer.from_plan == ""
        assert answer.placement is not None
    else:
        more = book_of(_LINER, 4)
        plan = planned(book, mill)
        assert plan_with_held(plan, with_held(more, (held,)), mill, budget=Budget()) == plan
