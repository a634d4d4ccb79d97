"""Dates and times as an order book writes them."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given, strategies as st

from trimopt.book.dates_and_times import END_OF_DAY, read_moment
from trimopt.book.written_figures import NoValue
from trimopt.paper.typed import CellFaultError

_at = datetime.fromisoformat


@pytest.mark.parametrize(
    ("written", "moment"),
    [
        (_at("2026-04-03"), _at("2026-04-03 23:59")),
        (_at("2026-04-03 14:30:12"), _at("2026-04-03 14:30")),
        (date(2026, 4, 3), _at("2026-04-03 23:59")),
        ("2026-04-03", _at("2026-04-03 23:59")),
        ("2026-04-03 00:00", _at("2026-04-03 23:59")),
        ("3.4.2026 0:00:00", _at("2026-04-03 23:59")),
        ("2026-04-03T06:00:00", _at("2026-04-03 06:00")),
        ("3.4.2026", _at("2026-04-03 23:59")),
        ("03. 04. 2026 14:30", _at("2026-04-03 14:30")),
        ("3 Apr 2026", _at("2026-04-03 23:59")),
        ("3-April-2026", _at("2026-04-03 23:59")),
        ("23/04/2026", _at("2026-04-23 23:59")),
        ("04/23/2026", _at("2026-04-23 23:59")),
        ("04/04/2026", _at("2026-04-04 23:59")),
    ],
)
def test_a_date_is_read(written: object, moment: datetime) -> None:
    """Without a time, a date means by the end of its day."""
    assert read_moment(written) == moment


def test_a_date_of_two_readings_is_refused_unless_the_order_is_stated() -> None:
    """03/04/2026 is April in one country and March in another."""
    with pytest.raises(CellFaultError, match="2026-04-03 or as 2026-03-04"):
        read_moment("03/04/2026")
    assert read_moment("03/04/2026", date_order="d/m/y").month == 4
    assert read_moment("03/04/2026", date_order="m/d/y").month == 3
    with pytest.raises(CellFaultError, match="no such day"):
        read_moment("23/04/2026", date_order="m/d/y")


@pytest.mark.parametrize(
    "written",
    [
        "soon", "2026-13-01", "31.2.2026", "3.4.26", "2026-04-03 25:00", "1999-04-03", "",
        "3 Nix 2026", 46115, 46115.5, True, time(3, 4), timedelta(days=1), NoValue("#N/A"),
        _at("1900-01-05"),
    ],
)  # fmt: skip
def test_what_is_no_date_is_refused(written: object) -> None:
    """No number, no half-written date and no date of another century is taken."""
    with pytest.raises(CellFaultError):
        read_moment(written)


@pytest.mark.parametrize("written", ["08:00", " 8:00 ", "24:00", "14:30:00", time(14)])
def test_an_hour_alone_asks_for_its_day_too(written: object) -> None:
    """Whoever is told to write a date instead has the shift end at midnight."""
    with pytest.raises(CellFaultError, match="a time without its day"):
        read_moment(written)


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)), st.none() | st.times())
def test_iso_and_points_agree(day: date, clock: time | None) -> None:
    """Whatever the spelling, the same day and minute come back."""
    spellings = [day.isoformat(), f"{day.day}.{day.month}.{day.year}"]
    expected = datetime.combine(day, END_OF_DAY)
    if clock is not None:
        if (clock.hour, clock.minute) != (0, 0):  # which is a date alone
            expected = datetime.combine(day, time(clock.hour, clock.minute))
        spellings = [f"{written} {clock.hour:02d}:{clock.minute:02d}" for written in spellings]
    assert {read_moment(written) for written in spellings} == {expected}


@pytest.mark.parametrize(
    ("written", "order"),
    [
        ("12/2/26", "m/d/y"), ("2/12/26", "d/m/y"), ("26-12-02", "y/m/d"), ("2.12.26", "d/m/y"),
    ],
)  # fmt: skip
def test_a_year_of_two_figures_needs_the_order(written: str, order: str) -> None:
    """Where the order is known it is read; where it is not it is refused."""
    assert read_moment(written, date_order=order) == _at("2026-12-02 23:59")
    with pytest.raises(CellFaultError, match="two figures"):
        read_moment(written)


@pytest.mark.parametrize(
    "written",
    [
        "2-Dec-26", "20261202", 20261202, 20261202.0, "2. Dezember 2026", "2 décembre 2026",
        "2 dec. 2026", "2 de diciembre de 2026", "2. joulukuuta 2026", "2 grudnia 2026",
        "2 dicembre 2026", "2 de dezembro de 2026", "2 december 2026", "December 2, 2026",
        "Dec 2nd, 2026", "2026/12/02", "2026.12.2",
    ],
)  # fmt: skip
def test_dates_as_exports_write_them(written: object) -> None:
    """Names of months in ten languages, and days without a sign between."""
    assert read_moment(written) == _at("2026-12-02 23:59")


def test_points_do_not_go_with_the_month_first() -> None:
    """3.4.2026 in a book of m/d/y is not read as April without a word."""
    with pytest.raises(CellFaultError, match="points"):
        read_moment("3.4.2026", date_order="m/d/y")
    assert read_moment("13.4.2026", date_order="m/d/y") == _at("2026-04-13 23:59")
