"""Along the jumbo: what the sets of a run may be long, and what that gives to its orders."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from trimopt.book.model import Order, Product, Unit
from trimopt.cutting import Cut
from trimopt.making import CutOption, Making, required
from trimopt.making.required_ranges import ordered_area
from trimopt.mill.model import Mill
from trimopt.winding.jumbos.laying import LengthBlock
from trimopt.winding.jumbos.order_slack import LengthProblem, OrderSlack, SetGain
from trimopt.winding.knives.integer_lot import max_wound_mm
from trimopt.winding.model import JumboSupply, Lot

__all__ = ["length_problem", "order_slacks"]


def length_problem(
    making: Making, mill: Mill, cuts: Sequence[Cut], lots: Sequence[Lot], supply: JumboSupply
) -> LengthProblem:
    """The lots, in this running order, as they go along the jumbos.

    Parameters
    ----------
    cuts
        The cuts that the lots came from, for what each order has.
    """
    return LengthProblem(
        blocks=tuple(_length_block(making, mill, lot) for lot in lots),
        supply=supply,
        orders=order_slacks(making, mill, cuts),
        gains=tuple(_gains_of(making, mill, lot) for lot in lots),
        paper_per_m=mill.jumbo.width_mm / making.unit_mm,
    )


def _length_block(making: Making, mill: Mill, lot: Lot) -> LengthBlock:
    options = [making.options[int(strip.key)] for strip in lot.strips]
    min_m = max(option.min_m for option in options)
    max_m = min(option.max_m for option in options)
    heaviest = mill.winder.max_set_mass_kg
    if heaviest is not None:
        wound_mm = max_wound_mm(lot, mill.winder, mill.jumbo.width_mm)
        gsm = making.run.grammage_gsm
        max_m = min(max_m, math.floor(heaviest * 1e6 / (float(wound_mm) * gsm)))
    return LengthBlock(
        sets=lot.sets,
        length_m=lot.length_m,
        min_m=lot.length_m if lot.held else min(lot.length_m, min_m),
        max_m=lot.length_m if lot.held else max(lot.length_m, max_m),
        max_joins=min((option.order.joins_allowed for option in options), default=0)
        if mill.winder.joins_allowed
        else 0,
        priority=lot.priority,
        due=lot.due,
    )


def order_slacks(making: Making, mill: Mill, cuts: Sequence[Cut]) -> tuple[OrderSlack, ...]:
    """What each order has of the cuts at their classes' lengths, and what it allows."""
    gain: Counter[str] = Counter()
    area: Counter[str] = Counter()
    for cut in cuts:
        for k, count in cut.pattern.pieces:
            option = making.options[k]
            gain[option.order.number] += option.gain * count * cut.sets
            area[option.order.number] += option.area * count * cut.sets
    slacks = []
    for order, demand in zip(making.run.orders, making.instance.demands, strict=True):
        need = required(order, making.unit_mm)
        surplus = max(0, gain[order.number] - need.high)
        slacks.append(
            OrderSlack(
                order=order.number,
                made=Fraction(gain[order.number]),
                low=Fraction(need.low),
                high=Fraction(need.high),
                worth=Fraction(area[order.number] - demand.surplus_worth * surplus),
                ordered=Fraction(ordered_area(order, need, mill, making.unit_mm)),
                under=mill.values.under,
                over=mill.values.over,
            )
        )
    return tuple(slacks)


def _gains_of(making: Making, mill: Mill, lot: Lot) -> tuple[SetGain, ...]:
    """What a metre more on a set of the lot gives to each of its orders."""
    place = {order.number: k for k, order in enumerate(making.run.orders)}
    counts = Counter(strip.key for strip in lot.strips)
    return tuple(
        _gain(making, mill, making.options[int(key)], count, place)
        for key, count in sorted(counts.items())
    )


def _gain(
    making: Making, mill: Mill, option: CutOption, count: int, place: dict[str, int]
) -> SetGain:
    order: Order = option.order
    width = option.width_mm / making.unit_mm
    if order.product is Product.SHEET:
        assert order.chop_mm is not None
        assert option.ups is not None
        sheeter = next(s for s in mill.sheeters if s.name == option.sheeter)
        kept = 1 - Fraction(str(sheeter.waste_share))
        sheets = count * option.ups * 1000 / order.chop_mm * kept
        return SetGain(
            order=place[order.number],
            gain_per_m=sheets,
            worth_per_m=sheets * order.width_mm * order.chop_mm / 1000 / making.unit_mm,
            # A chop is whole for every up, and what waste leaves is rounded down once more.
            rounding=Fraction(count * (option.ups + 1)),
        )
    gain = {Unit.REELS: Fraction(0), Unit.METRES: Fraction(count)}.get(order.unit, count * width)
    return SetGain(order=place[order.number], gain_per_m=gain, worth_per_m=count * width)
