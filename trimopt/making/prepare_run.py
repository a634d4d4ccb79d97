"""From orders to runs, and from a run to an instance for the engine."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.book.makeable import stops
from trimopt.book.model import Book, Order, Unit, paper_weight
from trimopt.book.reel_lengths import Way, ways
from trimopt.cutting.model.instance import SCALE, Demand, Instance, Option
from trimopt.making.cut_options import OptionBuilder
from trimopt.making.model import CutOption, PreparedRun, Run, SalesNote
from trimopt.making.required_ranges import (
    Required,
    kg_of_area,
    nearest_counts,
    ordered_area,
    prices_of,
    quantity_of_gain,
    required,
)
from trimopt.making.set_lengths import candidate_lengths, small_order_lengths
from trimopt.making.stock_reels import with_stock
from trimopt.making.stock_widths import BEYOND_MOST, stock_orders
from trimopt.mill.model import Mill
from trimopt.paper import common_step

#: Steps across the deckle in the engine's tables before a coarser grid is taken.
_MAX_STEPS = 50_000


def runs_of(book: Book, mill: Mill) -> tuple[Run, ...]:
    """Orders of one grade and grammage make a run; runs come in the book's order.

    Reels of the stock sheet that meet an order stand in it (`Order.stock`). The mill's stock widths
    of the paper follow its orders.
    """
    together: dict[tuple[str, float], list[Order]] = defaultdict(list)
    for order in with_stock(book.orders, book.stock, mill.sheeters) if book.stock else book.orders:
        grade = mill.grade(order.grade)
        name = order.grade if grade is None else grade.name
        together[name, order.grammage_gsm].append(order)
    written = mill.units.written(book.unit_system)
    return tuple(
        Run(
            name=f"{grade} {paper_weight(gsm, orders, mill.grade(grade), written)}",
            grade=grade,
            grammage_gsm=gsm,
            orders=(*orders, *stock_orders(mill, grade, gsm)),
            written=written,
            listed_jumbos=book.jumbo_names,
        )
        for (grade, gsm), orders in together.items()
    )


def prepare(
    run: Run,
    mill: Mill,
    *,
    usable_m: tuple[int, ...] = (),
    lengths: Iterable[tuple[float | None, int]] | None = None,
    also: Iterable[tuple[float | None, int]] = (),
    grid_mm: Fraction | None = None,
) -> PreparedRun:
    """Make a run ready for the engine.

    Parameters
    ----------
    usable_m
        Usable lengths of the jumbos that there are; default: the nominal jumbo's.
    lengths
        (core, set length) pairs to plan over instead of the candidates of
        `trimopt.making.set_lengths`.
    also
        Pairs to plan over beside them: somebody asked for sets of that length.
    grid_mm
        A step that the engine's width unit must divide too.

    Returns
    -------
    PreparedRun
        Orders that cannot be made stand in `stopped`, not in the run that it holds; stock widths
        that no set length allows stand nowhere.
    """
    usable = usable_m or (mill.jumbo.usable_m,)
    ways_of, stopped = _ways_of(run, mill, max(usable))
    widths = [way.width_mm for _, found in ways_of for way in found]
    unit_mm = common_step([Fraction(1), mill.jumbo.width_mm, *run.odd_widths_mm, *widths])
    width_unit_mm = _width_unit_mm(widths if grid_mm is None else [*widths, grid_mm], mill)
    if lengths is None:
        ordered = [(order, found) for order, found in ways_of if order.stock_share is None]
        wanted = [required(order, unit_mm) for order, _ in ordered]
        lengths = _lengths(ordered, wanted, mill, usable)
    built = OptionBuilder(mill=mill, run=run, unit_mm=unit_mm, width_unit_mm=width_unit_mm)
    classes, options = built.classes_and_options(dict.fromkeys((*lengths, *also)), ways_of)
    served = {option.order.number for option in options}
    stopped += [
        (order, "none of the set lengths planned over is in its range")
        for order, _ in ways_of
        if order.number not in served
    ]
    stopped = [(order, why) for order, why in stopped if order.stock_share is None]
    orders = tuple(order for order, _ in ways_of if order.number in served)
    needs = tuple(required(order, unit_mm) for order in orders)
    demands = tuple(
        _demand(order, need, [o for o in options if o.order is order], mill, unit_mm)
        for order, need in zip(orders, needs, strict=True)
    )
    return PreparedRun(
        run=replace(run, orders=orders),
        wound_caliper_um=_caliper_um(run, mill),
        unit_mm=unit_mm,
        width_unit_mm=width_unit_mm,
        classes=classes,
        options=options,
        instance=Instance(
            demands=demands,
            classes=built.limits_of(classes),
            options=_options_in_units(orders, options, width_unit_mm),
        ),
        needs_sales=_needs_sales(orders, needs, options, unit_mm),
        stopped=tuple(stopped),
    )


def _options_in_units(
    orders: Sequence[Order], options: Sequence[CutOption], width_unit_mm: Fraction
) -> tuple[Option, ...]:
    """The options as the engine knows them, in their order."""
    place = {order.number: k for k, order in enumerate(orders)}
    return tuple(
        Option(
            demand=place[option.order.number],
            winding_class=option.winding_class,
            width=int(option.width_mm / width_unit_mm),
            gain=option.gain,
            worth=option.area,
            no_edge=option.order.no_edge,
        )
        for option in options
    )


def _ways_of(
    run: Run, mill: Mill, usable_m: int
) -> tuple[list[tuple[Order, tuple[Way, ...]]], list[tuple[Order, str]]]:
    """The orders with the ways they may be wound, and those that a limit stops."""
    ways_of: list[tuple[Order, tuple[Way, ...]]] = []
    stopped: list[tuple[Order, str]] = []
    for order in run.orders:
        if found := ways(order, mill, usable_m=usable_m):
            ways_of.append((order, found))
        else:
            stopped.append((order, stops(order, mill, usable_m=usable_m)))
    return ways_of, stopped


def _width_unit_mm(widths_mm: Sequence[Fraction], mill: Mill) -> Fraction:
    """Step of the engine's tables: that of the pieces and of every limit on a pattern.

    Where pieces are in fractions of an inch and limits in millimetres the common step is so fine
    that tables would be needlessly long; then the pieces' own step serves, or a part of it that
    is no more than 1 mm: a pattern fits just when it fits on that grid, and so does one broke reel
    beside it (`trimopt.making.cut_options`).
    """
    winder = mill.winder
    limits = [mill.deckle_mm, winder.narrowest_broke_mm, winder.max_reel_width_mm]
    if winder.max_edge_trim_mm is not None:
        limits.append(mill.jumbo.width_mm - 2 * winder.max_edge_trim_mm)
    step = common_step([*widths_mm, *(limit for limit in limits if limit > 0)])
    if mill.deckle_mm / step <= _MAX_STEPS:
        return step
    own_mm = common_step(widths_mm)
    return own_mm / math.ceil(own_mm)


def _caliper_um(run: Run, mill: Mill) -> float:
    grade = mill.grade(run.grade)
    if grade is None:
        message = f"the mill file has no grade {run.grade}"
        raise ValueError(message)
    return grade.wound_caliper_um(run.grammage_gsm)


def _lengths(
    ways_of: Sequence[tuple[Order, tuple[Way, ...]]],
    wanted: Sequence[Required],
    mill: Mill,
    usable_m: tuple[int, ...],
) -> list[tuple[float | None, int]]:
    small: list[tuple[float, int]] = []
    for (order, found), need in zip(ways_of, wanted, strict=True):
        if order.unit is not Unit.REELS and need.low > 0:
            widest = max(float(way.width_mm) * way.span.longest_m for way in found)
            area = ordered_area(order, need, mill, Fraction(1))
            if area <= 3 * widest:
                small += small_order_lengths(order, found, need)
    chosen = candidate_lengths(ways_of, usable_m=usable_m, extra=small)
    if mill.winder.kind == "single-drum":
        mixed = {length for lengths in chosen.values() for length in lengths}
        return [(None, length) for length in sorted(mixed, reverse=True)]
    return [(core, length) for core, lengths in chosen.items() for length in lengths]


def _demand(
    order: Order, need: Required, options: Sequence[CutOption], mill: Mill, unit_mm: Fraction
) -> Demand:
    under, over = prices_of(order, mill)
    worth = math.ceil(max(Fraction(option.area, option.gain) for option in options))
    return Demand(
        low=need.low,
        high=need.high,
        ordered=ordered_area(order, need, mill, unit_mm),
        under_price=round(under * SCALE),
        over_price=math.ceil(over * SCALE),
        surplus_worth=worth if order.stock_share is None else BEYOND_MOST * worth,
    )


def _needs_sales(
    orders: Sequence[Order],
    wanted: Sequence[Required],
    options: Sequence[CutOption],
    unit_mm: Fraction,
) -> tuple[SalesNote, ...]:
    notes = []
    for order, need in zip(orders, wanted, strict=True):
        gains = {option.gain: option.area for option in options if option.order is order}
        # A range too narrow for one whole unit has no count inside it at all.
        high = need.low - 1 if need.narrow else need.high
        nearest = nearest_counts(tuple(gains), need.low, high)
        if nearest is None:
            continue
        below, above = nearest
        kg_a_gain = max(
            kg_of_area(area, order.grammage_gsm, unit_mm) / gain for gain, area in gains.items()
        )
        notes.append(
            SalesNote(
                order=order.number,
                below=quantity_of_gain(order, below, unit_mm),
                below_kg=below * kg_a_gain,
                above=quantity_of_gain(order, above, unit_mm),
                above_kg=above * kg_a_gain,
            )
        )
    return tuple(notes)
