"""Orders that no pattern can hold: taken out of the run, each with the limit that stops it.

An order may have widths and lengths that the winder takes, and still lie in no set that it takes
(`trimopt.making.blocking_limits` says which limit it is).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from trimopt.book.makeable import stops
from trimopt.book.model import Order
from trimopt.book.reel_lengths import ways
from trimopt.budget import Budget
from trimopt.cutting import blocked, held_demands
from trimopt.making.blocking_limits import why_blocked
from trimopt.making.model import PreparedRun, Run
from trimopt.making.prepare_run import prepare
from trimopt.mill.model import Mill

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
