"""When an enquiry is finished, whom it makes late, and who would have to give way."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from hypothesis import given, strategies as st

from tests.fit.programs import NAMES
from tests.fit.small_books import WORK, asked, book_of, mill_of, planned
from trimopt.book import Book, RunDay, Unit
from trimopt.fit import EnquiryService, Verdict, When
from trimopt.fit.when import on_run_day
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan
from trimopt.report.json.fit_json import answer_fields
from trimopt.report.words.fit_words import others_words, when_words
from trimopt.report.words.units import METRIC

_LINER = NAMES[4]
_DAY_0 = datetime.fromisoformat("2026-11-23T06:00")
_HOUR = timedelta(hours=1)


def _small() -> tuple[Book, Mill]:
    return book_of(_LINER, 3), mill_of(_LINER)


def _days(book: Book, *hours: tuple[datetime, datetime]) -> tuple[RunDay, ...]:
    first = book.orders[0]
    return tuple(
        RunDay(grade=first.grade, grammage_gsm=first.grammage_gsm, begins=begins, ends=ends)
        for begins, ends in hours
    )


def _of(plan: Plan, until: datetime | None) -> Plan:
    return replace(plan, settings=replace(plan.settings, until=until))


@given(
    gaps=st.lists(st.tuples(st.integers(0, 30), st.integers(1, 30)), max_size=4),
    after=st.integers(0, 60),
    minutes=st.integers(1, 90),
)
def test_the_hours_of_run_days_are_used_once_each(
    gaps: list[tuple[int, int]], after: int, minutes: int
) -> None:
    """Minute by minute, the same end is found."""
    days, at, free = [], 0, []
    for gap, length in gaps:
        at += gap
        days.append(RunDay(grade="G", grammage_gsm=1.0, begins=_DAY_0 + timedelta(minutes=at),
                           ends=_DAY_0 + timedelta(minutes=at + length)))  # fmt: skip
        free += [minute for minute in range(at, at + length) if minute >= after]
        at += length
    found = on_run_day(reversed(days), _DAY_0 + timedelta(minutes=after), minutes)
    expected = free[minutes - 1] + 1 if len(free) >= minutes else None
    assert found == (None if expected is None else _DAY_0 + timedelta(minutes=expected))


def test_it_is_finished_with_its_run_and_without_run_days_that_is_said() -> None:
    """Between the knives left where they are, and all of them moved."""
    book, mill = _small()
    plan = planned(book, mill)
    finish = plan.runs[0].finish
    answer = EnquiryService(mill, book, plan, **WORK).answer(
        asked(_LINER, 735, 2, Unit.REELS), quick=True
    )
    when = answer.when
    assert answer.lacking is None
    assert when is not None
    assert when.earliest is not None
    assert when.latest is not None
    assert finish is not None
    assert finish <= when.earliest <= when.latest < finish + 4 * _HOUR
    assert "these are this plan's hours only" in when_words(when, planned=True)


def test_its_place_in_the_run_is_not_called_the_last_of_it() -> None:
    """Earlier than the end of the run: both times stand there, each with its name."""
    early, end = _DAY_0 + 3 * _HOUR, _DAY_0 + 9 * _HOUR
    when = When(earliest=early, latest=end, with_plan=True, in_place=True, days_listed=True)
    said = when_words(when, planned=True)
    assert "09:00 as the run is planned with it" in said
    assert said.endswith("15:00 if it is wound last")
    last = when_words(replace(when, earliest=end), planned=True)
    assert last.endswith("15:00, as the last of its run")


def test_where_hours_are_short_the_next_run_day_is_named() -> None:
    """Forty-four minutes are left; the paper is run again on Thursday, and who would give way."""
    book, mill = _small()
    plan = planned(book, mill)
    finish, start = plan.runs[0].finish, plan.runs[0].start
    assert finish is not None
    assert start is not None
    until, again = finish + 44 * _HOUR / 60, finish + 48 * _HOUR
    book = replace(book, run_days=_days(book, (start, until), (again, again + 24 * _HOUR)))
    answer = EnquiryService(mill, book, _of(plan, until), **WORK).answer(
        asked(_LINER, 735, 60_000), quick=True
    )
    when = answer.when
    assert answer.verdict is Verdict.HOURS
    assert when is not None
    assert when.latest is not None
    assert again < when.latest < again + 8 * _HOUR
    assert when.begins == finish
    assert when.earliest is not None
    assert when.winding_min is not None
    assert f" min of winding from {finish:%Y-%m-%d %H:%M} on" in when_words(when, planned=True)
    # What is left of the first day, then the next day: the sum that the reader makes.
    for end, takes in zip((when.earliest, when.latest), when.winding_min, strict=True):
        assert abs(end - again - (takes - 44) * _HOUR / 60) < _HOUR / 3600
    assert not when.with_plan
    last = max(plan.runs[0].orders, key=lambda line: line.finished or start)
    assert when.gives_way[0].startswith(last.number)
    assert "would have to give way: " in when_words(when, planned=True)
    far = EnquiryService(mill, book, _of(plan, until), **WORK).answer(
        asked(_LINER, 735, 3_000_000), quick=True
    )
    assert far.verdict is Verdict.HOURS
    assert far.when == When(gives_way=far.when.gives_way if far.when else (), days_listed=True)
    assert "in none of the hours" in when_words(far.when, planned=True)


def test_a_run_day_ends_like_a_shift() -> None:
    """The shift goes on, with another paper: the enquiry waits for the next day of its own."""
    book, mill = _small()
    plan = planned(book, mill)
    finish, start = plan.runs[0].finish, plan.runs[0].start
    assert finish is not None
    assert start is not None
    day = _days(book, (start, finish + timedelta(minutes=1)))
    answer = EnquiryService(mill, replace(book, run_days=day), plan, **WORK).answer(
        asked(_LINER, 735, 60_000), quick=True
    )
    assert "before the run day of this paper ends" in answer.line
    other = tuple(replace(each, grammage_gsm=1.0) for each in day)
    answer = EnquiryService(mill, replace(book, run_days=other), plan, **WORK).answer(
        asked(_LINER, 735, 60_000), quick=True
    )
    assert answer.lacking is None


def test_orders_of_later_runs_that_it_makes_late_are_named() -> None:
    """An order due a minute after it is finished, in the run behind; one due next week is not."""
    book, mill = _small()
    plan = planned(book, mill)
    (run,) = plan.runs
    assert run.start is not None
    assert run.finish is not None
    shift = run.finish - run.start
    lines = []
    for k, line in enumerate(run.orders):
        assert line.finished is not None
        finished = line.finished + shift
        due = finished + (timedelta(minutes=1) if k == 0 else timedelta(days=7))
        lines.append(replace(line, number=f"B{k}", customer="Wren", finished=finished, due=due))
    behind = replace(
        run, name="behind", start=run.finish, finish=run.finish + shift, orders=tuple(lines)
    )
    plan = replace(plan, runs=(run, behind))
    answer = EnquiryService(mill, book, plan, **WORK).answer(asked(_LINER, 735, 60_000), quick=True)
    assert answer.when is not None
    assert answer.when.may_be_late == ("B0 (Wren)",)
    assert "may make late: B0 (Wren)" in when_words(answer.when, planned=True)


def test_a_paper_that_the_book_has_no_order_of_waits_for_its_day() -> None:
    """In sets of its own, from the beginning of the day on."""
    book, mill = _small()
    first = _days(book, (_DAY_0, _DAY_0 + 8 * _HOUR))[0]
    begins = _DAY_0 + 72 * _HOUR
    day = replace(first, grammage_gsm=155.0, begins=begins, ends=begins + 8 * _HOUR)
    enquiry = replace(asked(_LINER, 735, 4, Unit.REELS), grammage_gsm=155.0)
    answer = EnquiryService(mill, replace(book, run_days=(first, day))).answer(enquiry)
    assert answer.verdict is Verdict.CAN_BE_MADE
    assert answer.when is not None
    assert answer.when.earliest is not None
    assert begins < answer.when.earliest < begins + _HOUR


def test_the_plan_made_with_it_says_when_and_what_others_get() -> None:
    """To the minute, behind one another; the same as that plan compared with the plan as issued."""
    book, mill = _small()
    plan = planned(book, mill)
    (run,) = plan.runs
    answer = EnquiryService(mill, book, plan, **WORK).answer(asked(_LINER, 735, 6, Unit.REELS))
    made, when = answer.planned, answer.when
    assert made is not None
    assert when is not None
    assert run.start is not None
    assert made.run.start is not None
    (line,) = (line for line in made.run.orders if line.number == "enquiry")
    assert line.finished is not None
    assert made.run.finish is not None
    later = run.start - made.run.start
    assert (when.earliest, when.latest) == (line.finished + later, made.run.finish + later)
    assert when.in_place
    was = {each.number: each for each in run.orders}
    more = {
        each.number
        for each in made.run.orders
        if each.number in was and abs(each.planned_kg - was[each.number].planned_kg) > 1
    }
    assert more <= {each.number for each in answer.others} <= was.keys()
    lines = others_words(answer, METRIC)
    assert len(lines) == max(1, len(answer.others))
    assert all(any(text.startswith(number) for text in lines) for number in more)
    told = answer_fields(answer)["others"]
    assert [each["order"] for each in told] == [each.number for each in answer.others]
