"""A plan is the same on every desk: no moment of a mill is read in the zone of the computer."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction

import pytest

from tests.making.orders import board_jumbo, board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book
from trimopt.plan.model import Effort, Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.request_settings import shift_begins

pytestmark = pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone cannot be set here")

ZONES = ("UTC", "Europe/Berlin")  # beside the one whose clock leaves an hour out

#: Two due times each, the earlier in an hour (or a day) that the zone's clock leaves out.
LEFT_OUT = {
    "Europe/Berlin": ("2026-03-29T02:45", "2026-03-29T03:15"),
    "America/New_York": ("2026-03-08T02:45", "2026-03-08T03:15"),
    "Pacific/Auckland": ("2026-09-27T02:45", "2026-09-27T03:15"),
    "Pacific/Apia": ("2011-12-30T20:00", "2011-12-31T06:00"),
}


@pytest.fixture(autouse=True)
def _own_zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    yield
    monkeypatch.undo()
    time.tzset()


def _planned_in(zone: str, of: Book, request: Request, patch: pytest.MonkeyPatch) -> RunPlan:
    patch.setenv("TZ", zone)
    time.tzset()
    (run,) = make_plan(of, sample_mill(), request, number="zone-1").runs
    return replace(run, proof=replace(run.proof, seconds=0.0))


@pytest.mark.parametrize("clock", LEFT_OUT)
def test_a_plan_does_not_hang_on_the_zone_of_the_desk(
    clock: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Paper, or hours, for one order of two: the same one is made on every desk, summer or winter.

    Read in the zone whose clock leaves the hour out, the earlier of the due times is the later.
    """
    first, then = map(datetime.fromisoformat, LEFT_OUT[clock])
    of = Book(
        source="zone.xlsx",
        fingerprint="f",
        as_of=first.date(),
        orders=tuple(
            board_reel(
                number,
                width_mm=Fraction(1780),
                min_diameter_mm=1240.0,
                quantity=Fraction(4),
                core_mm=core_mm,
                due=due,
            )
            for number, core_mm, due in (("later", 152.0, then), ("earlier", 76.0, first))
        ),
    )
    short = replace(of, jumbos=(board_jumbo("K", 7_000),), only_listed_jumbos=True)
    ends = shift_begins(of) + timedelta(minutes=35)
    quick = Request(effort=Effort.QUICK)
    for book, request in ((short, quick), (of, replace(quick, until=ends))):
        plans = [
            _planned_in(zone, book, request, monkeypatch) for zone in dict.fromkeys((*ZONES, clock))
        ]
        assert all(plan == plans[0] for plan in plans)
        made = {line.number: line.planned for line in plans[0].orders}
        assert made["earlier"] > made["later"]
