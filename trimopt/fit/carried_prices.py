"""The prices of a planned run carried to the run with an enquiry in it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import floor

from trimopt.book.model import Order
from trimopt.cutting import Certificate
from trimopt.fit.planned_run import Basis, carried_over, places_of, with_order
from trimopt.making import PreparedRun


def carried_prices(
    basis: Basis, after: PreparedRun
) -> tuple[list[Fraction], list[Fraction]] | None:
    """Gain and worth prices of the orders of `after`; 0 for an order that the basis lacks.

    A finer unit of width changes what a unit of loss, and of a yield in area, is; the prices are
    brought to it. None where an order of the basis is missing.
    """
    before = basis.making
    place = {order.number: k for k, order in enumerate(after.run.orders)}
    if any(order.number not in place for order in before.run.orders):
        return None
    finer = before.unit_mm / after.unit_mm
    classes, option = places_of(after)
    gains = [Fraction(0)] * len(place)
    worths = [Fraction(0)] * len(place)
    scale = basis.prices.scale
    ratio: dict[str, Fraction] = {}
    for old in before.options:
        winding = before.classes[old.winding_class]
        c = classes.get((winding.core_mm, winding.length_m), -1)
        new = option.get((old.order.number, c, old.width_mm))
        if new is not None and old.gain:
            ratio[old.order.number] = Fraction(after.options[new].gain, old.gain)
    for k, order in enumerate(before.run.orders):
        if order.number not in ratio:
            return None
        at = place[order.number]
        gains[at] = Fraction(basis.prices.gain_price[k], scale) * finer / ratio[order.number]
        worths[at] = Fraction(basis.prices.worth_price[k], scale)
    return gains, worths


def widened(basis: Basis, order: Order) -> Basis | None:
    """The basis with the set lengths that an order brings of its own; the order itself worth 0.

    For an order that no set length of the plan serves. None where it cannot be done.
    """
    making = basis.making
    after = with_order(basis, order, grid_mm=making.width_unit_mm)
    carried = carried_prices(basis, after)
    if carried is None:
        return None
    scale = basis.prices.scale
    gains, worths = carried
    prices = Certificate(
        scale=scale,
        gain_price=tuple(floor(price * scale) for price in gains),
        worth_price=tuple(floor(price * scale) for price in worths),
    )
    cuts = carried_over(basis.cuts, making, after)
    return replace(basis, making=after, cuts=cuts, prices=prices)
