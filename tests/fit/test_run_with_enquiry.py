"""The plan with an enquiry in it beside the plan without, counted the same way."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.fit.asking import basis, basis_of_run, order
from tests.fit.programs import NAMES, run_of
from trimopt.book import Unit
from trimopt.budget import Budget
from trimopt.cutting import loss_of
from trimopt.fit import Placement, place_enquiry
from trimopt.fit.extra_paper import ends_share
from trimopt.fit.planned_run import with_order
from trimopt.fit.run_with_enquiry import hold_sets, may_get_kg
from trimopt.making import ways
from trimopt.report.words.fit_words import paper_words
from trimopt.report.words.units import METRIC

_LINER = NAMES[4]


def _ride(name: str, width_mm: int, reels: int = 12) -> Placement:
    found = place_enquiry(basis(name), order(name, width_mm, reels), budget=Budget())
    assert found is not None
    return found


@pytest.mark.parametrize("name", [_LINER, *(n for n in NAMES if n == "of250lp03")])
@pytest.mark.parametrize("width_mm", [735, 1208])
def test_all_reels_are_made_and_no_bound_is_passed(name: str, width_mm: int) -> None:
    """Put into the plan as it stands it loses no less than is proven over the listed lengths."""
    placement = _ride(name, width_mm)
    held = hold_sets(basis(name), order(name, width_mm), budget=Budget())
    assert held is not None
    assert held.bound is not None
    assert held.bound <= loss_of(held.making.instance, held.cuts)
    assert placement.reels >= 12
    assert placement.surplus_kg == pytest.approx(
        placement.delivered_kg / 12 * (placement.reels - 12)
    )


def test_a_mass_between_two_counts_of_reels_is_known() -> None:
    """Kilograms below and above; of a mass that whole reels make, nothing."""
    asked = order(_LINER, 735)
    held = hold_sets(basis(_LINER), asked, budget=Budget())
    assert held is not None
    assert held.needs_sales(asked.number) is None
    little = replace(asked, quantity=Fraction(1), unit=Unit.KG)
    held = hold_sets(basis(_LINER), little, budget=Budget())
    assert held is not None
    between = held.needs_sales(little.number)
    assert between is not None
    assert between[0] < 1 < between[1]


def test_counted_reels_may_be_as_light_as_the_winder_may_make_them() -> None:
    """What a tonne of them costs is proven over every length, not over those that are listed."""
    run, mill = run_of(_LINER)
    asked = replace(order(_LINER, 735), min_diameter_mm=1100.0, max_diameter_mm=1200.0)
    low_kg, high_kg = may_get_kg(with_order(basis(_LINER), asked), asked.number)
    spans = [way.span for way in ways(asked, mill, usable_m=mill.jumbo.usable_m)]
    kg_a_m = 12 * 0.735 * run.grammage_gsm / 1000
    assert low_kg == pytest.approx(kg_a_m * min(span.min_m for span in spans), abs=1)
    assert high_kg == pytest.approx(kg_a_m * max(span.max_m for span in spans), abs=1)


def test_most_of_the_plan_stays() -> None:
    """Sets change only where it is made."""
    placement = _ride(_LINER, 735)
    planned = sum(cut.sets for cut in basis(_LINER).cuts)
    assert placement.sets_kept >= 0.5 * planned
    assert placement.set_ups_more <= 4
    assert placement.sets_more == sum(sets for _, sets in placement.lengths_more)
    assert placement.extra_m == sum(metres * sets for metres, sets in placement.lengths_more)


def test_paper_adds_up() -> None:
    """Paper used more is delivered or lost, to ten grams, where no kg below or above is valued."""
    run, mill = run_of(_LINER)
    values = replace(mill.values, under=Fraction(0), over=Fraction(0))
    mill = replace(mill, values=values)
    plain = basis_of_run(run, mill, budget=Budget())
    placement = place_enquiry(plain, order(_LINER, 735), budget=Budget())
    assert placement is not None
    kg_a_m = float(mill.jumbo.width_mm) * run.grammage_gsm / 1e6
    used_kg = placement.extra_m * kg_a_m - placement.others_kg
    assert placement.use == pytest.approx(
        (1 + ends_share(mill)) * used_kg / placement.delivered_kg, abs=1e-5
    )


def test_what_other_orders_get_beyond_their_tolerance_is_said() -> None:
    """A large enquiry draws in a planned width with it: what exceeds the order is named."""
    placement = _ride(_LINER, 735, 600)
    assert placement.others_surplus
    said = paper_words(placement, METRIC)
    for number, kilograms in placement.others_surplus:
        assert f"{METRIC.said(kilograms, 'kg')} of {number}" in said
    assert f"{placement.sets_kept} of {placement.sets_planned} planned sets stay" in said


def test_the_same_question_has_the_same_answer() -> None:
    """Work ends the search, not the clock."""
    assert _ride(_LINER, 912) == _ride(_LINER, 912)


def test_a_stock_width_may_ride_beside_it() -> None:
    """It need not be made; where it is, its paper is not charged to the enquiry."""
    asked = order(_LINER, 2050, 6)
    beside = replace(
        asked, number="stock 520 mm", width_mm=Fraction(520), quantity=Fraction(6), unit=Unit.REELS
    )
    alone = place_enquiry(basis(_LINER), asked, budget=Budget())
    both = place_enquiry(basis(_LINER), asked, budget=Budget(), companions=(beside,))
    assert alone is not None
    assert both is not None
    assert alone.companion_kg == 0
    assert both.companion_kg > 0
    assert both.use < alone.use
    assert {name for row in both.sets for name, _, _ in row.across} >= {"enquiry", "stock 520 mm"}
