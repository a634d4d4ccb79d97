"""The curve: which widths it holds, and what it says of each."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.fit.asking import basis, order
from tests.fit.programs import NAMES
from trimopt.book import Unit
from trimopt.book.model import Order, Product
from trimopt.cutting import SCALE
from trimopt.cutting.marginal_values import marginal_loss
from trimopt.fit import curve_of
from trimopt.making import ways

_LINER = NAMES[4]
_STEP = Fraction(1)


def _sheets(across_mm: int) -> Order:
    return replace(
        order(_LINER, across_mm),
        product=Product.SHEET,
        chop_mm=Fraction(900),
        quantity=Fraction(5000),
        unit=Unit.SHEETS,
    )


@pytest.mark.parametrize("asked", [order(_LINER, 735), _sheets(640)], ids=["reels", "sheets"])
def test_a_width_has_a_value_just_where_it_can_be_made(asked: Order) -> None:
    """In some planned set length, with some number of ups where it is sheets."""
    run = basis(_LINER)
    points = curve_of(run, asked, step_mm=_STEP).points
    for point in points[::7]:
        placed = replace(asked, width_mm=point.width_mm)
        can = any(
            winding.core_mm in (None, way.core.inside_mm) and way.span.holds(winding.length_m)
            for way in ways(placed, run.mill, usable_m=max(run.usable_m))
            for winding in run.making.classes
        )
        assert math.isfinite(point.marginal_use) == can, point
    assert math.isfinite(points[len(points) // 2].marginal_use)


def test_a_sheet_costs_what_its_reel_costs() -> None:
    """The best of ups and lengths, over what the sheets of that reel weigh, by hand."""
    run = basis(_LINER)
    making, sheeter = run.making, run.mill.sheeters[0]
    asked = _sheets(640)
    point = curve_of(run, asked, step_mm=_STEP).asked
    assert point is not None
    found = []
    for c, winding in enumerate(making.classes):
        losses = marginal_loss(making.instance, run.prices, c)
        for way in ways(asked, run.mill, usable_m=max(run.usable_m)):
            if way.core.inside_mm != winding.core_mm or not way.span.holds(winding.length_m):
                continue
            assert way.ups is not None
            sheets = math.floor(
                way.ups
                * (1000 * winding.length_m // 900)
                * (1 - Fraction(str(sheeter.waste_share)))
            )
            area = sheets * Fraction(640 * 900, 1000) / making.unit_mm
            width = int(way.width_mm / making.width_unit_mm)
            found.append(float(losses[width - 1]) / (SCALE * float(area)))
    assert point.marginal_use == pytest.approx(min(found))


def test_valleys_lie_near_and_the_best_stands_first() -> None:
    """Within forty steps of the width asked for; none is worse than a neighbour of it."""
    curve = curve_of(basis(_LINER), order(_LINER, 735), step_mm=_STEP)
    uses = [valley.marginal_use for valley in curve.valleys]
    assert uses
    assert [round(use, 6) for use in uses] == sorted(round(use, 6) for use in uses)
    near = [p for p in curve.points if abs(p.width_mm - 735) <= 40]
    assert min(uses) == pytest.approx(min(p.marginal_use for p in near))
    assert all(abs(valley.width_mm - 735) <= 40 for valley in curve.valleys)
