"""How a run's loss, butts, set-ups and knife moves are weighed against each other.

Where the mill file prices a tonne of trim, all of them are money. Else they are kilograms of loss,
and set-ups and knife moves cost none: they decide between plans of equal loss. What a person gives
up for a set-up (`Request.give_up_kg`) comes before the mill's price of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.cutting import SCALE, Instance
from trimopt.cutting.setups import ParetoPoint, TradeOff
from trimopt.making import PreparedRun
from trimopt.mill.model import Mill, Winder
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import RunPlan, Settings

_MIN_SET_UP_KG = 1.0  # even unpriced, the fewest set-ups among plans of equal loss
_FREE_PAPER_KG = 1e6  # a set-up's worth where the mill prices paper at nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Objective:
    """Costs in one currency: money, or kilograms of loss."""

    per_kg: float  # cost of a kilogram of loss
    set_up: float
    knife_move: float
    kg_per_unit: float  # mass of an area unit
    kg_per_m: float  # of jumbo at full width
    under: float  # kilograms of loss for a kilogram delivered below the ordered quantity
    over: float
    set_up_moves: Fraction | None  # a set-up in knife moves; None: it comes before all of them
    move_m: float  # a knife move in metres of jumbo; by default so few that paper decides

    @classmethod
    def of_run(cls, making: PreparedRun, mill: Mill, settings: Settings) -> Objective:
        """What the settings ask for, of a run as its mill sees it."""
        trim, given_up = settings.trim_cost_per_t, settings.give_up_kg
        priced = settings.priced
        per_kg = (trim or 0.0) / 1000 if priced else 1.0
        set_up = (settings.set_up or 0.0) if priced else 0.0
        if given_up is not None:
            set_up = given_up * per_kg
        set_up_moves, move_m = None, 1.0
        kg_per_m = making.kg(1) * float(mill.jumbo.width_mm / making.unit_mm)
        if priced and trim and settings.knife_move:
            set_up_moves = Fraction(set_up / settings.knife_move).limit_denominator(100)
        if trim and settings.knife_move is not None:
            move_m = settings.knife_move / (trim / 1000 * kg_per_m)
        return cls(
            per_kg=per_kg,
            set_up=set_up,
            knife_move=(settings.knife_move or 0.0) if priced else 0.0,
            kg_per_unit=making.kg(1),
            kg_per_m=kg_per_m,
            under=float(settings.under),
            over=float(settings.over),
            set_up_moves=set_up_moves,
            move_m=move_m,
        )

    @property
    def per_m(self) -> float:
        """Cost of a metre of jumbo."""
        return self.kg_per_m * self.per_kg

    @property
    def set_up_kg(self) -> float:
        """A set-up in kilograms of loss, for a search that needs some price of it."""
        kg = self.set_up / self.per_kg if self.per_kg else _FREE_PAPER_KG
        return max(_MIN_SET_UP_KG, kg)

    def join_area(self, winder: Winder) -> int:
        """A join over a defect in area units of loss: what a set-up of as many minutes costs."""
        return round(self._join_kg(winder) / self.kg_per_unit)

    def join(self, winder: Winder) -> float:
        return self._join_kg(winder) * self.per_kg

    def _join_kg(self, winder: Winder) -> float:
        minutes = winder.join_min / winder.set_up_min if winder.set_up_min else 1.0
        return max(_MIN_SET_UP_KG, self.set_up_kg * minutes)

    def cost(self, loss_area: Fraction, set_ups: int, knife_moves: int) -> float:
        """Cost of a loss in area units, of set-ups and of knife moves."""
        loss = float(loss_area) * self.kg_per_unit * self.per_kg
        return loss + set_ups * self.set_up + knife_moves * self.knife_move

    def cost_of_plan(self, run: RunPlan) -> float:
        """The same of a run's plan, the ends of its jumbos in it."""
        lost_kg = self.loss_with_butts_kg(run.balance) + run.balance.start_end_kg
        return lost_kg * self.per_kg + run.set_ups * self.set_up + run.knife_moves * self.knife_move

    def loss_with_butts_kg(self, balance: Balance) -> float:
        """Loss of a run as wound, kg: paper used but not delivered, kg under and over valued.

        The ends of jumbos, which no choice of patterns saves, are not in it.
        """
        return (
            balance.used_kg
            - balance.start_end_kg
            - balance.delivered_kg
            - balance.stock_worth_kg
            + self.under * balance.under_kg
            + self.over * balance.over_kg
        )

    def cheapest(self, trade: TradeOff) -> ParetoPoint:
        """The point of the trade-off that costs least."""
        return trade.cheapest(self.per_kg * (self.kg_per_unit / SCALE), self.set_up)


def with_butt_costs(
    making: PreparedRun, mill: Mill, usable_m: Sequence[int], *, stretched: bool = False
) -> Instance:
    """The run with the cost of a set's share of the butt that sets like it would leave.

    It guides the search for a plan. What is proven is proven without it: shares are estimates.

    Parameters
    ----------
    usable_m
        Usable lengths of jumbos; a set longer than all of them bears no butt.
    stretched
        Whether only the butt counts that is left where sets have the best length for it of those
        that the order with the narrowest choice allows.
    """
    paper_per_m = int(mill.jumbo.width_mm / making.unit_mm)
    classes = []
    each = zip(making.instance.classes, making.classes, strict=True)
    for place, (limits, winding) in enumerate(each):
        length = winding.length_m
        shares = (Fraction(m, m // length) for m in usable_m if m >= length)
        share_m = min(shares, default=Fraction(length))
        if stretched:
            share_m = min(share_m, length * (1 + _unfilled(making, place, usable_m)))
        classes.append(replace(limits, cost=max(limits.cost, int(share_m * paper_per_m))))
    return replace(making.instance, classes=tuple(classes))


def _unfilled(making: PreparedRun, winding_class: int, usable_m: Sequence[int]) -> Fraction:
    """Metres of a jumbo that no length allowed fills, for a metre wound: the most of any order."""
    spans = {
        (option.min_m, option.max_m)
        for option in making.options
        if option.winding_class == winding_class
    }
    return max(_left_beside(*span, usable_m) for span in spans)


def _left_beside(min_m: int, max_m: int, usable_m: Sequence[int]) -> Fraction:
    """The least that is left of a jumbo for a metre wound, sets alike and in this range."""
    # As many sets as there can be leave least.
    wound = ((m, min(m, m // min_m * max_m)) for m in usable_m if m >= min_m)
    return min((Fraction(m - most, most) for m, most in wound), default=Fraction(0))
