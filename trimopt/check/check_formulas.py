"""The formulae of the check, from the mill file and the order book alone.

Nothing here is shared with what makes the plan. Where the words leave a choice, the choice is
written beside the line that makes it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from trimopt.book.model import Order, Product, StockReel, Unit
from trimopt.mill.model import Core, Mill, Sheeter, Winder
from trimopt.paper import reel_diameter_mm, reel_length_m
from trimopt.plan.model import Block, JumboUse, Position

#: A diameter is judged to the nearest millimetre.
JUDGED_MM = 0.5


def exact(value: float) -> Fraction:
    """The decimal that a person reads, as an exact fraction."""
    return Fraction(str(value))


def kg_of(width_mm: Fraction, length_m: int, grammage_gsm: float) -> Fraction:
    """Mass of a web, kg, exact: width × length × grammage."""
    return width_mm * length_m * exact(grammage_gsm) / 1_000_000


def web_diameter_mm(core: Core, length_m: int, caliper_um: float) -> float:
    """Diameter of a reel, mm; only the core's where there is no web on it."""
    return reel_diameter_mm(max(0, length_m), core.outside_mm, caliper_um)


def same_core(one_mm: float | None, other_mm: float | None) -> bool:
    """Whether two inside diameters are one core (to a twentieth of a millimetre)."""
    if one_mm is None or other_mm is None:
        return one_mm is other_mm
    return abs(one_mm - other_mm) < 0.05


def core_of(block: Block, position: Position) -> float | None:
    """Inside diameter of a strip's core, mm: its own, or its set's."""
    return position.core_mm if position.core_mm is not None else block.core_mm


def deckle_mm(width_mm: Fraction, winder: Winder) -> Fraction:
    """The deckle of a jumbo: its width less the least edge trim, no more than the winder takes."""
    return min(width_mm - 2 * winder.min_edge_trim_mm, winder.max_web_mm)


def cut_out(jumbo: JumboUse, end_m: int) -> list[tuple[int, int]]:
    """Metres with a defect from side to side, from where the usable length begins.

    Parameters
    ----------
    end_m
        End loss of the jumbo, whether or not it is carried forward.
    """
    usable_m = jumbo.length_m - jumbo.loss_start_m - end_m
    found = []
    for each in jumbo.defects:
        if each.from_mm <= 0 and each.to_mm >= jumbo.width_mm:
            start = max(0, each.from_m - jumbo.loss_start_m)
            end = min(usable_m, each.to_m - jumbo.loss_start_m)
            if start < end:
                found.append((start, end))
    return sorted(found)


def minutes_between(start: datetime, finish: datetime) -> float:
    """Minutes from one moment to another; not a number where only one of them has a zone."""
    if (start.tzinfo is None) != (finish.tzinfo is None):
        return math.nan
    return (finish - start).total_seconds() / 60


def later(one: datetime | None, other: datetime) -> datetime:
    """The later of two moments; the other where the first is none or cannot be compared."""
    return one if one is not None and minutes_between(other, one) > 0 else other


def stations(winder: Winder) -> int:
    """Most strips in a set: the stations, what the knives allow, the sides of a single drum."""
    max_strips = min(winder.max_reels, winder.knives - 1)
    if winder.kind == "single-drum" and winder.max_reels_per_side is not None:
        max_strips = min(max_strips, 2 * winder.max_reels_per_side)
    return max_strips


def diameter_limits_mm(
    order: Order, winder: Winder, sheeter: Sheeter | None
) -> tuple[float, float]:
    """Least and greatest diameter that a reel of this order may have, before rounding.

    A sheeter reel has no least but the winder's; a sheet order's own diameters do not exist.
    """
    min_mm, max_mm = winder.min_reel_diameter_mm, winder.max_reel_diameter_mm
    if sheeter is not None:
        return min_mm, min(max_mm, sheeter.max_reel_diameter_mm)
    if order.min_diameter_mm is not None:
        min_mm = max(min_mm, order.min_diameter_mm)
    if order.max_diameter_mm is not None:
        max_mm = min(max_mm, order.max_diameter_mm)
    return min_mm, max_mm


def mass_limit_kg(order: Order | None, winder: Winder) -> float | None:
    """Greatest reel mass, kg: the smaller of the order's and the winder's."""
    limits = (None if order is None else order.max_reel_mass_kg, winder.max_reel_mass_kg)
    return min((limit for limit in limits if limit is not None), default=None)


def sheeter_reel_mm(order: Order, ups: int, sheeter: Sheeter) -> Fraction:
    """Width of the reel for `ups` sheets side by side and the trim on both sides, mm."""
    return ups * order.width_mm + 2 * sheeter.trim_per_side_mm


def sheets_of_reel(order: Order, ups: int, sheeter: Sheeter, length_m: int) -> int:
    """Sheets from one sheeter reel: ups × whole chops, less the waste share, rounded down."""
    if order.chop_mm is None or order.chop_mm <= 0:
        return 0
    chops = 1000 * length_m // order.chop_mm
    return math.floor(ups * chops * (1 - exact(sheeter.waste_share)))


def sheet_kg(order: Order) -> Fraction:
    """Mass of one sheet, kg, exact."""
    return order.width_mm * (order.chop_mm or 0) * exact(order.grammage_gsm) / 1_000_000_000


def from_stock(order: Order, reels: Iterable[StockReel]) -> Fraction:
    """What reels of the stock sheet give to an order, in its unit.

    Of those for an order of sheets, sheets are as the plan says; `stock_check` counts them.
    """
    total = Fraction(0)
    for reel in reels:
        if order.unit is Unit.KG:
            total += given_from_stock_kg(order, reel)
        elif order.product is Product.SHEET:
            total += reel.at_sheeter.sheets if reel.at_sheeter is not None else 0
        else:
            total += reel.length_m if order.unit is Unit.METRES else 1
    return total


def given_from_stock_kg(order: Order, reel: StockReel) -> Fraction:
    """Mass that a reel from stock gives to its order, kg: all of it, or the sheets cut of it."""
    if order.product is not Product.SHEET:
        return kg_of(reel.width_mm, reel.length_m, reel.grammage_gsm)
    sheets = reel.at_sheeter.sheets if reel.at_sheeter is not None else 0
    return sheets * sheet_kg(order)


def tolerated(order: Order) -> tuple[Fraction, Fraction]:
    """Both ends of the tolerance, in the order's unit: of an order in reams on whole ones."""
    low, high = (1 - order.under) * order.quantity, (1 + order.over) * order.quantity
    if not order.in_reams:
        return low, high
    ream = Fraction(order.sheets_a_ream or 1)
    return -(-low // ream) * ream, high // ream * ream


def still_wanted(order: Order) -> Fraction:
    """The ordered quantity, less what was made before and what comes from stock."""
    if order.stock_share is not None:
        return Fraction(0)  # a stock width is ordered by nobody
    return max(Fraction(0), order.quantity - order.made - from_stock(order, order.stock))


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What is still to be made: exact in the order's unit, and in whole units of gain.

    The gain of a reel order by mass is counted in area units of `unit_mm` × 1 m, of a sheet order
    in sheets. `narrow` says that no whole unit lies inside the tolerance; then high = low.
    """

    min_quantity: Fraction
    max_quantity: Fraction
    wanted: Fraction
    low: int
    high: int
    narrow: bool


def need_of(order: Order, unit_mm: Fraction) -> Need:
    """The required range: quantity and tolerance less what is there already, never below 0."""
    there = order.made + from_stock(order, order.stock)
    min_quantity, max_quantity = (max(Fraction(0), end - there) for end in tolerated(order))
    each = Fraction(1)
    if order.unit is Unit.KG:
        each = unit_mm * exact(order.grammage_gsm) / 1_000_000
        each = sheet_kg(order) if order.product is Product.SHEET else each
    low, high = math.ceil(min_quantity / each), math.floor(max_quantity / each)
    return Need(
        min_quantity=min_quantity,
        max_quantity=max_quantity,
        wanted=still_wanted(order),
        low=low,
        high=max(low, high),
        narrow=high < low,
    )


def _target_m(order: Order, mill: Mill) -> int:
    """Metres at the order's greatest diameter, or at the mass limit where that comes first.

    An order with a free core is reckoned on the winder's first core.
    """
    core = mill.winder.cores[0]
    if order.core_mm is not None:
        core = mill.winder.core(order.core_mm) or core
    grade = mill.grade(order.grade)
    _, max_mm = diameter_limits_mm(order, mill.winder, None)
    if grade is None or max_mm <= core.outside_mm:
        return 0
    caliper_um = grade.wound_caliper_um(order.grammage_gsm)
    target_m = math.floor(reel_length_m(max_mm, core.outside_mm, caliper_um))
    limit_kg = mass_limit_kg(order, mill.winder)
    if limit_kg is not None:
        heaviest_m = limit_kg * 1e6 / (float(order.width_mm) * order.grammage_gsm)
        target_m = min(target_m, math.floor(heaviest_m))
    return target_m


def _ordered_mm_m(order: Order, mill: Mill) -> Fraction:
    """The ordered quantity still to be made, as width times length, mm × m."""
    wanted = still_wanted(order)
    if order.product is Product.SHEET:
        sheets = wanted / sheet_kg(order) if order.unit is Unit.KG else wanted
        return sheets * order.width_mm * (order.chop_mm or 0) / 1000
    if order.unit is Unit.KG:
        return wanted * 1_000_000 / exact(order.grammage_gsm)
    if order.unit is Unit.METRES:
        return wanted * order.width_mm
    return wanted * order.width_mm * _target_m(order, mill)


def ordered_kg(order: Order, mill: Mill) -> float:
    """Mass still to be made, kg; reels by number are reckoned at their target diameter."""
    return float(_ordered_mm_m(order, mill) * exact(order.grammage_gsm) / 1_000_000)


def ordered_units(order: Order, mill: Mill, unit_mm: Fraction) -> int:
    """The same in whole area units of `unit_mm` × 1 m, rounded down."""
    return math.floor(_ordered_mm_m(order, mill) / unit_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What one reel gives: towards the order's range, and the paper delivered in area units."""

    gain: int
    worth: int


def piece_gain(
    order: Order,
    *,
    width_mm: Fraction,
    ups: int | None,
    sheeter: Sheeter | None,
    length_m: int,
    unit_mm: Fraction,
) -> Gain:
    """Gain and worth of one reel of that width and length."""
    if order.product is Product.SHEET:
        if sheeter is None or ups is None:
            return Gain(gain=0, worth=0)
        sheets = sheets_of_reel(order, ups, sheeter, length_m)
        area = sheets * order.width_mm * (order.chop_mm or 0) / 1000
        return Gain(gain=sheets, worth=math.floor(area / unit_mm))
    worth = math.floor(width_mm * length_m / unit_mm)
    gain = {Unit.REELS: 1, Unit.METRES: length_m}.get(order.unit, worth)
    return Gain(gain=gain, worth=worth)
