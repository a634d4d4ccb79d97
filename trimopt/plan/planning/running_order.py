"""The running order of a run: knife moves and butts in the balance.

The winder's own order has the fewest knife moves. Where it leaves butts, orders that leave less are
sought, with layouts anew, and what costs less in all is taken: paper and knife moves at the mill's
prices, or paper first where it has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.cutting import Cut
from trimopt.making import Making, kg_of_area
from trimopt.mill.model import Mill
from trimopt.plan.model import Settings
from trimopt.plan.planning.along_jumbos import length_problem
from trimopt.winding import (
    Arrangement,
    JumboSupply,
    Laying,
    Lot,
    Prices,
    arrange,
    balance,
    schedule_run,
)

__all__ = ["BUTTS_WORTH", "Wound", "best_running_order"]

#: Work of the winding room at effort 1.
_KNIFE_WORK = 1_000
_AGAIN_WORK = 1_000
_ORDER_TRIES = 250
_CAPPED = Fraction(100_000)  # knife moves, so metres of jumbo at the least

BUTTS_WORTH = 0.003
"""Share of the metres wound below which butts are let be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wound:
    """Lots in running order, their layouts, their sets on the jumbos, and the loss in all."""

    arrangement: Arrangement
    lots: tuple[Lot, ...]
    laying: Laying
    loss_area: Fraction | None  # with butts, in area units; None where the paper did not last


def best_running_order(
    making: Making,
    mill: Mill,
    cuts: Sequence[Cut],
    lots: tuple[Lot, ...],
    supply: JumboSupply,
    *,
    settings: Settings,
    max_set_ups: int | None = None,
    budget: Budget,
) -> Wound:
    """Arrange the lots and wind them onto the jumbos.

    Parameters
    ----------
    cuts, lots
        In step.
    max_set_ups
        Where more would come of it, no butt is worth a set-up.
    budget
        Where it is over, orders and layouts that were met so far are taken.
    """

    def arranged(prices: Prices) -> Wound:
        return _arranged(
            making, mill, cuts, lots, supply, prices=prices, settings=settings, budget=budget
        )

    wound = arranged(_prices(settings))
    if max_set_ups is not None and wound.arrangement.set_ups > max_set_ups:
        return arranged(Prices(set_up=_CAPPED))
    return wound


def _arranged(
    making: Making,
    mill: Mill,
    cuts: Sequence[Cut],
    lots: tuple[Lot, ...],
    supply: JumboSupply,
    *,
    prices: Prices,
    settings: Settings,
    budget: Budget,
) -> Wound:
    arrangement = arrange(
        lots,
        mill.winder,
        mill.jumbo.width_mm,
        budget=budget.share(0.4, settings.effort * _KNIFE_WORK),
        seed=settings.seed,
        knives_at_mm=mill.winder.knives_at_mm,
        prices=prices,
    )
    by_number = {lot.number: lot for lot in lots}
    in_order = tuple(by_number[block.lot] for block in arrangement.blocks)
    balanced = balance(
        length_problem(making, mill, cuts, in_order, supply),
        budget=budget.share(0.6),
        seed=settings.seed,
    )
    metres = max(1, sum(lot.sets * lot.length_m for lot in lots))
    if balanced.laying.lost_m > BUTTS_WORTH * metres and not budget.over():
        wound = schedule_run(
            lots,
            length_problem(making, mill, cuts, lots, supply),
            mill.winder,
            mill.jumbo.width_mm,
            first=arrangement,
            balanced=balanced,
            knives_at_mm=mill.winder.knives_at_mm,
            prices=prices,
            move_m=_move_m(making, mill, settings),
            tries=settings.effort * _ORDER_TRIES,
            work=settings.effort * _AGAIN_WORK,
            budget=budget,
            seed=settings.seed,
        )
        arrangement, balanced = wound.arrangement, wound.balanced
        in_order = tuple(lots[place] for place in wound.order)
    return Wound(
        arrangement=arrangement,
        lots=in_order,
        laying=balanced.laying,
        loss_area=balanced.loss_paper,
    )


def _prices(settings: Settings) -> Prices:
    """What a set-up is worth in knife moves by the mill's prices; else it comes before them."""
    if not settings.trim_cost_per_t or settings.set_up is None or not settings.knife_move:
        return Prices()
    return Prices(set_up=Fraction(settings.set_up / settings.knife_move).limit_denominator(100))


def _move_m(making: Making, mill: Mill, settings: Settings) -> float:
    """A knife move in metres of jumbo: by the mill's prices, else so little that paper decides."""
    if not settings.trim_cost_per_t or settings.knife_move is None:
        return 1.0
    paper_per_m = mill.jumbo.width_mm / making.unit_mm
    kg_a_metre = kg_of_area(1, making.run.grammage_gsm, making.unit_mm) * float(paper_per_m)
    return settings.knife_move / (settings.trim_cost_per_t / 1000 * kg_a_metre)
