"""Which lengths a reel may have, and the limit that is named where it may have none."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.makeable import stops
from trimopt.book.reel_lengths import ways

MILL = sample_mill()
USABLE_M = MILL.jumbo.usable_m


def _length_m(diameter_mm: float) -> float:
    """The formula written out: 380 µm board on a 152 mm core of 14 mm wall (180 mm outside)."""
    return math.pi * (diameter_mm**2 - 180.0**2) / (4 * 380.0)


def test_lengths_follow_from_the_diameter_range() -> None:
    """The span runs from the least to the greatest diameter, judged to the nearest millimetre."""
    (way,) = ways(board_reel(), MILL, usable_m=USABLE_M)
    assert way.span.min_m == math.ceil(_length_m(1199.5))
    assert way.span.longest_m == math.floor(_length_m(1250.0))
    assert way.span.max_m == math.floor(_length_m(1250.5))


def test_one_diameter_leaves_the_millimetre_it_is_judged_to() -> None:
    """Least and greatest diameter alike still give whole metres to wind."""
    order = board_reel(min_diameter_mm=1200.0, max_diameter_mm=1200.0)
    (way,) = ways(order, MILL, usable_m=USABLE_M)
    assert way.span.min_m <= way.span.longest_m <= way.span.max_m
    assert way.span.holds(round(_length_m(1200.0)))


def test_a_free_core_and_diameter_take_all_the_winder_allows() -> None:
    """Left blank in the book means every core, from the winder's least to its greatest diameter."""
    order = board_reel(core_mm=None, min_diameter_mm=None, max_diameter_mm=None)
    found = ways(order, MILL, usable_m=USABLE_M)
    assert [way.core.inside_mm for way in found] == [76.0, 152.0]
    assert found[1].span.min_m == math.ceil(_length_m(599.5))


def test_sheets_may_be_cut_at_every_number_of_ups_that_fits() -> None:
    """700 mm across with 10 mm of sheeter trim a side: 720 and 1,420 mm; 2,120 is too wide."""
    found = ways(board_sheet(), MILL, usable_m=USABLE_M)
    assert [(way.ups, int(way.width_mm)) for way in found] == [(1, 720), (2, 1420)]


def test_a_mass_limit_shortens_the_reel() -> None:
    """The heaviest reel allowed sets the longest length, and is named as the limit."""
    order = board_reel(max_reel_mass_kg=600.0, min_diameter_mm=None)
    (way,) = ways(order, MILL, usable_m=USABLE_M)
    assert way.span.max_m == 3000  # 600 kg / (0.8 m x 0.25 kg/m²)
    assert "max. reel mass 600 kg" in way.span.max_by


@pytest.mark.parametrize(
    ("order", "words"),
    [
        (
            board_reel(width_mm=Fraction(250)),
            ["narrower than the winder's narrowest reel", "300 mm would pass"],
        ),
        (
            board_reel(width_mm=Fraction(1900)),
            ["wider than the winder's widest reel", "1800 mm would pass"],
        ),
        (board_reel(core_mm=100.0), ["no core of 100 mm", "76 or 152 mm would pass"]),
        (
            board_reel(max_reel_mass_kg=100.0),
            ["max. reel mass 100 kg", "mass of 582 kg"],
        ),
        (board_sheet(chop_mm=Fraction(1400)), ["chop of 1400 mm", " to 1300 mm", "would pass"]),
        (board_sheet(width_mm=Fraction(1690)), ["wider than any sheeter", "1680 mm would pass"]),
    ],
)
def test_the_limit_that_stops_an_order_is_named_with_what_would_pass(
    order: object, words: list[str]
) -> None:
    """Every stop names its limit and the nearest value that would pass."""
    text = stops(order, MILL, usable_m=USABLE_M)  # type: ignore[arg-type]
    assert [word for word in words if word not in text] == []


def test_the_value_that_would_pass_does_pass() -> None:
    """Taking the advice of the message makes the order possible."""
    assert stops(board_reel(width_mm=Fraction(300)), MILL, usable_m=USABLE_M) == ""
    assert stops(board_sheet(width_mm=Fraction(1680)), MILL, usable_m=USABLE_M) == ""


def test_no_set_is_longer_than_a_jumbo() -> None:
    """A jumbo shorter than the least diameter needs is the limit that is named."""
    said = stops(board_reel(), MILL, usable_m=2000)
    min_m = math.ceil(_length_m(1199.5))
    assert "usable length 2000 m" in said
    assert f"; a usable length of {min_m} m or a min. diameter of 1000 mm (2000 m" in said
    assert stops(board_reel(), MILL, usable_m=min_m) == ""
    assert stops(board_reel(min_diameter_mm=1000.0), MILL, usable_m=2000) == ""


def test_all_limits_that_stop_an_order_are_named_together() -> None:
    """Raising one of two limits would not do, so both nearest values are given."""
    said = stops(board_reel(max_reel_mass_kg=100.0), MILL, usable_m=1000)
    min_m = math.ceil(_length_m(1199.5))
    assert f"mass of 582 kg and a usable length of {min_m} m would pass" in said


def test_ways_need_a_grade_of_the_mill() -> None:
    """A grade that the mill lacks is the caller's mistake, said at once."""
    with pytest.raises(ValueError, match="no grade"):
        ways(replace(board_reel(), grade="Vellum"), MILL, usable_m=USABLE_M)
