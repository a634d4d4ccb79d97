"""A run with a few orders on a core of their own: its stated gap is not that of whole sets."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Order, Unit
from trimopt.budget import Budget
from trimopt.check import verify_plan
from trimopt.cutting import solve
from trimopt.making import prepare, runs_of
from trimopt.plan.model import Effort, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.schedule.run_proof import proof_of

WIDTHS_MM = (505, 640, 715, 780, 845, 905, 1010, 1130, 1225, 1340)


def by_mass(number: str, width_mm: int, mass_kg: int, core_mm: float) -> Order:
    """A reel order by mass, ±5 %, of 1,050 to 1,250 mm."""
    return board_reel(
        number,
        width_mm=Fraction(width_mm),
        min_diameter_mm=1050.0,
        quantity=Fraction(mass_kg),
        unit=Unit.KG,
        under=Fraction(5, 100),
        over=Fraction(5, 100),
        core_mm=core_mm,
    )


def test_the_stated_gap_closes_where_a_small_part_has_weak_prices() -> None:
    """An order on the other core is five reels, two in a set: three sets, where prices make 2.5.

    The half set that nobody ordered is no gap. What the prices prove stands beside the bound, and
    is what the check proves again.
    """
    mill = sample_mill()
    large = [by_mass(f"L{k}", w, 9_000 + 800 * k, 152.0) for k, w in enumerate(WIDTHS_MM)]
    small = [replace(by_mass("S", 1700, 6_500, 76.0), min_diameter_mm=1200.0)]
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(*large, *small))
    request = Request(effort=Effort.QUICK)
    plan = make_plan(book, mill, request, number="parts-1", budget=Budget())
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    proof = plan.runs[0].proof
    assert proof.bound_kg > proof.price_bound_kg + 500
    assert proof.gap_percent < 0.3
    # Over every length the three sets can be shorter, no fewer.
    assert proof.metres_used is not None
    assert proof.metres_bound is not None
    assert 0.994 * proof.metres_used < proof.metres_bound <= proof.metres_used


def test_without_prices_no_more_is_said_to_be_proven_by_them() -> None:
    """Where the clock left none: what a search proved stands apart from what prices of 0 prove."""
    mill = sample_mill()
    orders = tuple(by_mass(f"L{k}", w, 9_000, 152.0) for k, w in enumerate(WIDTHS_MM[:3]))
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)
    making = prepare(runs_of(book, mill)[0], mill)
    outcome = solve(making.instance)
    unpriced = replace(outcome, certificate=None, price_bound=outcome.bound)
    proof = proof_of(making, unpriced, outcome.cuts)
    assert (proof.gain_price, proof.worth_price) == ((), ())
    # At prices of 0 an order is worth all that its upper limit takes: 5 % above 9 t, each.
    assert proof.price_bound_kg == pytest.approx(-3 * 9_450 + 0.1 * 3 * 450, abs=1)
    assert proof.price_bound_kg < proof.bound_kg
