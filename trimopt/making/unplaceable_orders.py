"""Orders that no pattern can hold: taken out of the run, each with the limit that stops it.

An order may have widths and lengths that the winder takes, and still lie in no set that it takes.
What is left beside it is too wide for edge trim and too narrow for a broke reel, the set has no
station for the broke reels or is too heavy with them, or it may not lie at the edge and nothing
lies on both its sides. Which limit it is follows from lifting one at a time; the nearest value that
would let it in is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from trimopt.book.makeable import stops
from trimopt.book.model import Order, Product
from trimopt.book.reel_lengths import ways
from trimopt.budget import Budget
from trimopt.cutting import blocked, held_demands
from trimopt.cutting.model.instance import Instance, WindingClass
from trimopt.making.cut_options import OptionBuilder
from trimopt.making.model import PreparedRun, Run
from trimopt.making.prepare_run import prepare
from trimopt.mill.model import Mill
from trimopt.paper import mass_kg

_Length = tuple[float | None, int]


def prepare_placeable(
    run: Run,
    mill: Mill,
    *,
    usable_m: tuple[int, ...],
    also: Iterable[_Length] = (),
    budget: Budget | None = None,
) -> PreparedRun:
    """Make a run ready, without the orders that no pattern can hold.

    Set lengths are chosen anew for the orders that stay, so this goes on until every one of them
    lies in some pattern.

    Parameters
    ----------
    run, mill, usable_m, also
        As for `trimopt.making.prepare_run`.
    budget
        Of the search for values that would pass; the limit is named without. None: no limit.

    Returns
    -------
    PreparedRun
        Orders that cannot be made stand in `stopped`.
    """
    also = tuple(also)
    budget = Budget() if budget is None else budget
    stopped: tuple[tuple[Order, str], ...] = ()
    while True:
        making, also = _with_short_sets(run, mill, usable_m, also)
        stopped += making.stopped
        places = blocked(making.instance)
        if not places:
            return replace(making, stopped=stopped)
        orders = making.run.orders
        if all(orders[i].stock_share is not None for i in places):
            run = replace(run, orders=tuple(o for i, o in enumerate(orders) if i not in places))
            continue
        wide = prepare(
            making.run, mill, usable_m=usable_m, also=_shortest(making.run, mill, usable_m)
        )
        places = tuple(i for i in places if orders[i].stock_share is None)
        reasons = why_blocked(wide, mill, [orders[i].number for i in places], budget)
        stopped += tuple((orders[i], why) for i, why in zip(places, reasons, strict=True))
        run = replace(run, orders=tuple(o for i, o in enumerate(orders) if i not in places))


def _with_short_sets(
    run: Run, mill: Mill, usable_m: tuple[int, ...], also: tuple[_Length, ...]
) -> tuple[PreparedRun, tuple[_Length, ...]]:
    """The run made ready; planned over shorter sets too where some order lies in those alone."""
    making = prepare(run, mill, usable_m=usable_m, also=also)
    places = blocked(making.instance)
    inside = {o.number for i, o in enumerate(making.run.orders) if i not in places}
    if all(o.number in inside or stops(o, mill, usable_m=max(usable_m)) for o in run.ordered):
        return making, also
    wide = prepare(run, mill, usable_m=usable_m, also=(*also, *_shortest(run, mill, usable_m)))
    ordered = [(i, o) for i, o in enumerate(wide.run.orders) if o.stock_share is None]
    outside = [i for i, o in ordered if o.number not in inside]
    more: list[_Length] = []
    for c, winding in sorted(enumerate(wide.classes), key=lambda item: -item[1].length_m):
        options = tuple(o for o in wide.instance.options if o.winding_class == c)
        alone = replace(wide.instance, options=options)
        within = held_demands(alone)
        still = [i for i in outside if i not in within]
        if len(still) < len(outside):
            outside = still
            more.append((winding.core_mm, winding.length_m))
    if not more:
        return making, also
    also = (*also, *more)
    return prepare(run, mill, usable_m=usable_m, also=also), also


def _shortest(run: Run, mill: Mill, usable_m: tuple[int, ...]) -> tuple[_Length, ...]:
    """The shortest length of every reel that may be wound.

    Some set of such a length holds an order, or none does: a set made shorter, as far as its reels
    allow, holds the same and weighs less.
    """
    mixed = mill.winder.kind == "single-drum"
    found = [way for order in run.ordered for way in ways(order, mill, usable_m=max(usable_m))]
    return tuple(
        dict.fromkeys((None if mixed else way.core.inside_mm, way.span.min_m) for way in found)
    )


_STATIONS_ENOUGH = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Limit:
    """A limit that may be lifted: to each of `values`, from the nearest to the one that frees."""

    words: str
    values: Sequence[int]
    lifted: Callable[[Instance, int], Instance]
    cure: Callable[[int], str]
    of_one_order: bool = False


def why_blocked(
    making: PreparedRun, mill: Mill, numbers: Sequence[str], budget: Budget
) -> tuple[str, ...]:
    """The limit whose lifting lets each order lie in a set, with what would pass.

    Parameters
    ----------
    making
        Planned over sets as short as the orders allow, too.
    numbers
        Of orders that lie in none of its patterns.
    budget
        Once it is over the limit alone is named.
    """
    within: dict[object, frozenset[int]] = {}
    places = {order.number: i for i, order in enumerate(making.run.orders)}
    return tuple(_why(making, mill, places[number], within, budget) for number in numbers)


def _why(
    making: PreparedRun,
    mill: Mill,
    place: int,
    within: dict[object, frozenset[int]],
    budget: Budget,
) -> str:
    """The reason for one order; `within` remembers what lies in a set by limits and values."""
    limits = [limit for limit in _limits(making, mill, place) if limit.values]

    def passes(lifted: Sequence[_Limit], value: int | None = None) -> bool:
        mine = place if any(limit.of_one_order for limit in lifted) else None
        key = (tuple(limit.words for limit in lifted), value, mine)
        if key not in within:
            instance = making.instance
            for limit in lifted:
                instance = limit.lifted(instance, limit.values[-1] if value is None else value)
            within[key] = held_demands(instance)
        return place in within[key]

    cures = []
    named = next(([limit] for limit in limits if passes([limit])), limits)
    if len(named) == 1 and not budget.over():
        cures.append(named[0].cure(_nearest(named[0], lambda v: passes(named, v))))
    elif len(named) > 1:
        for limit in limits:
            rest = [other for other in named if other is not limit]
            named = rest if passes(rest) else named
    if making.run.orders[place].product is Product.REEL and not budget.over():
        width_mm = _nearest_alone_mm(making, mill, place)
        cures.append("" if width_mm is None else f"a width of {float(width_mm):.10g} mm by itself")
    said = " or ".join(cure for cure in cures if cure)
    return (
        f"no pattern can hold it: {' and '.join(limit.words for limit in named)}"
        f"{f'; {said} would pass' if said else ''}"
    )


def _nearest(limit: _Limit, passes: Callable[[int], bool]) -> int:
    """The first of the values that passes; those after it do too."""
    low, high = 0, len(limit.values) - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if passes(limit.values[middle]) else (middle + 1, high)
    return limit.values[high]


def _limits(making: PreparedRun, mill: Mill, place: int) -> tuple[_Limit, ...]:
    winder, unit_mm = mill.winder, making.width_unit_mm
    one = making.instance.classes[0]
    stations = one.max_pieces
    mass = math.floor(winder.max_set_mass_kg or 0)
    longest_m = max(winding.length_m for winding in making.classes)
    heaviest = math.ceil(mass_kg(mill.deckle_mm, longest_m, making.run.grammage_gsm))
    return (
        _Limit(
            words=f"every set with it is heavier than the winder's max. set mass {mass} kg",
            values=range(mass + 1, heaviest + 1) if mass else (),
            lifted=lambda instance, kg: _of_mass(instance, making, mill, kg),
            cure=lambda kg: f"a set mass of {kg} kg",
        ),
        _Limit(
            words="it may not lie at an edge, and no set has a reel, or a broke reel that the edge "
            "strips call for, on both sides of it",
            values=(0,) if making.run.orders[place].no_edge else (),
            lifted=lambda instance, _: _at_the_edge(instance, place),
            cure=lambda _: "",
            of_one_order=True,
        ),
        _Limit(
            words="what the set leaves beside it is too wide for edge trim "
            f"({float(winder.max_edge_trim_mm or 0):g} mm a side) and too narrow for a broke "
            f"reel ({float(winder.narrowest_broke_mm):g} mm)",
            values=range(one.min_broke - 1, -1, -1),
            lifted=lambda instance, units: _each_class(instance, min_broke=units),
            cure=lambda units: _broke_cure(math.floor(units * unit_mm), mill),
        ),
        _Limit(
            words="with the broke reels beside it it needs more than "
            f"{stations} {'strip' if stations == 1 else 'strips'} in a set",
            values=range(stations + 1, _STATIONS_ENOUGH + 1),
            lifted=lambda instance, strips: _each_class(instance, max_pieces=strips),
            cure=lambda strips: f"{strips} strips in a set",
        ),
    )


def _broke_cure(width_mm: int, mill: Mill) -> str:
    """Narrower than two knives can stand is no cure."""
    if width_mm < mill.winder.min_knife_spacing_mm:
        return ""
    return f"a broke reel of {width_mm} mm (min_broke_width_mm)"


def _of_mass(instance: Instance, making: PreparedRun, mill: Mill, mass_kg: int) -> Instance:
    heavier = replace(mill, winders=(replace(mill.winder, max_set_mass_kg=float(mass_kg)),))
    builder = OptionBuilder(
        mill=heavier,
        run=making.run,
        unit_mm=making.unit_mm,
        width_unit_mm=making.width_unit_mm,
    )
    return replace(instance, classes=builder.limits_of(making.classes))


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


def _nearest_alone_mm(making: PreparedRun, mill: Mill, place: int) -> Fraction | None:
    """The nearest width, in whole millimetres, of which a set can hold nothing else."""
    order = making.run.orders[place]
    options = [option for option in making.options if option.order is order]
    width_mm = order.width_mm
    unit_mm = making.width_unit_mm
    min_mm, max_mm = mill.winder.min_reel_width_mm, mill.winder.max_reel_width_mm
    for away in range(1, math.ceil(max_mm - min_mm) + 1):
        for other in (width_mm - away, width_mm + away):
            units = other / unit_mm
            if units.denominator != 1 or not min_mm <= other <= max_mm:
                continue
            wider = replace(order, width_mm=other)
            for option in options:
                limits = making.instance.classes[option.winding_class]
                length_m = making.classes[option.winding_class].length_m
                if _alone(limits, int(units), no_edge=order.no_edge) and any(
                    way.span.holds(length_m) for way in ways(wider, mill, usable_m=length_m)
                ):
                    return other
    return None


@lru_cache(maxsize=1 << 16)
def _alone(limits: WindingClass, width: int, *, no_edge: bool) -> bool:
    """Whether pieces of that width alone make a set."""
    for count in range(1, min(limits.max_pieces, limits.width // width) + 1):
        broke = limits.broke_reels(count * width)
        if broke is None or count + broke > limits.max_pieces:
            continue
        if broke >= 2 or not no_edge:
            return True
    return False
