"""The prices of a planned run carried to the run with an enquiry in it.

Weak duality: prices that no pattern of the new run overruns give a bound on its least loss,
whatever they came from. The prices of the old run with one for the enquiry, from the least loss
that one more piece of it brings, are such prices wherever its set lengths were listed before; where
it brings set lengths of its own, `trimopt.cutting.bound.certificate` draws them in until they are.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import floor, isfinite

from trimopt.book.model import Order
from trimopt.cutting import SCALE, Certificate
from trimopt.cutting.bound import certificate, price_bound
from trimopt.cutting.marginal import marginal_loss
from trimopt.cutting.reductions import class_offers
from trimopt.fit.basis import Basis, carried_over
from trimopt.making import Making, prepare

__all__ = ["carried_prices", "enquiry_bound", "widened"]


def carried_prices(basis: Basis, after: Making) -> tuple[list[Fraction], list[Fraction]] | None:
    """Gain and worth prices of the orders of `after`; 0 for an order that the basis lacks.

    A finer unit of width changes what a unit of loss, and of a yield in area, is; the prices are
    brought to it. None where an order of the basis is missing.
    """
    before = basis.making
    place = {order.number: k for k, order in enumerate(after.run.orders)}
    if any(order.number not in place for order in before.run.orders):
        return None
    finer = before.unit_mm / after.unit_mm
    classes = {(c.core_mm, c.length_m): k for k, c in enumerate(after.classes)}
    option = {(o.order.number, o.winding_class, o.width_mm): o for o in after.options}
    gains = [Fraction(0)] * len(place)
    worths = [Fraction(0)] * len(place)
    scale = basis.prices.scale
    ratio: dict[str, Fraction] = {}
    for old in before.options:
        winding = before.classes[old.winding_class]
        c = classes.get((winding.core_mm, winding.length_m), -1)
        new = option.get((old.order.number, c, old.width_mm))
        if new is not None and old.gain:
            ratio[old.order.number] = Fraction(new.gain, old.gain)
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
    listed = [(c.core_mm, c.length_m) for c in making.classes]
    own = prepare(replace(making.run, orders=(order,)), basis.mill)
    wanted = [(c.core_mm, c.length_m) for c in own.classes]
    after = prepare(
        replace(making.run, orders=(*making.run.orders, order)),
        basis.mill,
        lengths=dict.fromkeys([*listed, *wanted]),
        grid_mm=making.width_unit_mm,
    )
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


def enquiry_bound(basis: Basis, after: Making, number: str) -> int | None:
    """A proven bound on the loss of the run with the enquiry in it, from the old prices.

    Parameters
    ----------
    basis
        The run before.
    after
        The run with the enquiry.
    number
        The enquiry's number among its orders.

    Returns
    -------
    int or None
        In units of loss; None where the prices cannot be carried.
    """
    carried = carried_prices(basis, after)
    if carried is None:
        return None
    gains, worths = carried
    place = next((k for k, o in enumerate(after.run.orders) if o.number == number), None)
    if place is None:
        return None
    scale = basis.prices.scale
    prices = Certificate(
        scale=scale,
        gain_price=tuple(floor(price * scale) for price in gains),
        worth_price=tuple(floor(price * scale) for price in worths),
    )
    instance = after.instance
    pays: list[tuple[float, int, int]] = []  # what a piece may be worth, its yield, its worth
    for c in range(len(instance.classes)):
        own = [k for k in instance.options_of(c) if instance.options[k].demand == place]
        if not own:
            continue
        least = marginal_loss(instance, prices, c)
        for k in own:
            option = instance.options[k]
            value = float(least[option.width - 1]) if option.width <= len(least) else float("inf")
            if isfinite(value) and option.gain:
                pays.append((value, option.gain, option.worth))
    if not pays:
        return None
    demand = instance.demands[place]
    offers = class_offers(instance)
    best: int | None = None
    # The paper delivered is no loss: a worth price near SCALE lets long and short reels weigh
    # alike, and 0 leaves all to the count. Whichever proves most is taken; each is proven.
    for worth_price in {
        0,
        SCALE,
        max(0, SCALE - demand.over_price),
        SCALE + demand.under_price,
    }:
        gain_price = min((value - worth_price * worth) / gain for value, gain, worth in pays)
        asked_gains = [float(price) for price in gains]
        asked_worths = [float(price) for price in worths]
        asked_gains[place], asked_worths[place] = gain_price, float(worth_price)
        safe = certificate(instance, offers, asked_gains, asked_worths)
        if safe is not None:
            bound = price_bound(instance, safe[0])
            best = bound if best is None else max(best, bound)
    return best
