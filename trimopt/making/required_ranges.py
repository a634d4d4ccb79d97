"""From quantity, tolerance and what is already made to a required range in whole units of gain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Order, Product, Unit
from trimopt.book.tonnage import target_length_m
from trimopt.mill.model import Mill


@dataclass(frozen=True, slots=True, kw_only=True)
class Required:
    """What is still to be made. In the order's unit, and low and high in gain.

    `narrow` says that no whole number of gain units lies inside; then high = low.
    """

    min_quantity: Fraction
    max_quantity: Fraction
    ordered: Fraction
    low: int
    high: int
    narrow: bool


def _gsm(order: Order) -> Fraction:
    return Fraction(str(order.grammage_gsm))


def area_of_kg(mass_kg: Fraction, order: Order, unit_mm: Fraction) -> Fraction:
    """Area units (unit_mm x 1 m) that weigh `mass_kg` at the order's grammage."""
    return mass_kg * 1_000_000 / (_gsm(order) * unit_mm)


def kg_of_area(area: int, grammage_gsm: float, unit_mm: Fraction) -> float:
    """Mass of `area` units (unit_mm x 1 m), kg."""
    return float(area * unit_mm * Fraction(str(grammage_gsm)) / 1_000_000)


def sheet_mass_exact_kg(order: Order) -> Fraction:
    assert order.chop_mm is not None
    return order.width_mm * order.chop_mm * _gsm(order) / 1_000_000_000


def quantity_of_gain(order: Order, gain: int, unit_mm: Fraction) -> Fraction:
    """So much gain in the order's own unit."""
    if order.unit is not Unit.KG:
        return Fraction(gain)
    if order.product is Product.SHEET:
        return gain * sheet_mass_exact_kg(order)
    return gain * unit_mm * _gsm(order) / 1_000_000


def tolerated(order: Order) -> tuple[Fraction, Fraction]:
    """Least and most that may be delivered in all, in the order's unit; whole reams of reams."""
    least, most = order.quantity * (1 - order.under), order.quantity * (1 + order.over)
    if order.in_reams and order.sheets_a_ream:
        ream = order.sheets_a_ream
        return ream * Fraction(math.ceil(least / ream)), ream * Fraction(most // ream)
    return least, most


def required(order: Order, unit_mm: Fraction) -> Required:
    """The order's range, less what is made already or in stock, in whole units of gain.

    Gain counts reels, sheets or metres; for reels by mass it counts area units. The range is
    rounded inwards, to whole reams where the order is in reams: this is the one place that rounds
    quantities.
    """
    least, most = tolerated(order)
    min_quantity = max(Fraction(0), least - order.there)
    max_quantity = max(Fraction(0), most - order.there)
    wanted = order.quantity if order.stock_share is None else Fraction(0)
    ordered = max(Fraction(0), wanted - order.there)
    if order.unit is not Unit.KG:
        low, high = math.ceil(min_quantity), math.floor(max_quantity)
    elif order.product is Product.SHEET:
        each = sheet_mass_exact_kg(order)
        low, high = math.ceil(min_quantity / each), math.floor(max_quantity / each)
    else:
        low = math.ceil(area_of_kg(min_quantity, order, unit_mm))
        high = math.floor(area_of_kg(max_quantity, order, unit_mm))
    narrow = high < low
    return Required(
        min_quantity=min_quantity,
        max_quantity=max_quantity,
        ordered=ordered,
        low=low,
        high=max(low, high),
        narrow=narrow,
    )


def prices_of(order: Order, mill: Mill) -> tuple[Fraction, Fraction]:
    """What a kilogram below and above the ordered quantity counts in kg of loss."""
    if order.stock_share is not None:  # nothing is ordered: all of it is above, and worth its share
        return Fraction(0), 1 - order.stock_share
    return mill.values.under, mill.values.over


def ordered_area(order: Order, need: Required, mill: Mill, unit_mm: Fraction) -> int:
    """Ordered paper in area units of `unit_mm` x 1 m, whole, rounded down."""
    if order.product is Product.SHEET:
        assert order.chop_mm is not None
        sheets = need.ordered
        if order.unit is Unit.KG:
            sheets = need.ordered / sheet_mass_exact_kg(order)
        return math.floor(sheets * order.width_mm * order.chop_mm / 1000 / unit_mm)
    if order.unit is Unit.KG:
        return math.floor(area_of_kg(need.ordered, order, unit_mm))
    if order.unit is Unit.METRES:
        return math.floor(need.ordered * order.width_mm / unit_mm)
    return math.floor(need.ordered * order.width_mm / unit_mm * target_length_m(order, mill))


#: Widest range looked through, in steps that all pieces are multiples of. Beyond it the question is
#: left open; open counts as yes, for the engine to answer. The check has the same limit.
_MAX_STEPS = 2_000_000


def nearest_counts(gains: Sequence[int], low: int, high: int) -> tuple[int, int] | None:
    """None where some whole numbers of pieces give a total inside [low, high].

    Otherwise the greatest total below `low` and the least above `high`, over all numbers of pieces
    of every gain together.
    """
    pieces = sorted(set(gains))
    if low <= 0 or high - low + 1 >= pieces[0]:
        return None
    step = math.gcd(*pieces)
    first, last = -(-low // step), high // step
    if last > _MAX_STEPS:
        return None
    sums = _sums([piece // step for piece in pieces], last + pieces[0] // step)
    inside = sums >> first & (1 << max(0, last - first + 1)) - 1
    if inside:
        return None
    below = (sums & (1 << first) - 1).bit_length() - 1
    beyond = sums >> last + 1
    above = last + (beyond & -beyond).bit_length()
    return below * step, above * step


def _sums(pieces: Sequence[int], max_sum: int) -> int:
    """All sums of whole numbers of pieces up to `max_sum`: bit n is set where n is one."""
    mask = (1 << max_sum + 1) - 1
    sums = 1
    for piece in pieces:
        shift = piece
        while shift <= max_sum:  # once, twice, four times the piece: every number of it is a sum
            sums |= sums << shift & mask
            shift *= 2
    return sums
