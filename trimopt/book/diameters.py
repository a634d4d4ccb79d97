"""The min. diameter of reels where the book states none: the mill's tolerance below the target."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from trimopt.book.model import Order, unit_system_of
from trimopt.book.row_reader import BookTable
from trimopt.book.tonnage import target_length_m, target_reel
from trimopt.errors import Fault
from trimopt.mill import Mill
from trimopt.paper import mass_length_m, reel_diameter_mm, reel_length_m

_NAMED = 8


def min_by_custom_mm(order: Order, mill: Mill) -> float | None:
    """Min. diameter of reels whose book states none, mm; None where no paper is on them.

    The mill's tolerance below the max. diameter that order and winder allow; where a mass comes
    first, of the reel or of the lightest set with it, below the diameter of that mass.
    """
    winder = mill.winder
    target_mm, core, caliper_um = target_reel(order, mill)
    if target_mm <= core.outside_mm:
        return None
    heaviest_m = target_length_m(order, mill)
    if winder.max_set_mass_kg is not None:
        wound_mm = max(order.width_mm, mill.narrowest_web_mm)
        set_m = mass_length_m(winder.max_set_mass_kg, wound_mm, order.grammage_gsm)
        heaviest_m = min(heaviest_m, math.floor(set_m))
    if heaviest_m < math.floor(reel_length_m(target_mm, core.outside_mm, caliper_um)):
        target_mm = math.floor(reel_diameter_mm(heaviest_m, core.outside_mm, caliper_um))
    return max(mill.min_of_target_mm(target_mm), winder.min_reel_diameter_mm)


def notes_on_min_diameter(table: BookTable, orders: Sequence[Order], mill: Mill) -> Iterator[Fault]:
    """One warning that names the orders whose min. diameter is the mill's."""
    numbers = [order.number for order in orders if order.diameter_by_custom]
    if not numbers:
        return
    more = len(numbers) - _NAMED
    named = ", ".join(numbers[:_NAMED]) + (f" and {more} more" if more > 0 else "")
    tolerance = mill.diameter_tolerance_text(mill.units.written(unit_system_of(orders)))
    wrong = f"blank for {named}: {tolerance} holds"
    yield table.fault(None, wrong, "a min. diameter, or the word free", key="min_diameter")
