"""What a run costs once it is wound: its loss with butts, its set-ups, its knife moves."""

from __future__ import annotations

from dataclasses import dataclass

from trimopt.making import Making, kg_of_area
from trimopt.mill.model import Mill, Values
from trimopt.plan.model import RunPlan, Settings
from trimopt.plan.planning.loss_in_kg import with_butts_kg
from trimopt.plan.planning.running_order import Wound

__all__ = ["Costs", "costs_for"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Prices of one kind: money where the mill has prices, else kilograms of loss."""

    a_kg: float  # of loss
    set_up: float
    knife_move: float
    unit_kg: float  # of an area unit
    metre_kg: float  # of jumbo, at full width

    def total(self, wound: Wound) -> float:
        """Loss, set-ups and knife moves; infinite where there was too little paper."""
        if wound.loss_area is None or wound.laying.unlaid:
            return float("inf")
        return (
            float(wound.loss_area) * self.unit_kg * self.a_kg
            + wound.arrangement.set_ups * self.set_up
            + wound.arrangement.moves * self.knife_move
        )

    def of_plan(self, run: RunPlan, values: Values) -> float:
        """The same of a run's plan, the ends of its jumbos in it."""
        lost_kg = with_butts_kg(run.balance, values) + run.balance.start_end_kg
        return lost_kg * self.a_kg + run.set_ups * self.set_up + run.knife_moves * self.knife_move

    def butts(self, wound: Wound) -> float:
        """What the butts cost: the most that another way along the jumbo can save."""
        return wound.laying.lost_m * self.metre_kg * self.a_kg


def costs_for(making: Making, mill: Mill, settings: Settings) -> Costs:
    """The prices that the settings ask for: by default a set-up or a knife move costs no paper."""
    unit_kg = kg_of_area(1, making.run.grammage_gsm, making.unit_mm)
    priced = settings.trim_cost_per_t is not None and settings.set_up is not None
    return Costs(
        a_kg=(settings.trim_cost_per_t or 0.0) / 1000 if priced else 1.0,
        set_up=(settings.set_up or 0.0) if priced else settings.give_up_kg or 0.0,
        knife_move=(settings.knife_move or 0.0) if priced else 0.0,
        unit_kg=unit_kg,
        metre_kg=unit_kg * float(mill.jumbo.width_mm / making.unit_mm),
    )
