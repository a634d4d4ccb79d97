"""The curve against the linear program that it stands for, on the example week and real orders.

For a small demand q of a width, added to a run, let LP(q) be the least loss of the linear program
plus the worth of what is added, so the paper used more. Weak duality says LP(q) - LP(0) >= q times
the curve's value, up to what the plan's prices fall short of LP(0): prices stay feasible when a
demand is added with the price that no pattern overruns. Where the optimal prices are unique LP is
linear for small q, its slope is the price, and the two are equal. So the ratio is never under 1,
and is 1 for widths whose prices are unique. Data: `tests.mill_files`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from tests.mill_files import mill_file, mill_files
from trimopt.book import read as read_book
from trimopt.book.model import Order, Product, Unit
from trimopt.cutting import Certificate, Limits, solve
from trimopt.cutting.bound import price_bound
from trimopt.cutting.instance import SCALE, Demand, Instance, Option, WindingClass
from trimopt.cutting.marginal import marginal_loss
from trimopt.fit import Enquiry, as_order, basis_of_run, curve_of, ride
from trimopt.making import Making, Run, prepare, runs_of
from trimopt.mill import read as read_mill
from trimopt.mill.model import Mill

ROOT = Path(__file__).parents[2]
_GRID = Fraction(1)
_PIECES = 1000  # the added piece yields so much, so that a demand of 1 is a small one


def _runs() -> list[tuple[str, Run, Mill]]:
    mill = read_mill(ROOT / "orders" / "mill.toml")
    found = []
    for run in runs_of(read_book(ROOT / "orders" / "week.xlsx", mill), mill):
        grade = mill.grade(run.grade)
        assert grade is not None
        found.append((run.name, run, mill.for_paper(grade, run.grammage_gsm)))
    for name in mill_files():
        book, own = mill_file(name)
        (run,) = runs_of(book, own)
        found.append((name, run, own))
    return found


RUNS = _runs()


def _bound(instance: Instance) -> int:
    """The linear program's optimum, proven from below by whole-number prices."""
    outcome = solve(instance, limits=Limits(seconds=60, gap=1.0))
    assert outcome.certificate is not None
    return price_bound(instance, outcome.certificate)


def _with_little(making: Making, winding_class: int, width: int) -> Instance:
    """The run with a thousandth of a reel of a width asked for more, worth nothing itself."""
    instance = making.instance
    added = Option(
        demand=len(instance.demands), winding_class=winding_class, width=width, gain=_PIECES
    )
    return replace(
        instance,
        demands=(*instance.demands, Demand(low=1, high=None)),
        options=(*instance.options, added),
    )


@pytest.mark.parametrize(("name", "run", "mill"), RUNS, ids=[name for name, _, _ in RUNS])
def test_the_curve_never_exceeds_the_linear_program(name: str, run: Run, mill: Mill) -> None:
    """50 widths drawn with a fixed seed; two of them solved again as linear programs."""
    making = prepare(run, mill, grid_mm=_GRID)
    outcome = solve(making.instance, limits=Limits(seconds=60, gap=1.0))
    assert outcome.certificate is not None
    before = price_bound(making.instance, outcome.certificate)
    draw = Random(735)
    least, most = mill.winder.reel_width_least_mm, mill.winder.reel_width_greatest_mm
    ends = math.ceil(least), math.floor(min(most, mill.deckle_mm))
    drawn = [int(draw.randint(*ends) / making.width_unit_mm) for _ in range(50)]
    at = draw.randrange(len(making.classes))
    losses = marginal_loss(making.instance, outcome.certificate, at)
    values = [losses[width - 1] for width in drawn]
    # No reel is had for less than nothing, or for more than a set of its own.
    cost = SCALE * making.instance.classes[at].cost
    assert all(-1 <= value <= cost for value in values if math.isfinite(value))
    solved = [k for k, value in enumerate(values) if math.isfinite(value)][:2]
    for k in solved:
        change = _bound(_with_little(making, at, drawn[k])) - before
        # The two bounds are rounded up to whole units, and prices are cut off at 1 in 2**20.
        slip = 2 + 1e-6 * abs(before)
        assert values[k] / _PIECES <= change + slip, (name, drawn[k])


def test_it_equals_the_linear_program_where_prices_are_unique() -> None:
    """Thirty reels of 30 in sets of 100, by hand: three to a set, a third of a set each.

    The only basic optimum, ten sets of 30 + 30 + 30, is not degenerate, so prices are unique. For q
    reels of 40 the best sets are 30 + 30 + 40: (30 - 2q) / 3 of the first and q of these, in all
    10 + q / 3. Reels of 10 ride beside three of 30 for nothing; of 70 (30 + 70) one costs 2 / 3.
    """
    instance = Instance(
        demands=(Demand(low=30, high=None),),
        classes=(WindingClass(cost=100, width=100, most_pieces=10),),
        options=(Option(demand=0, winding_class=0, width=30, gain=1),),
    )
    prices = Certificate(scale=3, gain_price=(100 * SCALE,), worth_price=(0,))
    assert price_bound(instance, prices) == 10 * 100 * SCALE
    losses = marginal_loss(instance, prices, 0) / (100 * SCALE)
    assert losses[[10 - 1, 40 - 1, 70 - 1]] == pytest.approx([0, 1 / 3, 2 / 3])


@pytest.mark.parametrize("width_mm", [735, 912])
def test_the_run_solved_again_is_inside_the_stated_bounds(width_mm: int) -> None:
    """Marginal use as solved lies between the least and the most that the proofs allow."""
    _, run, mill = RUNS[4]
    order = as_order(
        Enquiry(
            grade=run.grade,
            grammage_gsm=run.grammage_gsm,
            width_mm=Fraction(width_mm),
            quantity=Fraction(12),
            unit=Unit.REELS,
        )
    )
    basis = basis_of_run(run, mill, grid_mm=_GRID, seconds=6.0)
    assert basis is not None
    riding = ride(basis, order, seconds=3.0)
    assert riding is not None
    assert riding.marginal_least <= riding.marginal_use <= riding.marginal_most
    curve = curve_of(basis, order, step_mm=_GRID)
    assert curve.asked is not None
    assert len(curve.points) > 2000
    assert sum(row.sets * row.reels for row in riding.sets) >= 12


def test_the_enquiry_is_an_order_like_any_other() -> None:
    """Reels without a chop, sheets with one."""
    enquiry = Enquiry(
        grade="x",
        grammage_gsm=100.0,
        width_mm=Fraction(700),
        quantity=Fraction(1),
        unit=Unit.REELS,
    )
    order: Order = as_order(enquiry)
    assert order.product is Product.REEL
    assert as_order(replace(enquiry, chop_mm=Fraction(900))).product is Product.SHEET
