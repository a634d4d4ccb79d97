"""The joint bound: least loss for a run with both dimensions, width and length together.

Proven by the engine's certificate over all patterns and every whole length in range. Butts are
never negative, so it bounds the loss with butts as well. Where a few orders of reels are a part of
their own, a search over their whole sets proves it (`trimopt.winding.jumbos.whole_set_bound`).

A few lengths stand for every length. For one pattern, cost, worth and yield of a set are straight
lines in its length (a reel's count is constant, its mass, metres and worth grow with the length),
and the lengths allowed are an interval whose ends are ends of its orders' ranges. So a set of any
length is a mixture of two sets of the same pattern at the ends, and the linear program over those
lengths bounds every plan. Two things are not straight, and are relaxed: whole sheets (two options,
one no less and one no more than any length between gives), and the greatest set mass, which narrows
long sets (a length may be as wide as the next shorter one).
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace

from trimopt.book.model import Order, Product
from trimopt.budget import Budget
from trimopt.cutting import Demand, Instance, Option, WindingClass, solve
from trimopt.cutting.decomposition import parts_of
from trimopt.making import PreparedRun, Way, piece_of_way, ways
from trimopt.making.cut_options import OptionBuilder
from trimopt.mill.model import Mill
from trimopt.winding.jumbos.whole_set_bound import whole_sets_bound

_FEW = 6  # orders of a part whose whole sets are searched through


def least_loss(
    making: PreparedRun, mill: Mill, usable_m: Sequence[int], *, budget: Budget | None = None
) -> int | None:
    """Bound the loss over every whole length in range, in 1/SCALE of the run's area unit.

    Parts of a few reel orders are searched through (`trimopt.winding.jumbos.whole_set_bound`); the
    others get what prices prove.

    Parameters
    ----------
    usable_m
        Usable lengths of all kinds of jumbo that there are.
    budget
        When to stop; None: never.

    Returns
    -------
    int or None
        None where nothing was proven in time.
    """
    budget = budget or Budget()
    wide, lengths = every_length(making, mill, usable_m)
    of_order = list(range(len(wide.demands)))
    bound = _least(making, wide, of_order, lengths, budget)
    apart, of_order = cores_apart(wide, [core for core, _ in lengths])
    if bound is None or _small_parts(making, apart, of_order) == _small_parts(
        making, wide, range(len(wide.demands))
    ):
        return bound
    return max(bound, _least(making, apart, of_order, lengths, budget) or bound)


def cores_apart(wide: Instance, cores: Sequence[float | None]) -> tuple[Instance, list[int]]:
    """The instance with an order of its own on each core for one that may be on several.

    These may be made of nothing, and have only the upper limit. A plan of the whole is a plan of
    this that loses no more: no part is below its range, the parts of an order are together no
    farther above theirs than the order is, and what is valued beside that is never negative. So
    what bounds this bounds the run, and orders that are few on a core are a part of their own.

    Returns
    -------
    tuple
        The instance, and of each of its demands the place of the order.
    """
    keys = sorted({(option.demand, cores[option.winding_class]) for option in wide.options})
    several = {i for i, many in Counter(i for i, _ in keys).items() if many > 1}
    place = {key: at for at, key in enumerate(keys)}
    demands = [
        replace(wide.demands[i], low=0, ordered=None) if i in several else wide.demands[i]
        for i, _ in keys
    ]
    options = (
        replace(option, demand=place[option.demand, cores[option.winding_class]])
        for option in wide.options
    )
    apart = replace(wide, demands=tuple(demands), options=tuple(options))
    return apart, [i for i, _ in keys]


def _small_parts(making: PreparedRun, wide: Instance, of_order: Sequence[int]) -> int:
    """How many parts there are whose whole sets are searched through."""
    return sum(
        _is_small([making.run.orders[of_order[i]] for i in part.demands]) for part in parts_of(wide)
    )


def _is_small(orders: Sequence[Order]) -> bool:
    return len(orders) <= _FEW and all(order.product is Product.REEL for order in orders)


def _least(
    making: PreparedRun,
    wide: Instance,
    of_order: Sequence[int],
    lengths: Sequence[tuple[float | None, int]],
    budget: Budget,
) -> int | None:
    """What is proven of all parts together; `of_order` has the order of each demand."""
    total = 0
    for part in parts_of(wide):
        # As wide a gap as may be: the linear program proves, and no plan is sought.
        outcome = solve(part.instance, budget=budget, gap=1.0)
        if outcome.certificate is None:
            return None
        found = None
        if _is_small([making.run.orders[of_order[i]] for i in part.demands]):
            # Surplus takes back what it does among the lengths listed.
            own = (
                replace(
                    wide.demands[i],
                    surplus_worth=making.instance.demands[of_order[i]].surplus_worth,
                )
                for i in part.demands
            )
            found = whole_sets_bound(
                replace(part.instance, demands=tuple(own)),
                [lengths[c][1] for c in part.classes],
                outcome,
                budget,
            )
        total += outcome.price_bound if found is None else max(outcome.price_bound, found)
    return total


def every_length(
    making: PreparedRun, mill: Mill, usable_m: Sequence[int]
) -> tuple[Instance, list[tuple[float | None, int]]]:
    """The run over the ends of all ranges of length, which stand for every length between.

    Returns
    -------
    tuple
        The instance, and the core and length of each of its classes. A plan of it is no plan of the
        run; its linear program bounds every plan of the run.
    """
    mixed = any(winding.core_mm is None for winding in making.classes)
    builder = OptionBuilder(
        mill=mill, run=making.run, unit_mm=making.unit_mm, width_unit_mm=making.width_unit_mm
    )
    found = [ways(order, mill, usable_m=max(usable_m)) for order in making.run.orders]
    ends: dict[float | None, set[int]] = defaultdict(set)
    for its_ways in found:
        for way in its_ways:
            core = None if mixed else way.core.inside_mm
            ends[core] |= {way.span.min_m, way.span.max_m}
    classes: list[WindingClass] = []
    lengths: list[tuple[float | None, int]] = []
    options: list[Option] = []
    for core, lengths_of_core in sorted(ends.items(), key=lambda item: item[0] or 0.0):
        before = None
        for length_m in sorted(lengths_of_core):
            # A set between two ends may be wider than the longer one: it has the shorter's width.
            own = builder.limits(length_m)
            width = builder.limits(before or length_m)
            here = [
                option
                for place, its_ways in enumerate(found)
                for way in its_ways
                if (core is None or way.core.inside_mm == core) and way.span.holds(length_m)
                for option in _options(making, way, place, length_m, len(classes))
                if option.width <= width.width
            ]
            before = length_m
            if here:
                classes.append(replace(width, cost=own.cost))
                lengths.append((core, length_m))
                options += dict.fromkeys(here)
    instance = replace(
        making.instance,
        demands=_demands(making.instance, options),
        classes=tuple(classes),
        options=tuple(options),
        barred=(),
    )
    return instance, lengths


def _options(
    making: PreparedRun, way: Way, place: int, length_m: int, winding_class: int
) -> list[Option]:
    order = making.run.orders[place]
    piece = piece_of_way(order, way, length_m=length_m, unit_mm=making.unit_mm)
    gives = [(piece.gain, piece.area)]
    if order.product is Product.SHEET:
        assert order.chop_mm is not None
        assert way.ups is not None
        assert way.sheeter is not None
        # Straight lines above and below: a chop is whole for every up, and what waste leaves is
        # rounded down once more.
        kept = way.ups * way.sheeter.kept
        most = kept * 1000 * length_m / order.chop_mm
        area = order.width_mm * order.chop_mm / 1000 / making.unit_mm
        few = max(1, math.floor(most - kept - 1))
        gives = [(math.ceil(most), math.ceil(most * area)), (few, math.floor(few * area))]
    return [
        Option(
            demand=place,
            winding_class=winding_class,
            width=int(way.width_mm / making.width_unit_mm),
            gain=gain,
            worth=worth,
            no_edge=order.no_edge,
        )
        for gain, worth in gives
        if gain > 0
    ]


def _demands(instance: Instance, options: Sequence[Option]) -> tuple[Demand, ...]:
    """Surplus takes back at least what the best option brings, in this list of options too."""
    worst: dict[int, int] = defaultdict(int)
    for option in options:
        worst[option.demand] = max(worst[option.demand], -(-option.worth // option.gain))
    return tuple(
        replace(demand, surplus_worth=max(demand.surplus_worth, worst[i]))
        for i, demand in enumerate(instance.demands)
    )
