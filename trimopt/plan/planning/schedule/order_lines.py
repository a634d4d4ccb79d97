"""What each order of a run asked and gets, and in which state that leaves it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType

from trimopt.book.model import Order, Product, Unit
from trimopt.making import PreparedRun, SalesNote, required
from trimopt.making.required_ranges import (
    Required,
    ordered_area,
    quantity_of_gain,
    sheet_mass_exact_kg,
)
from trimopt.mill.model import Mill
from trimopt.paper import Measured
from trimopt.plan.model import Block, OrderLine
from trimopt.plan.planning.order_tally import OrderTally, tallies
from trimopt.plan.reel_rows import first_too_many
from trimopt.plan.states import OrderState

#: Fields of a line that are its order's.
_OF_THE_ORDER = (
    "number", "customer", "width_mm", "chop_mm", "due", "destination", "packing", "winding_side",
    "remarks", "sheets_a_ream", "stock", "stock_share", "as_written", "held_until",
)  # fmt: skip
_NONE: Mapping[str, str] = MappingProxyType({})
_KG_SLIP = 0.05  # what rounding to whole area units may take off a mass, kg


def order_lines(
    making: PreparedRun,
    mill: Mill,
    blocks: Sequence[Block],
    *,
    carried_over: bool = False,
    short_before: Collection[str] = (),
    stopped: Mapping[str, str] = _NONE,
) -> tuple[OrderLine, ...]:
    """What each order asked and gets, in the order of the instance's demands.

    An order that gets too little is carried over where the shift has too few hours, unless there
    was too little paper for it before, or what it lacks is `stopped`, by what it names.
    """
    notes = {note.order: note for note in making.needs_sales}
    made = tallies(making, mill, blocks)
    return tuple(
        _order_line(
            making,
            mill,
            order,
            made[order.number],
            note=notes.get(order.number),
            lacks=(OrderState.CARRIED_OVER, "the shift ends first")
            if carried_over and order.number not in {*short_before, *stopped}
            else (OrderState.SHORT, stopped.get(order.number, "the jumbos listed do not last")),
        )
        for order in making.run.orders
    )


def _order_line(
    making: PreparedRun,
    mill: Mill,
    order: Order,
    made: OrderTally,
    *,
    note: SalesNote | None,
    lacks: tuple[OrderState, str],
) -> OrderLine:
    need = required(order, making.unit_mm)
    planned_kg = making.kg(made.area)
    if order.product is Product.SHEET:
        planned_kg = float(made.gain * sheet_mass_exact_kg(order))
    surplus_kg = min(planned_kg, _surplus_kg(making, order, made, need))
    ordered_kg = making.kg(ordered_area(order, need, mill, making.unit_mm))
    planned = quantity_of_gain(order, made.gain, making.unit_mm)
    lacking, lacking_kg = Fraction(0), 0.0
    if made.gain < need.low:
        asked = order.quantity - order.there
        lacking = max(Fraction(0), asked - planned)
        lacking_kg = float(lacking / asked) * ordered_kg
        state, text = lacks[0], _lacking_text(making, order, lacks[1], lacking, lacking_kg)
    elif made.gain > need.high and note is not None:
        state = OrderState.NEEDS_SALES
        text = _sales_text(making, note, order, planned, planned_kg)
    elif made.gain > need.high:
        state, text = OrderState.OVER, _over_text(making, order, made, need, surplus_kg)
    else:
        state, text = _within(making, order, need, planned_kg, ordered_kg)
    return OrderLine(
        product=order.product.value,
        unit=order.unit.value,
        asked=order.quantity,
        made_before=order.made,
        min_quantity=need.min_quantity,
        max_quantity=need.max_quantity,
        planned=planned,
        ordered_kg=ordered_kg,
        planned_kg=planned_kg,
        delivered_kg=0.0 if order.stock_share is not None else planned_kg - surplus_kg,
        surplus_kg=surplus_kg,
        finished=made.finished,
        last_set=made.last_set,
        state=state,
        text=text,
        lacking=lacking,
        lacking_kg=lacking_kg,
        **{name: getattr(order, name) for name in _OF_THE_ORDER},
    )


def _within(
    making: PreparedRun, order: Order, need: Required, planned_kg: float, ordered_kg: float
) -> tuple[OrderState, str]:
    """The state of an order inside its range: reels in number may be below their mass."""
    min_kg = ordered_kg * float(need.min_quantity / need.ordered) if need.ordered else 0.0
    if order.stock_share is not None:
        return OrderState.FOR_STOCK, ""
    if planned_kg >= min_kg - _KG_SLIP:
        return OrderState.MET, ""
    target = f"at the target diameter {_mass(making, min_kg)} or more"
    return OrderState.LIGHT, f"{_mass(making, planned_kg)}; {target}"


def _mass(making: PreparedRun, mass_kg: float) -> str:
    return making.run.written.text(Measured.MASS, mass_kg)


def _amount(making: PreparedRun, order: Order, value: Fraction, places: int) -> str:
    what = {Unit.KG: Measured.MASS, Unit.METRES: Measured.LENGTH}.get(order.unit)
    if what is None:
        unit = order.unit.value.removesuffix("s") if value == 1 else order.unit.value
        return f"{float(round(value, places)):,.10g} {unit}"
    return making.run.written.text(what, value, places)


def _lacking_text(
    making: PreparedRun, order: Order, why: str, lacking: Fraction, lacking_kg: float
) -> str:
    """Say what of an order is still to be made."""
    asked = order.quantity - order.there
    part, whole = (_amount(making, order, each, 1) for each in (lacking, asked))
    _, unit = whole.split(" ", maxsplit=1)
    some = f"{part.removesuffix(f' {unit}').removesuffix(f' {order.unit.value}')} of "
    if part == whole:
        some = "" if asked == 1 else "all "
    said_mass = "" if order.unit is Unit.KG else f" ({_mass(making, lacking_kg)})"
    return f"{some}{whole}{said_mass} still to be made: {why}"


def _over_text(
    making: PreparedRun, order: Order, made: OrderTally, need: Required, surplus_kg: float
) -> str:
    """What is above the upper limit; to stock goes a whole reel too many, not a part of one."""
    above = f"{_mass(making, surplus_kg)} above the upper tolerance"
    given = [
        piece.area * making.kg_per_unit if order.unit is Unit.KG else Fraction(piece.gain)
        for piece in made.reels
    ]
    beyond = made.reels[first_too_many(given, need.max_quantity, order.unit.value) :]
    if not beyond or order.product is Product.SHEET:
        return above
    stock_kg = making.kg(sum(piece.area for piece in beyond))
    reels = "1 reel" if len(beyond) == 1 else f"{len(beyond)} reels"
    if round(stock_kg) == round(surplus_kg):
        return f"{above}: {reels} to stock"
    return f"{above}; {reels} of it, {_mass(making, stock_kg)}, to stock"


def _surplus_kg(making: PreparedRun, order: Order, made: OrderTally, need: Required) -> float:
    """Mass made beyond the upper tolerance: the last reels, sheets, metres or kilograms made."""
    beyond = max(0, made.gain - need.high)
    if not beyond:
        return 0.0
    if order.product is Product.SHEET:
        return float(beyond * sheet_mass_exact_kg(order))
    if order.unit is Unit.REELS:
        return making.kg(sum(piece.area for piece in made.reels[-beyond:]))
    if order.unit is Unit.METRES:
        return making.kg(beyond * order.width_mm / making.unit_mm)
    return float(max(Fraction(0), made.area * making.kg_per_unit - need.max_quantity))


def _sales_text(
    making: PreparedRun, note: SalesNote, order: Order, planned: Fraction, planned_kg: float
) -> str:
    """Say what counts lie nearest; sets wound longer or shorter may give something between."""

    def count(value: Fraction | None, mass_kg: float | None) -> str:
        amount = _amount(making, order, value or Fraction(0), 2)
        return f"{amount} ({_mass(making, mass_kg or 0)})"

    below, above = count(note.below, note.below_kg), count(note.above, note.above_kg)
    given = count(planned, planned_kg)
    is_planned = "the one above" if given == above else given
    return (
        "no whole number of reels lands inside the tolerance: at the nominal set lengths the "
        f"nearest are {below} and {above}; planned is {is_planned} unless the customer takes the "
        "one below"
    )
