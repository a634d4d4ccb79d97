"""The running order of a run: knife moves and butts in the balance.

The winder's own order has the fewest knife moves. Where it leaves butts, the order that leaves the
least is found too, its layouts with it, and the one that costs less in all is taken: paper and
knife moves at the mill's prices, or paper first where it has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction

from trimopt.cutting import Cut
from trimopt.making import Making, kg_of_area
from trimopt.mill.model import Mill
from trimopt.plan.along import Along, length_blocks, wind_along
from trimopt.plan.model import Settings
from trimopt.winding import Arrangement, Laying, Lot, arrange
from trimopt.winding.ends import PLAIN
from trimopt.winding.jumbos import JumboSupply
from trimopt.winding.sequence import order_blocks

__all__ = ["Wound", "best_running_order"]

_KNIFE_WORK = 600  # of the winding room, at effort 1; about a second on a laptop of 2024
_BUTTS_WORTH = 0.003  # share of the metres wound below which butts are let be
_ORDER_TRIES = 1_000
_LATER_M = 2.0  # metres of jumbo that a more urgent block behind a less urgent one weighs


@dataclass(frozen=True, slots=True, kw_only=True)
class Wound:
    """Lots in running order, their layouts, their sets on the jumbos, and the loss in all."""

    arrangement: Arrangement
    lots: tuple[Lot, ...]
    laying: Laying
    loss_kg: float  # the engine's loss with butts
    loss_area: Fraction | None  # the same in area units; None where the paper did not last


def best_running_order(
    making: Making,
    mill: Mill,
    cuts: Sequence[Cut],
    lots: tuple[Lot, ...],
    along: Along,
    *,
    settings: Settings,
    seconds: float | None,
) -> Wound:
    """Arrange the lots and wind them onto the jumbos.

    Parameters
    ----------
    cuts, lots
        In step.
    seconds
        The longest search for layouts.
    """

    def wound(asked: tuple[Lot, ...], share: float) -> Wound:
        arrangement = arrange(
            asked,
            mill.winder,
            mill.jumbo.width_mm,
            seconds=None if seconds is None else seconds * share,
            work=round(settings.effort * _KNIFE_WORK * share),
            seed=settings.seed,
            knives_at_mm=mill.winder.knives_at_mm,
        )
        by_number = {lot.number: lot for lot in lots}
        in_order = tuple(by_number[block.lot] for block in arrangement.blocks)
        balanced = wind_along(making, mill, cuts, in_order, along, seed=settings.seed)
        loss = balanced.loss_paper
        return Wound(
            arrangement=arrangement,
            lots=in_order,
            laying=balanced.laying,
            loss_kg=float("inf") if loss is None else _kg(making, loss),
            loss_area=loss,
        )

    first = wound(lots, 0.7)
    metres = max(1, sum(lot.sets * lot.length_m for lot in lots))
    if first.laying.lost_m <= _BUTTS_WORTH * metres:
        return first
    blocks = length_blocks(making, mill, first.lots)
    found = order_blocks(
        blocks,
        JumboSupply(along.stock, along.nominal),
        worth=[PLAIN] * len(blocks),
        extra=_Urgency(first.lots).metres,
        tries=settings.effort * _ORDER_TRIES,
        seed=settings.seed,
    )
    ranked = tuple(
        replace(first.lots[place], precedence=rank) for rank, place in enumerate(found[0].order)
    )
    second = wound(ranked, 0.3)
    return min(first, second, key=lambda one: _price(one, settings))


def _kg(making: Making, area: Fraction) -> float:
    return kg_of_area(1, making.run.grammage_gsm, making.unit_mm) * float(area)


def _price(wound: Wound, settings: Settings) -> tuple[float, float]:
    """Money where the mill has prices; else paper, then moves."""
    moves = wound.arrangement.moves
    if settings.trim_a_tonne is None or settings.knife_move is None:
        return wound.loss_kg, moves
    return wound.loss_kg / 1000 * settings.trim_a_tonne + moves * settings.knife_move, 0.0


class _Urgency:
    """Metres that stand for urgent blocks behind less urgent ones."""

    def __init__(self, lots: Sequence[Lot]) -> None:
        never = datetime.max  # noqa: DTZ901  due times of a book have no zone
        self._keys = [
            (lot.priority if lot.priority is not None else 1_000, lot.due or never) for lot in lots
        ]

    def metres(self, order: Sequence[int]) -> float:
        """For each pair in the wrong order, `_LATER_M`."""
        keys = [self._keys[place] for place in order]
        wrong = sum(later < earlier for k, earlier in enumerate(keys) for later in keys[k + 1 :])
        return _LATER_M * wrong
