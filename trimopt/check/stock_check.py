"""The check of stock: reels that serve orders, and reels made for it of the mill's stock widths.

Each reel of the stock sheet serves once, an order that it meets, and none is passed over. For
sheets it is cut whole, on a sheeter that takes it, as many across as lie between the trims.

A reel that is left over must not meet an order that has room for it. That no other choice would
save more paper is not proven again.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.book.model import AtSheeter, Book, Order, Product, StockReel, Unit, paper_key
from trimopt.check.check_formulas import (
    JUDGED_MM,
    from_stock,
    kg_of,
    same_core,
    sheet_kg,
    sheets_of_reel,
    tolerated,
)
from trimopt.check.findings import CheckContext, Findings
from trimopt.check.orders_check import made_by
from trimopt.mill.model import Mill, Sheeter, StockWidth
from trimopt.paper import reel_length_m
from trimopt.plan.model import Plan, RunPlan

_MAX_LOST_SHARE = Fraction(20, 100)  # of a reel cut into sheets, where it is reserved for nobody


def check_stock(
    plan: Plan, book: Book, mill: Mill, by_number: Mapping[str, Order], notes: Findings
) -> None:
    """Check the reels from stock against the book's stock sheet and its orders."""
    used = _check_used(plan, book, mill, by_number, notes)
    names = {reel.name for reels in used.values() for reel in reels}
    room = {each.number: _room(each, used.get(each.number, [])) for each in by_number.values()}
    for number, reels in used.items():
        if room.get(number, 0) < 0:
            given = from_stock(by_number[number], reels)
            notes.add(f"order {number}", "from stock", given, "above its upper tolerance")
    for run in plan.runs:
        for number, done in made_by(run, by_number, mill, done_alone=True).items():
            room[number] -= done.quantity(by_number[number])
    for reel in book.stock:
        ways = ((each, way) for each in by_number.values() for way in _ways(reel, each, mill))
        could = (o.number for o, way in ways if from_stock(o, [way]) <= room[o.number])
        if reel.name not in names and (passed_over := next(could, None)) is not None:
            notes.add(f"stock reel {reel.name}", "its order", "none", f"it meets {passed_over}")


def _check_used(
    plan: Plan, book: Book, mill: Mill, by_number: Mapping[str, Order], notes: Findings
) -> dict[str, list[StockReel]]:
    """Check each reel that is used, and give them by their order."""
    listed = {reel.name: reel for reel in book.stock}
    times = Counter(reel.name for _, _, reel in plan.stock_used)
    for name in (name for name, count in times.items() if count > 1):
        notes.add(f"stock reel {name}", "used once", times[name], 1)
    used: dict[str, list[StockReel]] = {}
    for number, _, reel in plan.stock_used:
        used.setdefault(number, []).append(reel)
        if listed.get(reel.name) != replace(reel, at_sheeter=None):
            notes.add(f"stock reel {reel.name}", "stands on the stock sheet", "so", "otherwise")
        if (order := by_number.get(number)) is not None:
            for what in (*_against(reel, order), *_against_cut(reel, order, mill)):
                notes.add(f"stock reel {reel.name}", "its order", number, what)
    return used


def _room(order: Order, reels: Sequence[StockReel]) -> Fraction:
    """What may still be delivered beside them, in the order's unit; below 0 it is too much."""
    return tolerated(order)[1] - order.made - from_stock(order, reels)


def _against(reel: StockReel, order: Order) -> Iterator[str]:
    if order.held_until is not None:
        yield "an enquiry, and no order yet"
    if order.product is Product.REEL:
        yield from _against_as_it_is(reel, order)
    if (reel.grade, reel.grammage_gsm) != (order.grade, order.grammage_gsm):
        yield "another paper"
    if reel.joins > order.joins_allowed:
        yield f"{order.joins_allowed} joins allowed"
    if order.max_reel_mass_kg is not None and reel.mass_kg > order.max_reel_mass_kg:
        yield f"{order.max_reel_mass_kg:g} kg at the most"
    names = {order.number.casefold(), order.customer.casefold()}
    if reel.reserved_for and reel.reserved_for.casefold() not in names:
        yield f"reserved for {reel.reserved_for}"


def _against_as_it_is(reel: StockReel, order: Order) -> Iterator[str]:
    """What speaks against it as the customer's own reel."""
    least, most = order.min_diameter_mm or 0.0, order.max_diameter_mm or math.inf
    if reel.width_mm != order.width_mm:
        yield f"another width, {float(order.width_mm):g} mm"
    if order.core_mm is not None and not same_core(reel.core_mm, order.core_mm):
        yield f"another core, {order.core_mm:g} mm"
    if not least - JUDGED_MM <= reel.diameter_mm <= most + JUDGED_MM:
        yield f"a diameter from {least:g} to {most:g} mm"


def _against_cut(reel: StockReel, order: Order, mill: Mill) -> Iterator[str]:
    """What speaks against the sheets that the plan has cut of it."""
    use = reel.at_sheeter
    if (use is not None) != (order.product is Product.SHEET):
        yield "sheets of a reel are cut for an order of sheets alone"
    elif use is not None:
        sheeter = mill.sheeter(use.sheeter)
        if sheeter is None:
            yield f"no sheeter {use.sheeter} in the mill file"
        elif (found := _cut_on(sheeter, reel, order)) != use:
            yield (
                "not taken by that sheeter"
                if found is None
                else (f"{found.sheets} sheets, {found.ups} across, {float(found.mass_kg):.1f} kg")
            )
        elif _too_much_lost(reel, found):
            yield "more than a fifth of it lost at the sheeter"


def _ways(reel: StockReel, order: Order, mill: Mill) -> Iterator[StockReel]:
    """The reel in every way in which it may serve the order."""
    if any(_against(reel, order)):
        return
    if order.product is Product.REEL:
        yield reel
        return
    for sheeter in mill.sheeters:
        use = _cut_on(sheeter, reel, order)
        if use is not None and not _too_much_lost(reel, use):
            yield replace(reel, at_sheeter=use)


def _cut_on(sheeter: Sheeter, reel: StockReel, order: Order) -> AtSheeter | None:
    """What a sheeter makes of the whole reel; None: it does not take it, or it gives no sheet."""
    across, chop = order.width_mm, order.chop_mm or Fraction(0)
    ups = min(int((reel.width_mm - 2 * sheeter.trim_per_side_mm) // across), sheeter.max_ups)
    takes = (
        sheeter.min_chop_mm <= chop <= sheeter.max_chop_mm
        and reel.width_mm <= sheeter.max_web_mm
        and reel.diameter_mm <= sheeter.max_reel_diameter_mm + JUDGED_MM
        and same_core(reel.core_mm, sheeter.core_inside_mm)
    )
    sheets = sheets_of_reel(order, ups, sheeter, reel.length_m) if takes and ups > 0 else 0
    if sheets <= 0:
        return None
    mass_kg = sheets * sheet_kg(order)
    return AtSheeter(sheeter=sheeter.name, ups=ups, sheets=sheets, mass_kg=mass_kg)


def _too_much_lost(reel: StockReel, use: AtSheeter) -> bool:
    mass_kg = kg_of(reel.width_mm, reel.length_m, reel.grammage_gsm)
    return not reel.reserved_for and mass_kg - use.mass_kg > _MAX_LOST_SHARE * mass_kg


def stock_widths(mill: Mill, run: RunPlan) -> dict[str, Order]:
    """The stock widths of a run's paper, as orders of nothing up to their most."""
    return {
        each.name: Order(
            number=each.name, customer="", grade=run.grade, grammage_gsm=run.grammage_gsm,
            product=Product.REEL, width_mm=each.width_mm, chop_mm=None,
            min_diameter_mm=_min_diameter_mm(mill, each),
            max_diameter_mm=each.max_diameter_mm, core_mm=each.core_mm,
            quantity=Fraction(_max_reels(mill, each)),
            unit=Unit.REELS, under=Fraction(1), over=Fraction(0), joins_allowed=each.joins_allowed,
            stock_share=each.value_share,
        )
        for each in mill.stock_widths
        if paper_key(each) == paper_key(run)
    }  # fmt: skip


def _min_diameter_mm(mill: Mill, width: StockWidth) -> float:
    """Stated, or the mill's tolerance below the largest that the winder makes of it."""
    if width.min_diameter_mm is not None:
        return width.min_diameter_mm
    largest_mm = min(width.max_diameter_mm, mill.winder.max_reel_diameter_mm)
    if mill.diameter_tolerance_percent is not None:
        return largest_mm - largest_mm * mill.diameter_tolerance_percent / 100
    return largest_mm - mill.diameter_tolerance_mm


def _max_reels(mill: Mill, width: StockWidth) -> int:
    """How many of the heaviest reels that it may have its most allows."""
    core, grade = mill.winder.core(width.core_mm), mill.grade(width.grade)
    largest_mm = min(width.max_diameter_mm, mill.winder.max_reel_diameter_mm) + JUDGED_MM
    if core is None or grade is None or largest_mm <= core.outside_mm:
        return 0
    metres = reel_length_m(largest_mm, core.outside_mm, grade.wound_caliper_um(width.grammage_gsm))
    heaviest_kg = float(width.width_mm) * metres * width.grammage_gsm / 1_000_000
    return math.floor(float(width.max_kg) / heaviest_kg)


def check_stock_widths(case: CheckContext) -> None:
    """No set is made for stock alone, and of no stock width more than the mill allows."""
    for block in case.run.blocks:
        orders = [case.orders.get(p.order) for p in block.positions if p.kind != "broke"]
        if orders and all(each is not None and each.stock_share is not None for each in orders):
            case.notes.add(f"block {block.number}", "made for", "stock alone", "no order in it")
    for line in case.run.orders:
        order = case.orders.get(line.number)
        if order is not None:
            where = f"order {line.number}"
            case.notes.same(where, "share of value", line.stock_share, order.stock_share)
            widths = {width.name: width for width in case.mill.stock_widths}
            if order.stock_share is not None and line.number in widths:
                most_kg = widths[line.number].max_kg
                case.notes.at_most(where, "made", Fraction(line.planned_kg), most_kg, "kg")
