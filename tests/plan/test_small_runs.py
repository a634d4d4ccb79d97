"""Small runs, counted out over both dimensions: the plan uses no more paper than the least."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from random import Random

import pytest

from tests.making.orders import board_jumbo, board_reel
from tests.plan.sample_book import sample_mill
from tests.plan.small import SmallClass, min_used_m
from trimopt.book.model import Book
from trimopt.check import verify_plan
from trimopt.making import prepare, runs_of
from trimopt.mill.model import Mill
from trimopt.plan.model import Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan

DIAMETERS_MM = (900, 980, 1050, 1120, 1180, 1240)
MAX_REELS = 4


def small_mill() -> Mill:
    """The sample mill with at most four reels in a set and no limit but the deckle."""
    plain = sample_mill()
    winder = replace(plain.winder, max_edge_trim_mm=None, max_set_mass_kg=None, max_reels=MAX_REELS)
    return replace(plain, winders=(winder,))


def small_book(draw: Random) -> Book:
    """Up to six widths in up to three set lengths, and up to three listed jumbos."""
    diameters = draw.sample(DIAMETERS_MM, draw.randint(1, 3))
    count = draw.randint(len(diameters), 6)
    orders = tuple(
        board_reel(
            f"O{k}",
            width_mm=Fraction(width),
            quantity=Fraction(draw.randint(1, 3)),
            min_diameter_mm=float(diameters[k % len(diameters)]),
            max_diameter_mm=float(diameters[k % len(diameters)]),
        )
        for k, width in enumerate(draw.sample(range(700, 1800, 5), count))
    )
    jumbos = tuple(
        board_jumbo(f"K{k}", draw.randint(3500, 9000)) for k in range(draw.randint(0, 3))
    )
    return Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders, jumbos=jumbos)


def classes_of(book: Book, mill: Mill) -> list[SmallClass]:
    """The set lengths that the orders' diameters allow, with widths and reels."""
    (run,) = runs_of(book, mill)
    spans: dict[tuple[int, int], dict[int, int]] = {}
    for option in prepare(run, mill).options:
        reels = spans.setdefault((option.min_m, option.max_m), {})
        reels[int(option.width_mm)] = int(option.order.quantity)
    return [
        SmallClass(least, greatest, tuple(reels), tuple(reels.values()))
        for (least, greatest), reels in spans.items()
    ]


def planned(book: Book, mill: Mill) -> RunPlan:
    """The run's plan, checked."""
    plan = make_plan(book, mill, Request(), number="small-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    return plan.runs[0]


@pytest.mark.parametrize("seed", [3, 5, 11, 16, 23, 33, 37])
def test_the_plan_of_a_small_run_is_the_least_over_both_dimensions(seed: int) -> None:
    """Every choice of patterns, running order and jumbo ends is counted out.

    A diameter is judged to the millimetre, so a set may be some metres shorter than the count
    takes it: that much, over all sets, is no difference.
    """
    mill, book = small_mill(), small_book(Random(seed))
    classes = classes_of(book, mill)
    min_m = min_used_m(
        classes,
        [jumbo.usable_m for jumbo in book.jumbos],
        deckle=int(mill.deckle_mm),
        max_reels=MAX_REELS,
        nominal_m=mill.jumbo.usable_m,
    )
    run = planned(book, mill)
    used_m = run.proof.metres_used
    assert used_m is not None
    sets = sum(len(block.sets) for block in run.blocks)
    judged_m = sets * max(own.max_m - own.min_m for own in classes)
    assert judged_m <= 150
    assert abs(used_m - min_m) <= judged_m
    assert run.proof.metres_bound is not None
    assert run.proof.metres_bound <= used_m


def test_the_best_division_of_a_jumbo_is_found() -> None:
    """A jumbo of 9,000 m for one set each of 2,525, 2,805 and 3,106 m, and two of 1,607 m.

    Of all ways to choose which sets lie on it, 2,525 + 3,106 + 1,607 + 1,607 = 8,845 leave the
    least butt that lets the remaining set follow on the next jumbo; no other sum of the five comes
    nearer to 9,000 without going above it.
    """
    mill = small_mill()
    orders = tuple(
        board_reel(
            name,
            width_mm=Fraction(1780),
            quantity=Fraction(reels),
            min_diameter_mm=float(diameter),
            max_diameter_mm=float(diameter),
        )
        for name, diameter, reels in (("A", 1120, 2), ("B", 1180, 2), ("C", 1240, 2), ("D", 900, 4))
    )
    stock = board_jumbo("K", 9_000)
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders, jumbos=(stock,))
    lengths = {own.max_m: own.reels[0] // 2 for own in classes_of(book, mill)}
    sums = {0}
    for length, sets in lengths.items():
        sums = {total + length * many for total in sums for many in range(sets + 1)}
    nearest = max(total for total in sums if total <= 9_000)
    run = planned(book, mill)
    first = next(jumbo for jumbo in run.jumbos if jumbo.name == "K")
    judged_m = sum(own.max_m - own.min_m for own in classes_of(book, mill)) * 2
    assert abs(first.wound_m - nearest) <= judged_m
