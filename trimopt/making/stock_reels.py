"""Reels in stock that meet an order serve it before paper is made for it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from functools import lru_cache

from trimopt.book.model import Order, Product, StockReel, paper_key

_JUDGED_MM = 0.5  # diameters are judged to the nearest millimetre


def meets(reel: StockReel, order: Order) -> bool:
    """Whether a reel is of an order's width, paper, core, diameter, joins and mass, and free."""
    min_mm, max_mm = order.min_diameter_mm or 0.0, order.max_diameter_mm or math.inf
    max_kg = order.max_reel_mass_kg
    return (
        order.product is Product.REEL
        and order.held_until is None
        and reel.width_mm == order.width_mm
        and paper_key(reel) == paper_key(order)
        and (order.core_mm is None or abs(order.core_mm - reel.core_mm) < 0.05)
        and min_mm - _JUDGED_MM <= reel.diameter_mm <= max_mm + _JUDGED_MM
        and reel.joins <= order.joins_allowed
        and (max_kg is None or reel.mass_kg <= max_kg)
        and _free_for(reel, order)
    )


def _free_for(reel: StockReel, order: Order) -> bool:
    wanted = reel.reserved_for.casefold()
    return not wanted or wanted in (order.number.casefold(), order.customer.casefold())


def _room(order: Order) -> Fraction:
    """What may still be delivered, in the order's unit."""
    return max(Fraction(0), order.quantity * (1 + order.over) - order.made)


@lru_cache(maxsize=4)  # a command asks for the runs of its book more than once
def with_stock(orders: tuple[Order, ...], stock: tuple[StockReel, ...]) -> tuple[Order, ...]:
    """The orders with the reels picked for them: those that save most paper.

    No order gets more than its upper tolerance leaves. Among equals a reel that is reserved goes
    first, then the oldest, then to the order that is due first.
    """
    picked: dict[str, list[StockReel]] = defaultdict(list)
    for reels, for_orders in _groups(orders, stock):
        for number, reel in _picked(reels, for_orders):
            picked[number].append(reel)
    return tuple(
        replace(each, stock=tuple(picked[each.number])) if each.number in picked else each
        for each in orders
    )


def _groups(
    orders: Sequence[Order], stock: Sequence[StockReel]
) -> Iterator[tuple[list[StockReel], list[Order]]]:
    """Reels of one paper and width, with the orders that some of them meet."""
    together: dict[tuple[object, ...], list[StockReel]] = defaultdict(list)
    for reel in stock:
        together[*paper_key(reel), reel.width_mm].append(reel)
    for reels in together.values():
        met = [order for order in orders if any(meets(reel, order) for reel in reels)]
        if met:
            yield reels, sorted(met, key=lambda o: (o.due is None, o.due or 0, o.row))


def _picked(reels: Sequence[StockReel], orders: Sequence[Order]) -> Iterator[tuple[str, StockReel]]:
    from trimopt.cutting.assignment import assign  # noqa: PLC0415  # few books list stock

    pairs = [
        (i, j)
        for i, reel in enumerate(reels)
        for j, order in enumerate(orders)
        if meets(reel, order) and reel.quantity(order.unit) <= _room(order)
    ]
    given = {(i, j): reels[i].quantity(orders[j].unit) for i, j in pairs}
    step = math.lcm(*(size.denominator for size in given.values()))
    days = [(reel.made_on or date.max).toordinal() for reel in reels]
    newest = max((reel.made_on for reel in reels if reel.made_on), default=date.min).toordinal()
    ages = [1 + newest - day if reel.made_on else 0 for reel, day in zip(reels, days, strict=True)]
    first = max(ages) + 1
    held = assign(
        [reel.length_m for reel in reels],
        {pair: int(size * step) for pair, size in given.items()},
        [math.floor(_room(order) * step) for order in orders],
        {
            (i, j): (first if reels[i].reserved_for else ages[i]) * len(reels) * len(orders)
            + len(orders)
            - j
            for i, j in pairs
        },
    )
    for i in sorted(held, key=lambda i: (days[i], i)):
        yield orders[held[i]].number, reels[i]
