"""The plan with an enquiry in it beside the plan without, counted the same way."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.fit.asking import basis, order
from tests.fit.programs import NAMES, run_of, settings_for
from trimopt.book import Unit
from trimopt.budget import Budget
from trimopt.fit import Placement, basis_of_run, place_enquiry
from trimopt.plan.planning.run_jumbos import jumbos_for

_LINER = NAMES[4]


def _ride(name: str, width_mm: int, reels: int = 12) -> Placement:
    found = place_enquiry(basis(name), order(name, width_mm, reels), budget=Budget.lasting(30))
    assert found is not None
    return found


@pytest.mark.parametrize("name", [_LINER, *(n for n in NAMES if n == "of250lp03")])
@pytest.mark.parametrize("width_mm", [735, 1208])
def test_the_integer_answer_is_inside_the_stated_bounds(name: str, width_mm: int) -> None:
    """What is planned loses no less than what is proven, and all reels are made."""
    placement = _ride(name, width_mm)
    for counted in (placement.before, placement.after):
        assert counted.bound_kg is not None
        assert counted.bound_kg <= counted.loss_kg + 1e-6
    assert placement.min_marginal is not None
    assert placement.max_marginal is not None
    assert placement.min_marginal <= placement.marginal_use <= placement.max_marginal
    assert placement.reels >= 12
    assert placement.surplus_kg == pytest.approx(
        placement.delivered_kg / 12 * (placement.reels - 12)
    )


def test_before_is_the_plan_and_most_of_it_stays() -> None:
    """The paper used more is that of the metres more; sets change only where it is made."""
    placement = _ride(_LINER, 735)
    before, after = placement.before, placement.after
    assert placement.extra_m == after.metres - before.metres
    assert before.sets == sum(cut.sets for cut in basis(_LINER).cuts)
    assert placement.sets_kept >= 0.5 * before.sets
    assert after.set_ups <= before.set_ups + 4


def test_paper_adds_up() -> None:
    """Paper used more is delivered or lost, to ten grams, where no kg below or above is valued.

    Marginal use is the paper used more for a kg delivered, what others get more taken off.
    """
    run, mill = run_of(_LINER)
    values = replace(mill.values, under=Fraction(0), over=Fraction(0))
    mill = replace(mill, values=values)
    jumbos = jumbos_for(run, mill, (), only_listed=False)
    plain = basis_of_run(run, jumbos, settings_for(mill), grid_mm=Fraction(1), budget=Budget())
    assert plain is not None
    placement = place_enquiry(plain, order(_LINER, 735), budget=Budget.lasting(30))
    assert placement is not None
    loss_more = placement.after.loss_kg - placement.before.loss_kg
    delivered_kg = placement.delivered_kg + placement.others_kg
    assert placement.extra_kg == pytest.approx(delivered_kg + loss_more, abs=0.01)
    assert placement.marginal_use == pytest.approx(
        (placement.extra_kg - placement.others_kg) / placement.delivered_kg
    )


def test_the_same_question_has_the_same_answer() -> None:
    """Work ends the search, not the clock."""
    assert _ride(_LINER, 912) == _ride(_LINER, 912)


def test_a_stock_width_may_ride_beside_it() -> None:
    """It need not be made; where it is, its paper is not charged to the enquiry."""
    asked = order(_LINER, 2050, 6)
    beside = replace(
        asked, number="stock 520 mm", width_mm=Fraction(520), quantity=Fraction(6), unit=Unit.REELS
    )
    alone = place_enquiry(basis(_LINER), asked, budget=Budget.lasting(30))
    both = place_enquiry(basis(_LINER), asked, budget=Budget.lasting(30), companions=(beside,))
    assert alone is not None
    assert both is not None
    assert alone.companion_kg == 0
    assert both.companion_kg > 0
    assert both.marginal_use < alone.marginal_use
    assert {name for row in both.sets for name, _, _ in row.across} >= {"enquiry", "stock 520 mm"}
