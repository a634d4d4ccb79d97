"""Reels in stock that meet an order serve it before paper is made for it.

A reel of an order's width goes to the customer as it is; one that a sheeter takes is cut into
sheets, all of it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from functools import lru_cache

from trimopt.book.model import AtSheeter, Order, Product, StockReel, paper_key
from trimopt.making.cut_options import piece_of
from trimopt.making.required_ranges import sheet_mass_exact_kg, tolerated
from trimopt.mill.model import Sheeter

_JUDGED_MM = 0.5  # diameters are judged to the nearest millimetre
_SAME_CORE_MM = 0.05
_MAX_LOST = Fraction(1, 5)  # of a reel at a sheeter, unless it is reserved; as of an odd jumbo
_Pair = tuple[int, int]  # the places of a reel and an order


def serving(reel: StockReel, order: Order, sheeters: Sequence[Sheeter] = ()) -> StockReel | None:
    """The reel as it would serve an order; None: it does not meet it, or is not free for it."""
    max_kg = order.max_reel_mass_kg
    if (
        order.held_until is not None
        or paper_key(reel) != paper_key(order)
        or reel.joins > order.joins_allowed
        or (max_kg is not None and reel.mass_kg > max_kg)
        or not _free_for(reel, order)
    ):
        return None
    if order.product is Product.SHEET:
        cut = [found for each in sheeters if (found := _sheeted(reel, order, each))]
        return max(cut, key=lambda each: each.given_kg, default=None)
    min_mm, max_mm = order.min_diameter_mm or 0.0, order.max_diameter_mm or math.inf
    meets = (
        reel.width_mm == order.width_mm
        and (order.core_mm is None or abs(order.core_mm - reel.core_mm) < _SAME_CORE_MM)
        and min_mm - _JUDGED_MM <= reel.diameter_mm <= max_mm + _JUDGED_MM
    )
    return reel if meets else None


def _free_for(reel: StockReel, order: Order) -> bool:
    wanted = reel.reserved_for.casefold()
    return not wanted or wanted in (order.number.casefold(), order.customer.casefold())


def _sheeted(reel: StockReel, order: Order, sheeter: Sheeter) -> StockReel | None:
    """The reel as a sheeter cuts it, as many sheets across as it has room for."""
    useful_mm = reel.width_mm - 2 * sheeter.trim_per_side_mm
    ups = min(sheeter.max_ups, math.floor(useful_mm / order.width_mm))
    if (
        ups < 1
        or order.chop_mm is None
        or not sheeter.min_chop_mm <= order.chop_mm <= sheeter.max_chop_mm
        or reel.width_mm > sheeter.max_web_mm
        or reel.diameter_mm > sheeter.max_reel_diameter_mm + _JUDGED_MM
        or abs(sheeter.core_inside_mm - reel.core_mm) >= _SAME_CORE_MM
    ):
        return None
    sheets = piece_of(
        order,
        width_mm=reel.width_mm,
        ups=ups,
        sheeter=sheeter,
        length_m=reel.length_m,
        unit_mm=Fraction(1),
    ).sheets
    mass_kg = sheets * sheet_mass_exact_kg(order)
    if not sheets or (not reel.reserved_for and mass_kg < (1 - _MAX_LOST) * reel.mass_kg):
        return None
    use = AtSheeter(sheeter=sheeter.name, ups=ups, sheets=sheets, mass_kg=mass_kg)
    return replace(reel, at_sheeter=use)


def _room(order: Order) -> Fraction:
    """What may still be delivered, in the order's unit."""
    return max(Fraction(0), tolerated(order)[1] - order.made)


@lru_cache(maxsize=4)  # a command asks for the runs of its book more than once
def with_stock(
    orders: tuple[Order, ...], stock: tuple[StockReel, ...], sheeters: tuple[Sheeter, ...] = ()
) -> tuple[Order, ...]:
    """The orders with the reels picked for them: those that save most paper.

    Saved is what a reel gives to its order, less what a sheeter trims off it: that would else have
    stayed in stock. No order gets more than its upper tolerance leaves. Among equals reels that are
    reserved go first, then the oldest, then to the order that is due first.
    """
    picked = _best(orders, stock, sheeters, {})
    return tuple(
        replace(each, stock=tuple(picked[each.number])) if each.number in picked else each
        for each in orders
    )


def with_stock_left(
    orders: tuple[Order, ...],
    stock: tuple[StockReel, ...],
    sheeters: tuple[Sheeter, ...],
    *,
    ran: Mapping[str, Fraction],
    picked: Mapping[str, str],
    beyond: Mapping[str, Fraction],
) -> tuple[Order, ...]:
    """The orders with reels from stock beside what was run of them, which stands in `ran`.

    Reels stay with the orders that they were `picked` for, by their names, where these still have
    room for them: they may have been fetched. What the plan as issued gives an order `beyond` its
    upper tolerance takes no room once it ran. The others are picked anew.
    """
    lacking = [replace(each, made=each.made + ran[each.number]) for each in orders]
    roomy = [
        replace(each, made=each.made - min(ran[each.number], beyond.get(each.number, Fraction(0))))
        for each in lacking
    ]
    held = _best(roomy, [reel for reel in stock if reel.name in picked], sheeters, picked)
    staying = {reel.name for reels in held.values() for reel in reels}
    more = with_stock(
        tuple(
            replace(
                each, made=each.made + sum(reel.quantity(each.unit) for reel in held[each.number])
            )
            for each in lacking
        ),
        tuple(reel for reel in stock if reel.name not in staying),
        sheeters,
    )
    return tuple(
        replace(order, stock=(*held[order.number], *rest.stock))
        for order, rest in zip(orders, more, strict=True)
    )


def _best(
    orders: Sequence[Order],
    stock: Sequence[StockReel],
    sheeters: Sequence[Sheeter],
    only: Mapping[str, str],
) -> defaultdict[str, list[StockReel]]:
    """Reels by the number of their order; those named in `only` may serve that order alone."""
    picked: defaultdict[str, list[StockReel]] = defaultdict(list)
    for served, some in _groups(orders, stock, sheeters, only):
        for number, reel in _picked(served, some):
            picked[number].append(reel)
    return picked


def _groups(
    orders: Sequence[Order],
    stock: Sequence[StockReel],
    sheeters: Sequence[Sheeter],
    only: Mapping[str, str],
) -> Iterator[tuple[dict[_Pair, StockReel], list[Order]]]:
    """Reels as they would serve orders, and these; no reel of one group meets one of another."""
    by_due = sorted(orders, key=lambda o: (o.due is None, o.due or 0, o.row))
    rooms = [_room(order) for order in by_due]
    group_of: dict[int, set[int]] = {}  # of an order
    served: dict[_Pair, StockReel] = {}
    for i, reel in enumerate(stock):
        met: set[int] = set()
        for j, order in enumerate(by_due):
            if only.get(reel.name, order.number) != order.number:
                continue
            found = serving(reel, order, sheeters)
            if found is not None and found.quantity(order.unit) <= rooms[j]:
                served[i, j] = found
                met |= group_of.get(j, {j})
        group_of.update(dict.fromkeys(met, met))
    for group in {min(met): met for met in group_of.values()}.values():
        of_group = {pair: reel for pair, reel in served.items() if pair[1] in group}
        places = {j: place for place, j in enumerate(sorted(group))}
        yield (
            {(i, places[j]): reel for (i, j), reel in of_group.items()},
            [by_due[j] for j in places],
        )


def _picked(
    served: Mapping[_Pair, StockReel], orders: Sequence[Order]
) -> Iterator[tuple[str, StockReel]]:
    from trimopt.cutting.assignment import assign  # noqa: PLC0415  # few books list stock

    given = {pair: reel.quantity(orders[pair[1]].unit) for pair, reel in served.items()}
    steps = [
        math.lcm(*(size.denominator for pair, size in given.items() if pair[1] == j))
        for j in range(len(orders))
    ]
    held = assign(
        _saved(served),
        {pair: int(size * steps[pair[1]]) for pair, size in given.items()},
        [math.floor(_room(order) * step) for order, step in zip(orders, steps, strict=True)],
        [*_by_age(served), {(i, j): len(orders) - j for i, j in served}],
    )
    for i, j in sorted(held.items(), key=lambda pair: (served[pair].made_on or date.max, pair)):
        yield orders[j].number, served[i, j]


def _saved(served: Mapping[_Pair, StockReel]) -> dict[_Pair, int]:
    """Paper saved, in a common unit of mass; at least one of it."""
    saved = {pair: 2 * reel.given_kg - reel.mass_kg for pair, reel in served.items()}
    whole = [kg for pair, kg in saved.items() if served[pair].at_sheeter is None]
    step = math.lcm(1000, *(kg.denominator for kg in whole))
    return {pair: max(1, math.floor(kg * step)) for pair, kg in saved.items()}


def _by_age(served: Mapping[_Pair, StockReel]) -> Iterator[dict[_Pair, int]]:
    """Reels that are reserved, then those of each day from the first on."""
    yield {pair: 1 for pair, reel in served.items() if reel.reserved_for}
    for day in sorted({reel.made_on for reel in served.values() if reel.made_on}):
        yield {pair: 1 for pair, reel in served.items() if reel.made_on == day}
