"""The check of what comes from stock: each reel once, for an order that it meets, none passed over.

A reel that is left over must not meet an order that has room for it. That no other choice would
save more paper is not proven again.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from trimopt.book.model import Book, Order, Product, StockReel
from trimopt.check.check_formulas import JUDGED_MM, from_stock, same_core
from trimopt.check.findings import Findings
from trimopt.plan.model import Plan

__all__ = ["check_stock"]


def check_stock(plan: Plan, book: Book, by_number: Mapping[str, Order], notes: Findings) -> None:
    """Check the reels from stock against the book's stock sheet and its orders."""
    listed = {reel.name: reel for reel in book.stock}
    times = Counter(reel.name for _, _, reel in plan.stock_used)
    for name, count in times.items():
        if count > 1:
            notes.add(f"stock reel {name}", "used once", count, 1)
    used: dict[str, list[StockReel]] = {}
    for number, _, reel in plan.stock_used:
        used.setdefault(number, []).append(reel)
        if listed.get(reel.name) != reel:
            notes.add(f"stock reel {reel.name}", "stands on the stock sheet", "so", "otherwise")
        if (order := by_number.get(number)) is not None:
            for what in _against(reel, order):
                notes.add(f"stock reel {reel.name}", "its order", number, what)
    for number, reels in used.items():
        if (order := by_number.get(number)) is not None and _room(order, reels) < 0:
            given = from_stock(order, reels)
            notes.add(f"order {number}", "from stock", given, "above its upper tolerance")
    room = {each.number: _room(each, used.get(each.number, [])) for each in by_number.values()}
    for reel in book.stock:
        met = (each for each in by_number.values() if not any(_against(reel, each)))
        could = (o.number for o in met if from_stock(o, [reel]) <= room[o.number])
        if reel.name not in times and (passed_over := next(could, None)) is not None:
            notes.add(f"stock reel {reel.name}", "its order", "none", f"it meets {passed_over}")


def _room(order: Order, reels: Sequence[StockReel]) -> Fraction:
    """What may still be delivered beside them, in the order's unit; below 0 it is too much."""
    return order.quantity + order.over * order.quantity - order.made - from_stock(order, reels)


def _against(reel: StockReel, order: Order) -> Iterator[str]:
    """What speaks against this reel for this order."""
    least, most = order.min_diameter_mm or 0.0, order.max_diameter_mm or math.inf
    if order.product is not Product.REEL:
        yield "it is for sheets"
    if order.held_until is not None:
        yield "an enquiry, and no order yet"
    if reel.width_mm != order.width_mm:
        yield f"another width, {float(order.width_mm):g} mm"
    if (reel.grade, reel.grammage_gsm) != (order.grade, order.grammage_gsm):
        yield "another paper"
    if order.core_mm is not None and not same_core(reel.core_mm, order.core_mm):
        yield f"another core, {order.core_mm:g} mm"
    if not least - JUDGED_MM <= reel.diameter_mm <= most + JUDGED_MM:
        yield f"a diameter from {least:g} to {most:g} mm"
    if reel.joins > order.joins_allowed:
        yield f"{order.joins_allowed} joins allowed"
    if order.max_reel_mass_kg is not None and reel.mass_kg > order.max_reel_mass_kg:
        yield f"{order.max_reel_mass_kg:g} kg at the most"
    names = {order.number.casefold(), order.customer.casefold()}
    if reel.reserved_for and reel.reserved_for.casefold() not in names:
        yield f"reserved for {reel.reserved_for}"
