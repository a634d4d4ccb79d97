"""What orders weigh, and whether those of a book are more than the mill can make.

Also the min. diameter of reels where the book states none: the mill's tolerance below the target.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.book.model import Order, Unit, unit_system_of
from trimopt.book.row_reader import BookTable, TableLine
from trimopt.book.written_figures import as_text
from trimopt.errors import Fault
from trimopt.mill import Core, Mill
from trimopt.paper import mass_kg, mass_length_m, reel_diameter_mm, reel_length_m


def target_reel(order: Order, mill: Mill) -> tuple[float, Core, float]:
    """Diameter, mm, core and wound caliper, µm, of a reel at its target, whatever it weighs.

    The max. diameter that the order and the winder allow. A core that is free, or that the winder
    lacks, counts as the first of the mill file.
    """
    winder = mill.winder
    core = None if order.core_mm is None else winder.core(order.core_mm)
    grade = mill.grade(order.grade)
    assert grade is not None  # the order was read against this mill
    diameter_mm = winder.max_reel_diameter_mm
    if order.max_diameter_mm is not None:
        diameter_mm = min(diameter_mm, order.max_diameter_mm)
    return diameter_mm, core or winder.cores[0], grade.wound_caliper_um(order.grammage_gsm)


def target_length_m(order: Order, mill: Mill) -> int:
    """Whole metres on a reel at its target: what an order by reels is weighed at.

    Inside both mass limits; 0 where no paper is on it.
    """
    diameter_mm, core, caliper_um = target_reel(order, mill)
    if diameter_mm <= core.outside_mm:
        return 0
    length_m = math.floor(reel_length_m(diameter_mm, core.outside_mm, caliper_um))
    for limit_kg in (order.max_reel_mass_kg, mill.winder.max_reel_mass_kg):
        if limit_kg is not None:
            heaviest_m = mass_length_m(limit_kg, order.width_mm, order.grammage_gsm)
            length_m = min(length_m, math.floor(heaviest_m))
    return length_m


def ordered_kg(order: Order, mill: Mill) -> float:
    """Mass of the ordered quantity, kg; reels at their target (`target_length_m`).

    0 where sheets have no chop.

    Raises
    ------
    OverflowError
        Where no number holds it.
    """
    if order.unit is Unit.KG:
        return float(order.quantity)
    if order.unit is Unit.METRES:
        return mass_kg(order.width_mm, order.quantity, order.grammage_gsm)
    if order.unit is Unit.SHEETS:
        length_m = (order.chop_mm or Fraction(0)) / 1000 * order.quantity
        return mass_kg(order.width_mm, length_m, order.grammage_gsm)
    one_kg = mass_kg(order.width_mm, target_length_m(order, mill), order.grammage_gsm)
    return one_kg * float(order.quantity)


def within_the_mill(
    table: BookTable, lines: Sequence[TableLine[Order]], mill: Mill
) -> tuple[TableLine[Order], ...]:
    """The lines, the largest without their orders where all are more than the mill can make.

    They are taken from the largest down until the rest is within the mill file's `max_book_t`.
    """
    orders = {line.row: line.item for line in lines if line.item is not None}
    tonnes = {row: _tonnes(order, mill) for row, order in orders.items()}
    total = 0.0
    beyond: dict[int, Fault] = {}
    for row, own in sorted(tonnes.items(), key=lambda item: item[1]):
        total += own
        if total <= mill.max_book_t:
            continue
        wrong = f"{own:,.0f} t"
        if own <= mill.max_book_t:
            wrong += f", and with the smaller lines {total:,.0f} t"
        wrong += f": more than the mill can make of one book ({mill.max_book_t:,.0f} t)"
        right = "a smaller quantity or another unit, or a larger max_book_t in the mill file"
        written = _written(orders[row])
        beyond[row] = table.fault(row, wrong, right, key="quantity", value=written)
    return tuple(
        replace(line, item=None, faults=(*line.faults, beyond[line.row]))
        if line.row in beyond
        else line
        for line in lines
    )


def _written(order: Order) -> str:
    """The quantity as the book has it."""
    whole = order.quantity.denominator == 1
    figure = order.quantity if whole else float(order.quantity)
    return dict(order.as_written).get("quantity", as_text(f"{figure} {order.unit.value}"))


def _tonnes(order: Order, mill: Mill) -> float:
    """What is still to be made of an order, t; endless where no number holds it."""
    to_make = max(order.quantity - order.made, 0 * order.quantity)
    try:
        return ordered_kg(replace(order, quantity=to_make), mill) / 1000
    except OverflowError:
        return math.inf


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
