"""The stated range against doing it: the enquiry as an order of the book, planned with it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.fit.programs import NAMES
from tests.fit.small_books import asked, book_of, mill_of, planned
from trimopt.book import Unit
from trimopt.fit import EnquiryService, as_order
from trimopt.fit.enquiry import with_tolerance

_CASES = {
    "fills trim": (NAMES[5], 3, asked(NAMES[5], 735, 12_000)),
    "wide": (NAMES[4], 3, asked(NAMES[4], 1533, 14, Unit.REELS)),
    "of one diameter": (NAMES[3], 2, asked(NAMES[3], 1222, 6_000, max_diameter_mm=1200.0)),
    "few reels of any diameter": (NAMES[1], 3, asked(NAMES[1], 412, 3, Unit.REELS)),
    "sheets": (NAMES[0], 2, replace(asked(NAMES[0], 640, 5_000), chop_mm=Fraction(900))),
}


@pytest.mark.parametrize("case", _CASES)
def test_planned_with_and_without_it_lies_in_the_range(case: str) -> None:
    """Loss of both plans across the width, per tonne that the order gets: inside what is proven."""
    name, orders, enquiry = _CASES[case]
    mill, book = mill_of(name), book_of(name, orders)
    without = planned(book, mill)
    placement = EnquiryService(mill, book, without, seconds=30).answer(enquiry).placement
    assert placement is not None
    assert placement.min_marginal is not None
    assert placement.max_marginal is not None
    order = as_order(with_tolerance(enquiry, mill))
    both = planned(replace(book, orders=(*book.orders, order)), mill)
    got_kg = next(line.delivered_kg for line in both.runs[0].orders if line.number == order.number)
    more_kg = both.runs[0].proof.loss_kg - without.runs[0].proof.loss_kg
    true = (more_kg + got_kg) / got_kg
    assert placement.min_marginal - 1e-6 <= true <= placement.max_marginal + 1e-6
    assert placement.min_marginal <= placement.marginal_use <= placement.max_marginal


def test_the_range_holds_whatever_is_delivered_inside_the_tolerance() -> None:
    """Per tonne of the least and of the most that may be delivered, not of what happens to be."""
    name = NAMES[5]
    mill, book = mill_of(name), book_of(name, 3)
    enquiry = replace(asked(name, 735, 12_000), under=Fraction(1, 5), over=Fraction(1, 5))
    placement = (
        EnquiryService(mill, book, planned(book, mill), seconds=30).answer(enquiry).placement
    )
    assert placement is not None
    before, after = placement.before, placement.after
    assert before.bound_kg is not None
    assert after.bound_kg is not None
    assert placement.min_marginal is not None
    assert placement.max_marginal is not None
    for got_kg in (9_600, 10_800, 12_000, 14_400):
        assert placement.min_marginal <= 1.001 + (after.bound_kg - before.loss_kg) / got_kg
        assert placement.max_marginal >= 0.999 + (after.loss_kg - before.bound_kg) / got_kg
