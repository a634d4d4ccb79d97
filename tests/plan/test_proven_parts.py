"""A run with a few orders on a core of their own: its stated gap is not that of whole sets."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from tests.making.orders import board_reel
from tests.plan.sample import sample_mill
from trimopt.book.model import Book, Order, Unit
from trimopt.plan.build import plan_book
from trimopt.plan.model import Settings
from trimopt.plan.verify import verify

WIDTHS_MM = (505, 640, 715, 780, 845, 905, 1010, 1130, 1225, 1340)


def by_mass(number: str, width_mm: int, mass_kg: int, core_mm: float) -> Order:
    """A reel order by mass, ±5 %, of 1,050 to 1,250 mm."""
    return board_reel(
        number,
        width_mm=Fraction(width_mm),
        diameter_least_mm=1050.0,
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
    small = [replace(by_mass("S", 1700, 6_500, 76.0), diameter_least_mm=1200.0)]
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(*large, *small))
    plan = plan_book(book, mill, Settings(time_limit_s=60.0), number="parts-1")
    assert [str(finding) for finding in verify(plan, book, mill)] == []
    proof = plan.runs[0].proof
    assert proof.bound_kg > proof.price_bound_kg + 500
    assert proof.gap_percent < 0.3
    # Over every length the three sets can be shorter, no fewer.
    assert proof.metres_used is not None
    assert proof.metres_bound is not None
    assert 0.994 * proof.metres_used < proof.metres_bound <= proof.metres_used
