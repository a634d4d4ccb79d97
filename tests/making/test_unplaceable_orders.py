"""Orders that no pattern can hold leave the run, and take others with them where they must."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Order
from trimopt.budget import Budget
from trimopt.making import Run, prepare, prepare_placeable
from trimopt.mill.model import Mill

MILL = sample_mill()
USABLE_M = (MILL.jumbo.usable_m,)


def _run(*orders: Order) -> Run:
    return Run(name="Board", grade="Folding board", grammage_gsm=250.0, orders=orders)


def _wide_winder(**changes: object) -> Mill:
    winder = replace(MILL.winder, max_reel_width_mm=Fraction(3560), **changes)  # type: ignore[arg-type]  # Winder's own
    return replace(MILL, winders=(winder,))


def test_a_run_in_which_every_order_fits_is_prepared_as_ever() -> None:
    """Nothing is taken out where nothing stands in the way."""
    run = _run(board_reel())
    assert prepare_placeable(run, MILL, usable_m=USABLE_M) == prepare(run, MILL, usable_m=USABLE_M)


def test_an_order_that_leaves_too_much_and_too_little_is_named() -> None:
    """3,490 mm leaves 70 mm of the deckle: 40 leave with the edges, a broke reel needs 100."""
    mill = _wide_winder(max_edge_trim_mm=Fraction(40))
    wide = board_reel(number="wide", width_mm=Fraction(3490))
    held = prepare_placeable(_run(wide, board_reel(number="other")), mill, usable_m=USABLE_M)
    assert [order.number for order in held.run.orders] == ["other"]
    ((order, why),) = held.stopped
    assert order is wide
    assert why == (
        "no pattern can hold it: what the set leaves beside it is too wide for edge trim (40 mm a "
        "side) and too narrow for a broke reel (100 mm); a width of 3460 mm by itself would pass"
    )
    near = board_reel(number="wide", width_mm=Fraction(3460))
    assert prepare_placeable(_run(near), mill, usable_m=USABLE_M).stopped == ()


def test_an_order_that_only_the_least_broke_reel_stops() -> None:
    """3,400 mm leaves 160 mm of the deckle: knives could cut a broke reel of it, none is wound."""
    mill = _wide_winder(max_edge_trim_mm=Fraction(40), min_broke_width_mm=None)
    order = board_reel(width_mm=Fraction(3400))
    ((_, why),) = prepare_placeable(_run(order), mill, usable_m=USABLE_M).stopped
    assert why == (
        "no pattern can hold it: what the set leaves beside it is too wide for edge trim (40 mm a "
        "side) and too narrow for a broke reel (300 mm); a broke reel of 160 mm "
        "(min_broke_width_mm) or a width of 3520 mm by itself would pass"
    )
    mill = _wide_winder(max_edge_trim_mm=Fraction(40), min_broke_width_mm=Fraction(160))
    assert prepare_placeable(_run(order), mill, usable_m=USABLE_M).stopped == ()


def test_without_time_the_limit_is_named_alone() -> None:
    """What would pass takes a search of its own; the clock ends that, never the reason."""
    mill = _wide_winder(max_edge_trim_mm=Fraction(40), min_broke_width_mm=None)
    run = _run(board_reel(width_mm=Fraction(3400)))
    spent = Budget.lasting(0)
    ((_, why),) = prepare_placeable(run, mill, usable_m=USABLE_M, budget=spent).stopped
    assert why == (
        "no pattern can hold it: what the set leaves beside it is too wide for edge trim (40 mm a "
        "side) and too narrow for a broke reel (300 mm)"
    )


def test_a_set_with_no_station_for_a_broke_reel() -> None:
    """One strip a set: whatever is narrower than the deckle less the edges needs a second."""
    mill = _wide_winder(max_edge_trim_mm=Fraction(40), max_reels=1)
    ((_, why),) = prepare_placeable(_run(board_reel()), mill, usable_m=USABLE_M).stopped
    assert (
        "needs more than 1 strip in a set; 2 strips in a set or a width of 3520 mm by itself" in why
    )


def test_two_limits_together_are_both_named() -> None:
    """Where lifting one alone does not help, the text says all that stand in the way."""
    mill = _wide_winder(max_edge_trim_mm=Fraction(40))
    order = board_reel(width_mm=Fraction(3490), no_edge=True)
    ((_, why),) = prepare_placeable(_run(order), mill, usable_m=USABLE_M).stopped
    assert "may not lie at an edge" in why
    assert "too wide for edge trim" in why


def test_a_set_mass_shortens_the_sets_that_are_planned() -> None:
    """Lengths at which every set would be too heavy give way to shorter ones in the order's range.

    Of the 3,600 mm all is wound but two edge strips of 60 mm at the most: 2,700 kg is 3,103 m.
    """
    order = board_reel(min_diameter_mm=1000.0, max_diameter_mm=1300.0)
    winder = replace(MILL.winder, max_set_mass_kg=2700.0)
    held = prepare_placeable(_run(order), replace(MILL, winders=(winder,)), usable_m=USABLE_M)
    assert held.stopped == ()
    assert max(winding.length_m for winding in held.classes) == 3103


def test_a_web_that_the_winder_narrows_beside_a_greatest_edge_strip() -> None:
    """Of 3,600 mm the winder takes 3,510: 45 mm a side at the least, and up to 60 may be."""
    mill = _wide_winder(max_web_mm=Fraction(3510))
    held = prepare_placeable(_run(board_reel()), mill, usable_m=USABLE_M)
    assert held.stopped == ()


def test_an_order_is_planned_over_shorter_sets_where_only_those_hold_it() -> None:
    """800 mm between two of 900 weighs 650 kg a thousand metres: 1,500 kg are 2,307 m.

    Each by itself is light enough at its longest, 3,162 m; the shortest of either is 1,606 m.
    """
    winder = replace(MILL.winder, max_edge_trim_mm=None, max_set_mass_kg=1500.0)
    inner = board_reel(number="inner", min_diameter_mm=900.0, no_edge=True)
    outer = board_reel(number="outer", min_diameter_mm=900.0, width_mm=Fraction(900))
    held = prepare_placeable(
        _run(inner, outer), replace(MILL, winders=(winder,)), usable_m=USABLE_M
    )
    assert held.stopped == ()
    assert min(winding.length_m for winding in held.classes) < 2307


def test_a_set_too_heavy_with_what_must_lie_beside_it_is_named() -> None:
    """The same where no range reaches so far down: the mass that would pass is a set's."""
    winder = replace(MILL.winder, max_edge_trim_mm=None, max_set_mass_kg=1500.0)
    mill = replace(MILL, winders=(winder,))
    inner, outer = board_reel(number="inner", no_edge=True), board_reel(width_mm=Fraction(900))
    ((order, why),) = prepare_placeable(_run(inner, outer), mill, usable_m=USABLE_M).stopped
    assert order is inner
    found = re.search(r"max. set mass 1500 kg; a set mass of (\d+) kg", why)
    assert found, why
    heavier = replace(mill, winders=(replace(winder, max_set_mass_kg=float(found[1])),))
    assert prepare_placeable(_run(inner, outer), heavier, usable_m=USABLE_M).stopped == ()
