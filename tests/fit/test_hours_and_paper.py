"""Hours and paper: where they do not last, the first line says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.fit.programs import NAMES
from tests.fit.small_books import WORK, asked, book_of, mill_of, planned
from trimopt.book import Book, Unit
from trimopt.book.model import Instruction, JumboInStock, LeftOut
from trimopt.errors import Fault, OrderBookError
from trimopt.fit import EnquiryService, Verdict
from trimopt.mill.model import Mill
from trimopt.plan.planning.request_settings import shift_begins
from trimopt.report.words.fit_words import when_words

_LINER = NAMES[4]


def _small() -> tuple[Book, Mill]:
    return book_of(_LINER, 3), mill_of(_LINER)


def test_with_minutes_left_a_thousand_tonnes_do_not_fit() -> None:
    """The shift ends 44 minutes after the plan: what is wound more in them fits, no more."""
    book, mill = _small()
    finish = planned(book, mill).runs[0].finish
    assert finish is not None
    whole = planned(book, mill)
    until = finish + timedelta(minutes=44)
    plan = replace(whole, settings=replace(whole.settings, until=until))
    service = EnquiryService(mill, book, plan, **WORK)
    far = service.answer(asked(_LINER, 735, 1_000_000), quick=True)
    assert far.verdict is Verdict.HOURS
    assert far.line.startswith("No hours left for ")
    assert "44 min are left before the shift ends" in far.line
    assert far.placement is not None
    assert service.answer(asked(_LINER, 735, 2, Unit.REELS), quick=True).lacking is None
    assert EnquiryService(mill, book, whole, **WORK).answer(far.enquiry, quick=True).lacking is None


def test_minutes_that_hang_on_the_knives_are_said_to_be_unsure() -> None:
    """With planned sets held, between the fewest and the most minutes nothing is promised."""
    book, mill = _small()
    whole = planned(book, mill)
    finish = whole.runs[0].finish
    assert finish is not None
    verdicts = []
    for minutes in range(0, 400, 20):
        settings = replace(whole.settings, until=finish + timedelta(minutes=minutes))
        found = EnquiryService(mill, book, replace(whole, settings=settings), **WORK)
        answer = found.answer(asked(_LINER, 1010, 30_000), quick=True)
        verdicts.append(answer.line.split(" for ")[0] if answer.lacking else "lasts")
        if answer.lacking is None:
            break
    assert list(dict.fromkeys(verdicts)) in (
        ["No hours left", "Hours may not last", "lasts"],
        ["No hours left", "lasts"],
    )


def test_the_minutes_of_the_plan_made_with_it_decide() -> None:
    """Planned again with it, the run takes so many minutes more: they last, or they do not."""
    book, mill = _small()
    whole = planned(book, mill)
    finish = whole.runs[0].finish
    assert finish is not None
    enquiry = asked(_LINER, 1010, 30_000)
    made = EnquiryService(mill, book, whole, **WORK).answer(enquiry).planned
    assert made is not None
    left_min = made.minutes_more - 1
    for until_min in (left_min, 5.0):
        until = finish + timedelta(minutes=until_min)
        plan = replace(whole, settings=replace(whole.settings, until=until))
        answer = EnquiryService(mill, book, plan, **WORK).answer(enquiry)
        if answer.planned is not None and answer.planned.minutes_more <= until_min:
            assert answer.lacking is None
        else:
            assert answer.verdict is Verdict.HOURS


def test_a_plan_that_carries_orders_over_has_no_hours() -> None:
    """Whatever is asked for any run of it."""
    book, mill = _small()
    start = planned(book, mill).runs[0].start
    assert start is not None
    plan = planned(book, mill, start + timedelta(hours=2))
    answer = EnquiryService(mill, book, plan, **WORK).answer(asked(_LINER, 735, 3, Unit.REELS))
    assert answer.verdict is Verdict.HOURS
    assert "carried over" in answer.line


def _listed(count: int, mill: Mill) -> tuple[JumboInStock, ...]:
    return tuple(
        JumboInStock(
            name=f"L{k}", grade=book_of(_LINER, 1).orders[0].grade,
            grammage_gsm=book_of(_LINER, 1).orders[0].grammage_gsm, width_mm=mill.jumbo.width_mm,
            length_m=mill.jumbo.usable_m + 60, loss_start_m=30, loss_end_m=30,
        )
        for k in range(count)
    )  # fmt: skip


def test_where_only_listed_jumbos_are_there_paper_is_a_limit() -> None:
    """One jumbo more than the plan takes holds some reels, not three hundred tonnes."""
    book, mill = _small()
    needed = len(planned(book, mill).runs[0].jumbos)
    listed = book_of(_LINER, 3, jumbos=_listed(needed + 1, mill))
    service = EnquiryService(mill, listed, planned(listed, mill), **WORK)
    far = service.answer(asked(_LINER, 735, 300_000), quick=True)
    assert far.verdict is Verdict.PAPER
    assert far.line.startswith("No paper left for ")
    assert service.answer(asked(_LINER, 735, 4, Unit.REELS), quick=True).lacking is None
    short = book_of(_LINER, 3, jumbos=_listed(1, mill))
    answer = EnquiryService(mill, short, planned(short, mill), **WORK).answer(
        asked(_LINER, 735, 4, Unit.REELS), quick=True
    )
    assert answer.verdict is Verdict.PAPER
    assert "short of it as it is" in answer.line
    none = replace(short, jumbos=(replace(short.jumbos[0], grade="Other"),))
    answer = EnquiryService(mill, none).answer(asked(_LINER, 735, 4, Unit.REELS))
    assert answer.line.startswith("No paper left for 4 reels of 735 mm: the book lists no jumbo")


def test_what_was_not_looked_at_is_said() -> None:
    """No book, a paper that the book lacks, no plan where the shift has an end."""
    book, mill = _small()
    enquiry = asked(_LINER, 735, 4, Unit.REELS)
    plain = EnquiryService(mill).answer(enquiry)
    assert plain.verdict is Verdict.CAN_BE_MADE
    assert "neither paper nor hours are looked at" in plain.line
    other = EnquiryService(mill, book, **WORK).answer(replace(enquiry, grammage_gsm=155.0))
    assert other.verdict is Verdict.CAN_BE_MADE
    assert "the book has no order of" in other.line
    finish = planned(book, mill).runs[0].finish
    unplanned = EnquiryService(mill, replace(book, shift_ends=finish), **WORK).answer(
        enquiry, quick=True
    )
    assert unplanned.extra is not None
    assert unplanned.shift_ends
    assert "its hours are not known" in " ".join(unplanned.notes)
    assert unplanned.when is not None
    assert "has no plan yet" in when_words(unplanned.when, planned=False)
    begins = shift_begins(book)
    hour = replace(book, shift_ends=begins + timedelta(hours=1))
    far = EnquiryService(mill, hour, **WORK).answer(asked(_LINER, 735, 3_000_000))
    assert far.verdict is Verdict.HOURS
    assert "the shift from 2026-11-23 06:00 to 2026-11-23 07:00 has fewer" in far.line


def test_every_note_is_kept() -> None:
    """A plan of an older book, instructions, lines left out: all of them."""
    book, mill = _small()
    old = planned(book, mill)
    now = replace(
        book,
        fingerprint="a" * 64,
        instructions=(Instruction(row=2, what="set-ups", number=30),),
        left_out=(LeftOut(order="Z9", why="so"),),
        faults=(Fault(where="Orders", row=9, column="Width", value="", wrong="x", right="y"),),
    )
    with pytest.raises(OrderBookError):
        EnquiryService(mill, replace(now, orders=()), leave_out_faulty=True)
    with pytest.raises(OrderBookError):
        EnquiryService(mill, now, old)
    answer = EnquiryService(mill, now, old, leave_out_faulty=True, **WORK).answer(
        asked(_LINER, 735, 4, Unit.REELS), quick=True
    )
    text = "\n".join(answer.notes)
    for part in ("another state of the order book", "instructions", "left out: Z9", "planned now"):
        assert part in text
    assert answer.from_plan == ""
