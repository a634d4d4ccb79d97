"""From cuts to what the winder is asked to lay out: lots, and what metres more of them give."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from types import MappingProxyType

from trimopt.book.model import Order, Product, Unit
from trimopt.cutting import Cut, Pattern
from trimopt.making import CutOption, PreparedRun, required
from trimopt.making.required_ranges import ordered_area, prices_of
from trimopt.mill.model import Mill
from trimopt.paper import mass_length_m
from trimopt.winding.jumbos.laying import LengthBlock
from trimopt.winding.jumbos.order_slack import LengthProblem, OrderSlack, SetGain, SheetReels
from trimopt.winding.knives.integer_lot import max_wound_mm
from trimopt.winding.model import JumboSupply, Lot, Strip

Beside = Mapping[str, tuple[int, int]]
"""What sets that are laid out already give to each order: yield and area."""


def merged(cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """The cuts with those of one pattern put together, where the first of them stands."""
    sets: Counter[Pattern] = Counter()
    for cut in cuts:
        sets[cut.pattern] += cut.sets
    return tuple(Cut(pattern, count) for pattern, count in sets.items())


def lots_of(
    making: PreparedRun, cuts: Sequence[Cut], held: Collection[Pattern] = ()
) -> tuple[Lot, ...]:
    """A lot for each cut, numbered by its place; sets of `held` patterns keep their length.

    Lots of the same reels have the same broke reels beside them, so that no knife moves between
    them: the web of all is that which the max_kg set allows.
    """
    lots = [
        replace(_lot(making, number, cut), fixed_length=cut.pattern in held)
        for number, cut in enumerate(cuts)
    ]
    webs_mm: dict[tuple[Fraction, ...], Fraction] = {}
    for lot in lots:
        if lot.max_web_mm is not None:
            web_mm = webs_mm.setdefault(_widths(lot), lot.max_web_mm)
            webs_mm[_widths(lot)] = min(web_mm, lot.max_web_mm)
    return tuple(replace(lot, max_web_mm=webs_mm.get(_widths(lot))) for lot in lots)


def _widths(lot: Lot) -> tuple[Fraction, ...]:
    return tuple(sorted(strip.width_mm for strip in lot.strips))


def _lot(making: PreparedRun, number: int, cut: Cut) -> Lot:
    winding = making.classes[cut.pattern.winding_class]
    limits = making.instance.classes[cut.pattern.winding_class]
    strips: list[Strip] = []
    orders: dict[str, Order] = {}
    used = 0
    for k, count in cut.pattern.pieces:
        option = making.options[k]
        orders[option.order.number] = option.order
        strips += [
            Strip(key=str(k), width_mm=option.width_mm, no_edge=option.order.no_edge)
        ] * count
        used += making.instance.options[k].width * count
    return Lot(
        number=number,
        strips=tuple(strips),
        sets=cut.sets,
        length_m=winding.length_m,
        core_mm=winding.core_mm,
        broke_reels=limits.broke_reels(used) or 0,
        due=min((o.due for o in orders.values() if o.due is not None), default=None),
        priority=min((o.priority for o in orders.values() if o.priority is not None), default=None),
        orders=frozenset(orders),
        setting=limits.setting,
        max_web_mm=winding.max_web_mm,
        jumbo_width_mm=winding.jumbo_width_mm,
    )


def length_problem(
    making: PreparedRun,
    mill: Mill,
    cuts: Sequence[Cut],
    lots: Sequence[Lot],
    supply: JumboSupply,
    *,
    beside: Beside = MappingProxyType({}),
) -> LengthProblem:
    """The lots, in this running order, as they go along the jumbos.

    Parameters
    ----------
    cuts
        The cuts that the lots came from, for what each order has.
    beside
        What the orders have of other sets.
    """
    return LengthProblem(
        blocks=tuple(_length_block(making, mill, lot) for lot in lots),
        supply=supply,
        orders=order_slacks(making, mill, cuts, beside),
        gains=tuple(_gains_of(making, mill, lot) for lot in lots),
        paper_per_m=mill.jumbo.width_mm / making.unit_mm,
    )


def lengths_of(making: PreparedRun, mill: Mill, pattern: Pattern) -> tuple[int, int]:
    """The shortest and the longest that a set of a pattern may be, m."""
    block = _length_block(making, mill, _lot(making, 0, Cut(pattern, 1)))
    return block.min_m, block.max_m


def length_rows(
    making: PreparedRun, mill: Mill, lot: Lot
) -> tuple[LengthBlock, tuple[SetGain, ...]]:
    """A lot as it goes along the jumbos, and what metres more on a set of it give."""
    return _length_block(making, mill, lot), _gains_of(making, mill, lot)


def _length_block(making: PreparedRun, mill: Mill, lot: Lot) -> LengthBlock:
    """The lengths that every reel of a lot allows, and the mass of its set."""
    options = [making.options[int(strip.key)] for strip in lot.strips]
    min_m = max(option.min_m for option in options)
    max_m = min(option.max_m for option in options)
    max_kg = mill.winder.max_set_mass_kg
    if max_kg is not None:
        wound_mm = max_wound_mm(lot, mill.winder, mill.jumbo.width_mm)
        max_m = min(max_m, math.floor(mass_length_m(max_kg, wound_mm, making.run.grammage_gsm)))
    return LengthBlock(
        sets=lot.sets,
        length_m=lot.length_m,
        min_m=lot.length_m if lot.fixed_length else min(lot.length_m, min_m),
        max_m=lot.length_m if lot.fixed_length else max(lot.length_m, max_m),
        max_joins=min((option.order.joins_allowed for option in options), default=0)
        if mill.winder.joins_allowed
        else 0,
        priority=lot.priority,
        due=lot.due,
    )


def order_slacks(
    making: PreparedRun,
    mill: Mill,
    cuts: Sequence[Cut],
    beside: Beside = MappingProxyType({}),
) -> tuple[OrderSlack, ...]:
    """What each order has of the cuts at their classes' lengths and beside, and what it allows."""
    gain = Counter({order: each[0] for order, each in beside.items()})
    area = Counter({order: each[1] for order, each in beside.items()})
    for cut in cuts:
        for k, count in cut.pattern.pieces:
            option = making.options[k]
            gain[option.order.number] += option.gain * count * cut.sets
            area[option.order.number] += option.area * count * cut.sets
    slacks = []
    for order, demand in zip(making.run.orders, making.instance.demands, strict=True):
        need = required(order, making.unit_mm)
        under, over = prices_of(order, mill)
        slacks.append(
            OrderSlack(
                order=order.number,
                made=Fraction(gain[order.number]),
                low=Fraction(need.low),
                high=Fraction(need.high),
                worth=Fraction(area[order.number]),
                surplus=Fraction(demand.surplus_worth),
                ordered=Fraction(ordered_area(order, need, mill, making.unit_mm)),
                under=under,
                over=over,
            )
        )
    return tuple(slacks)


def _gains_of(making: PreparedRun, mill: Mill, lot: Lot) -> tuple[SetGain, ...]:
    """What a metre more on a set of the lot gives to each of its orders."""
    place = {order.number: k for k, order in enumerate(making.run.orders)}
    counts = Counter(strip.key for strip in lot.strips)
    return tuple(
        _gain(making, mill, making.options[int(key)], count, place)
        for key, count in sorted(counts.items())
    )


def _gain(
    making: PreparedRun, mill: Mill, option: CutOption, count: int, place: dict[str, int]
) -> SetGain:
    order: Order = option.order
    width = option.width_mm / making.unit_mm
    if order.product is Product.SHEET:
        assert order.chop_mm is not None
        assert option.ups is not None
        sheeter = next(s for s in mill.sheeters if s.name == option.sheeter)
        sheets = count * option.ups * 1000 / order.chop_mm * sheeter.kept
        return SetGain(
            order=place[order.number],
            gain_per_m=sheets,
            worth_per_m=sheets * order.width_mm * order.chop_mm / 1000 / making.unit_mm,
            # A chop is whole for every up, and what waste leaves is rounded down once more.
            rounding=Fraction(count * (option.ups + 1)),
            sheeted=SheetReels(
                reels=count, ups=option.ups, chop_mm=order.chop_mm, kept=sheeter.kept
            ),
        )
    gain = {Unit.REELS: Fraction(0), Unit.METRES: Fraction(count)}.get(order.unit, count * width)
    return SetGain(order=place[order.number], gain_per_m=gain, worth_per_m=count * width)
