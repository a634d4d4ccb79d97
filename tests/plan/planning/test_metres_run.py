"""Runs of free lengths sought by metres: they hold, and are close to the joint bound."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from random import Random

import pytest

from tests.making.orders import board_reel, board_sheet
from tests.mill_files import mill_file, mill_files
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Order, Unit
from trimopt.check import verify_plan
from trimopt.plan.model import Effort, Request
from trimopt.plan.planning import plan_run
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.plan_run import PlannedRun
from trimopt.plan.planning.run_patterns import RunTask


def _book(seed: int) -> Book:
    """Reels of free diameter by kg, sheets, and now and then a few reels of one diameter."""
    draw = Random(seed)
    free = dict.fromkeys(("min_diameter_mm", "max_diameter_mm"))
    orders: list[Order] = []
    for number in range(draw.randint(3, 8)):
        kind = draw.choice(("kg", "kg", "sheets", "reels"))
        across = Fraction(draw.randint(400, 1400))
        if kind == "sheets":
            chop, sheets = Fraction(draw.randint(500, 1200)), Fraction(draw.randint(5_000, 40_000))
            across = min(across, Fraction(1000))
            orders.append(board_sheet(f"O{number}", width_mm=across, chop_mm=chop, quantity=sheets))
        elif kind == "kg":
            orders.append(
                board_reel(
                    f"O{number}",
                    width_mm=across,
                    quantity=Fraction(1000 * draw.randint(2, 20)),
                    unit=Unit.KG,
                    under=Fraction(5, 100),
                    over=Fraction(5, 100),
                    **free,
                )
            )
        else:
            orders.append(
                board_reel(f"O{number}", width_mm=across, quantity=Fraction(draw.randint(1, 4)))
            )
    return Book(
        source="free.csv", fingerprint="0" * 64, as_of=date(2026, 3, 2), orders=tuple(orders)
    )


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_by_metres_holds(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever it costs beside the plan of listed lengths, which is not taken here."""
    found = []

    def taken(_task: RunTask, planned: PlannedRun, other: Callable[[], PlannedRun]) -> PlannedRun:
        again = other()
        found.append(again.wound is not None)
        return again if again.wound is not None else planned

    monkeypatch.setattr(plan_run, "_better", taken)
    monkeypatch.setattr(plan_run, "_METRES_GAP", -1.0)
    monkeypatch.setattr(plan_run, "_WIDE_GAP", 1.0)
    monkeypatch.setattr(plan_run, "has_free_lengths", lambda *_: True)
    book, mill = _book(seed), sample_mill()
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="free-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    assert found


@pytest.mark.skipif("of300lp01" not in mill_files(), reason="TRIMOPT_DATA names no such data")
def test_a_published_run_is_within_four_tenths_of_a_per_cent_along_the_jumbo() -> None:
    """0.55 % with lengths listed beforehand. Source of the orders: `tests.mill_files`."""
    book, mill = mill_file("of300lp01")
    (run,) = make_plan(book, mill, Request()).runs
    used_m, bound_m = run.proof.metres_used, run.proof.metres_bound
    assert used_m is not None
    assert bound_m is not None
    assert 1 - bound_m / used_m < 0.004
