"""Candidate set lengths: the winding classes over which a run is planned.

For each core, from the lengths that each order's ways allow:

1. the longest that each range allows;
2. the jumbo's usable length divided by n = 1, 2, 3, … where that falls inside the range: the
   largest such (it leaves no butt);
3. for a small order that no whole number of reels of these lengths meets: lengths at which a whole
   number of reels (of some ups) makes the ordered quantity.

The same length from two orders is one class. A class is dropped only when every order that it
serves has it only as a length of case 2 or 3 and the list would outgrow `_MAX_LENGTHS`; what is
proven is proven over the list, and the plan prints the list.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction

from trimopt.book.model import Order, Product, Unit
from trimopt.book.reel_lengths import Way
from trimopt.making.required_ranges import Required, sheet_mass_exact_kg

_MAX_LENGTHS = 32  # in the list; lengths of case 1 are kept whatever their number


def candidate_lengths(
    ways_of: Iterable[tuple[Order, tuple[Way, ...]]],
    *,
    usable_m: tuple[int, ...],
    extra: Iterable[tuple[float, int]] = (),
) -> dict[float, tuple[int, ...]]:
    """Set lengths for each core (inside diameter, mm), longest first.

    Parameters
    ----------
    usable_m
        Usable lengths of the jumbos that there are, most common first.
    extra
        (core, length) pairs to add (case 3 of the module text).
    """
    kept: dict[float, set[int]] = defaultdict(set)
    optional: dict[float, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for _, ways in ways_of:
        for core_mm, min_m, longest_m in {
            (way.core.inside_mm, way.span.min_m, way.span.longest_m) for way in ways
        }:
            kept[core_mm].add(longest_m)
            for usable in usable_m:
                share = usable // math.ceil(usable / longest_m)
                if share >= min_m:
                    optional[core_mm][share] += 1
    for core_mm, length_m in extra:
        optional[core_mm][length_m] += 1
    ranked = sorted(
        (-served, core_mm, -length_m)
        for core_mm, lengths in optional.items()
        for length_m, served in lengths.items()
        if length_m not in kept[core_mm]
    )
    places = max(0, _MAX_LENGTHS - sum(map(len, kept.values())))
    for _, core_mm, negative in ranked[:places]:
        kept[core_mm].add(-negative)
    return {
        core_mm: tuple(sorted(lengths, reverse=True)) for core_mm, lengths in sorted(kept.items())
    }


def small_order_lengths(
    order: Order, ways: tuple[Way, ...], wanted: Required
) -> tuple[tuple[float, int], ...]:
    """(core, length) pairs at which one to three reels make the ordered quantity."""
    found = []
    for way in ways:
        for reels in (1, 2, 3):
            length = _length_for(order, way, wanted.ordered / reels)
            if length is not None and way.span.holds(length):
                found.append((way.core.inside_mm, length))
                break
    return tuple(dict.fromkeys(found))


def _length_for(order: Order, way: Way, each: Fraction) -> int | None:
    if order.product is Product.SHEET:
        assert order.chop_mm is not None
        assert way.ups is not None
        assert way.sheeter is not None
        sheets = each / sheet_mass_exact_kg(order) if order.unit is Unit.KG else each
        gross = sheets / (way.ups * way.sheeter.kept)
        return math.ceil(math.ceil(gross) * order.chop_mm / 1000)
    if order.unit is Unit.KG:
        return round(each * 1_000_000 / (order.width_mm * Fraction(str(order.grammage_gsm))))
    if order.unit is Unit.METRES:
        return round(each)
    return None
