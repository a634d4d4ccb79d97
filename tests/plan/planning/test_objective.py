"""One objective: loss, set-ups and knife moves in the mill's money, or in kilograms of loss."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.plan.sample_book import sample_book, sample_mill
from trimopt.making import prepare, runs_of
from trimopt.plan.model import Settings
from trimopt.plan.planning.objective import Objective, with_butt_costs

_PRICED = Settings(trim_cost_per_t=400.0, set_up=30.0, knife_move=2.0)


def _of(settings: Settings) -> Objective:
    mill = sample_mill()
    run = next(run for run in runs_of(sample_book(), mill) if run.grammage_gsm == 250)
    return Objective.of_run(prepare(run, mill, lengths=[(152.0, 3150)]), mill, settings)


def test_without_prices_loss_counts_in_kilograms_and_a_set_up_costs_none() -> None:
    """A set-up then comes before all knife moves, and decides between plans of equal loss."""
    plain = _of(Settings())
    assert (plain.per_kg, plain.set_up, plain.knife_move) == (1.0, 0.0, 0.0)
    assert (plain.set_up_moves, plain.move_m, plain.set_up_kg) == (None, 1.0, 1.0)


def test_with_prices_all_is_money() -> None:
    """400 a tonne: a set-up of 30 is worth 75 kg of loss and 15 knife moves."""
    priced = _of(_PRICED)
    assert (priced.per_kg, priced.set_up, priced.knife_move) == (0.4, 30.0, 2.0)
    assert priced.set_up_moves == 15
    assert priced.set_up_kg == pytest.approx(75)
    # 3.6 m of 250 g/m² are 0.9 kg a metre.
    assert priced.per_m == pytest.approx(0.36)
    assert priced.move_m == pytest.approx(2 / 0.36)
    area = Fraction(1000) / Fraction(str(priced.kg_per_unit))
    assert priced.cost(area, 2, 3) == pytest.approx(400 + 60 + 6)


@pytest.mark.parametrize("settings", [Settings(), _PRICED])
def test_what_a_person_gives_up_comes_before_the_price_of_a_set_up(settings: Settings) -> None:
    """In kilograms, whatever the currency."""
    asked = _of(replace(settings, give_up_kg=50.0))
    assert asked.set_up_kg == pytest.approx(50)
    assert asked.knife_move == _of(settings).knife_move


def test_a_butt_that_lengths_in_range_fill_is_not_charged_to_a_set() -> None:
    """Of 17,500 m sets of 3,150 m leave a butt; six of 2,916 m, which all orders allow, none."""
    mill = sample_mill()
    run = next(run for run in runs_of(sample_book(), mill) if run.grammage_gsm == 250)
    making = prepare(run, mill, lengths=[(152.0, 3150)])
    assert {(option.min_m, option.max_m) for option in making.options} == {
        (2907, 3165),
        (676, 3165),
    }

    def cost(usable_m: int, *, stretched: bool) -> int:
        (winding,) = with_butt_costs(making, mill, [usable_m], stretched=stretched).classes
        return winding.cost

    (plain,) = making.instance.classes
    assert plain.cost == cost(17_500, stretched=True) < cost(17_500, stretched=False)
    # Five of 3,165 m leave 665 m of 16,490: so much is charged, for the orders that allow no other.
    assert plain.cost < cost(16_490, stretched=True) < cost(16_490, stretched=False)


def test_a_butt_of_sets_that_cannot_be_stretched_is_charged_whole() -> None:
    """As if nobody had looked at ranges."""
    mill = sample_mill()
    run = next(run for run in runs_of(sample_book(), mill) if run.grammage_gsm == 250)
    making = prepare(run, mill, lengths=[(152.0, 3150)])
    rigid = replace(
        making,
        options=tuple(replace(option, min_m=3150, max_m=3150) for option in making.options),
    )
    stretched = with_butt_costs(rigid, mill, [16_490], stretched=True)
    assert stretched == with_butt_costs(rigid, mill, [16_490])
