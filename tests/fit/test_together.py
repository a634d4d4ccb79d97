"""A list together: what can all be had is had when it is planned again as order lines."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import combinations

import pytest

from tests.fit.programs import NAMES
from tests.fit.small_books import WORK, asked, book_of, mill_of, planned
from trimopt.book import Book, Unit
from trimopt.fit import Enquiry, EnquiryService, as_order
from trimopt.fit.enquiry import with_tolerance
from trimopt.fit.extra_paper import ExtraPaper
from trimopt.fit.together import Declined, Together, greatest_sum
from trimopt.plan.model import Plan, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.states import LACKING
from trimopt.report.words.fit_words import row_words, together_line
from trimopt.report.words.units import METRIC

_LINER = NAMES[4]
_WIDTHS = (735, 1120, 620, 905)


def _enquiries() -> dict[int, Enquiry]:
    return {k: asked(_LINER, width, 4, Unit.REELS) for k, width in enumerate(_WIDTHS, start=2)}


def _together(book: Book, plan: Plan, prices: dict[int, Fraction] | None = None) -> Together:
    service = EnquiryService(mill_of(_LINER), book, plan, **WORK)
    found = service.together(
        {key: service.answer(each, quick=True) for key, each in _enquiries().items()}, prices
    )
    assert found is not None
    return found


def _short(book: Book, keys: tuple[int, ...], until: datetime | None) -> bool:
    """Whether the book with some enquiries as order lines cannot all be made, as planned again."""
    mill = mill_of(_LINER)
    orders = [
        replace(as_order(with_tolerance(_enquiries()[key], mill)), number=f"new {key}")
        for key in keys
    ]
    plan = make_plan(replace(book, orders=(*book.orders, *orders)), mill, Request(until=until))
    return any(line.state in LACKING for run in plan.runs for line in run.orders)


def test_without_limits_all_can_be_had() -> None:
    """Proven, as nothing is left to be had; the extra paper is a range."""
    book = book_of(_LINER, 3)
    found = _together(book, planned(book, mill_of(_LINER)))
    assert found.chosen == (2, 3, 4, 5)
    assert found.best
    assert found.extra is not None
    assert found.extra.min_use is not None
    assert found.extra.max_use is not None
    assert found.extra.min_use <= found.extra.max_use


def test_hours_limit_what_can_be_had() -> None:
    """What is chosen is made before the shift ends, planned again; what is not has its reason."""
    book, mill = book_of(_LINER, 3), mill_of(_LINER)
    whole = planned(book, mill)
    finish = whole.runs[0].finish
    assert finish is not None
    until = finish + timedelta(minutes=30)
    plan = replace(whole, settings=replace(whole.settings, until=until))
    found = _together(book, plan)
    assert 0 < len(found.chosen) < len(_WIDTHS)
    assert not _short(book, found.chosen, until)
    assert {each.key for each in found.declined} == set(_enquiries()) - set(found.chosen)
    assert found.max_value is not None
    assert found.value <= found.max_value
    assert all(set(each.instead_of or ()) <= set(found.chosen) for each in found.declined)


def test_a_price_decides_where_all_have_one() -> None:
    """The dear one is chosen, and no selection is worth more than what is proven."""
    book, mill = book_of(_LINER, 3), mill_of(_LINER)
    whole = planned(book, mill)
    finish = whole.runs[0].finish
    assert finish is not None
    plan = replace(whole, settings=replace(whole.settings, until=finish + timedelta(minutes=30)))
    cheap = dict.fromkeys(_enquiries(), Fraction(10))
    found = _together(book, plan, cheap | {2: Fraction(2000)})
    assert found.by == "sales"
    assert 2 in found.chosen
    assert found.declined
    assert found.max_value is not None
    assert found.value <= found.max_value


@pytest.mark.parametrize("worths", [[5, 7, 9], [3, 3, 3, 3], [8]])
def test_the_greatest_sum_is_that_of_all_sums(worths: list[int]) -> None:
    """Against every one."""
    sums = {sum(some) for n in range(len(worths) + 1) for some in combinations(worths, n)}
    for limit in range(sum(worths) + 2):
        assert greatest_sum(worths, limit) == max(each for each in sums if each <= limit)


def test_extra_paper_says_of_which_rows() -> None:
    """No "all of them" behind a selection that leaves some out."""
    extra = ExtraPaper(min_use=0.9, max_use=1.1, held_use=1.0, average=1.0)
    out = Declined(key=4, instead_of=None)
    some = Together(
        chosen=(2, 3), declined=(out,), chosen_t=13.0, asked_t=313.0,
        by="tonnes", value=13.0, max_value=None, extra=extra,
    )  # fmt: skip
    assert "; rows 2, 3: 0.90 to" in together_line(some, METRIC)
    assert "all of them" in together_line(replace(some, declined=()), METRIC)


def test_nothing_found_in_time_is_not_said_to_be_impossible() -> None:
    """Ctrl-C or a short limit finds no selection, and proves none."""
    out = tuple(Declined(key=key, instead_of=None) for key in (2, 3))
    none = Together(
        chosen=(), declined=out, chosen_t=0.0, asked_t=31.0, by="tonnes", value=0.0,
        max_value=None, extra=None,
    )  # fmt: skip
    assert "not known which of 2 can be had" in together_line(none, METRIC)
    assert row_words(none, 2) == ("", "")
    proven = replace(none, max_value=0.0)
    assert together_line(proven, METRIC).startswith("Together: none of 2 can be had; no selection")
    assert row_words(proven, 2) == ("no", "")
