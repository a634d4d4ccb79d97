"""Orders that no pattern can hold: taken out of the run, each with the limit that stops it.

An order may have widths and lengths that the winder takes, and still lie in no set that it takes:
what is left beside it is too wide for edge trim and too narrow for a broke reel, the set has no
station for the broke reels, or it may not lie at the edge and nothing can lie on both its sides.
Which limit it is follows from lifting one at a time.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction

from trimopt.book.model import Product
from trimopt.cutting import blocked
from trimopt.cutting.instance import Instance, WindingClass
from trimopt.making.model import Making, Run
from trimopt.making.prepare import prepare
from trimopt.mill.model import Mill

__all__ = ["prepare_held"]

_STATIONS_ENOUGH = 1_000


def prepare_held(
    run: Run,
    mill: Mill,
    *,
    usable_m: tuple[int, ...],
    also: Iterable[tuple[float | None, int]] = (),
) -> Making:
    """Make a run ready, without the orders that no pattern can hold.

    Set lengths are chosen anew for the orders that stay, so this goes on until every one of them
    lies in some pattern.

    Parameters
    ----------
    run, mill, usable_m, also
        As for `trimopt.making.prepare`.

    Returns
    -------
    Making
        Orders that cannot be made stand in `stopped`.
    """
    also = tuple(also)
    making = prepare(run, mill, usable_m=usable_m, also=also)
    stopped = making.stopped
    while places := blocked(making.instance):
        orders = making.run.orders
        stopped += tuple((orders[i], _why(making, mill, i)) for i in places)
        kept = tuple(order for i, order in enumerate(orders) if i not in places)
        making = prepare(replace(run, orders=kept), mill, usable_m=usable_m, also=also)
        stopped += making.stopped
    return replace(making, stopped=stopped)


def _why(making: Making, mill: Mill, place: int) -> str:
    """The limit whose lifting lets the order lie in a set, and the nearest width that does."""
    winder = mill.winder
    spacing = float(winder.knife_spacing_least_mm)
    edge = winder.edge_trim_greatest_mm
    stations = making.instance.classes[0].most_pieces
    strips = "1 strip" if stations == 1 else f"{stations} strips"
    beside = (
        f"what the set leaves beside it is too wide for edge trim ({float(edge or 0):g} mm a side) "
        f"and too narrow for a broke reel ({spacing:g} mm)"
    )
    limits: tuple[tuple[str, Callable[[Instance], Instance]], ...] = (
        (
            "it may not lie at an edge, and no set has something on both sides of it",
            lambda instance: _at_the_edge(instance, place),
        ),
        (beside, lambda instance: _each_class(instance, broke_least=0)),
        (
            f"with the broke reels beside it it needs more than {strips} in a set",
            lambda instance: _each_class(instance, most_pieces=_STATIONS_ENOUGH),
        ),
    )
    lifted = making.instance
    named = []
    for words, lift in limits:
        if place not in blocked(lift(making.instance)):
            return _said(words, making, mill, place)
        lifted = lift(lifted)
        named.append(words)
        if place not in blocked(lifted):
            break
    return _said(" and ".join(named), making, mill, place)


def _said(words: str, making: Making, mill: Mill, place: int) -> str:
    order = making.run.orders[place]
    width_mm = _nearest_alone_mm(making, mill, place) if order.product is Product.REEL else None
    cure = "" if width_mm is None else f"; {float(width_mm):g} mm would pass by itself"
    return f"no pattern can hold it: {words}{cure}"


def _at_the_edge(instance: Instance, place: int) -> Instance:
    return replace(
        instance,
        options=tuple(
            replace(option, no_edge=option.no_edge and option.demand != place)
            for option in instance.options
        ),
    )


def _each_class(instance: Instance, **changes: int) -> Instance:
    return replace(
        instance,
        classes=tuple(replace(limits, **changes) for limits in instance.classes),
    )


def _nearest_alone_mm(making: Making, mill: Mill, place: int) -> Fraction | None:
    """The nearest width, in whole millimetres, of which a set can hold nothing else."""
    options = [option for option in making.instance.options if option.demand == place]
    width_mm = making.run.orders[place].width_mm
    unit_mm = making.width_unit_mm
    least_mm, greatest_mm = mill.winder.reel_width_least_mm, mill.winder.reel_width_greatest_mm
    for away in range(1, math.ceil(greatest_mm - least_mm) + 1):
        for other in (width_mm - away, width_mm + away):
            units = other / unit_mm
            if units.denominator != 1 or not least_mm <= other <= greatest_mm:
                continue
            for option in options:
                limits = making.instance.classes[option.winding_class]
                if _alone(limits, int(units), no_edge=option.no_edge):
                    return other
    return None


def _alone(limits: WindingClass, width: int, *, no_edge: bool) -> bool:
    """Whether pieces of that width alone make a set."""
    for count in range(1, min(limits.most_pieces, limits.width // width) + 1):
        broke = limits.broke_reels(count * width)
        if broke is None or count + broke > limits.most_pieces:
            continue
        if broke >= 2 or not no_edge:
            return True
    return False
