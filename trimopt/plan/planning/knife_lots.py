"""From cuts to lots: what the winder is asked to lay out, with its urgency."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction

from trimopt.book.model import Order
from trimopt.cutting import Cut, Pattern
from trimopt.making import Making
from trimopt.winding.model import Lot, Strip

__all__ = ["lots_of", "merged"]


def merged(cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """The cuts with those of one pattern put together, where the first of them stands."""
    sets: Counter[Pattern] = Counter()
    for cut in cuts:
        sets[cut.pattern] += cut.sets
    return tuple(Cut(pattern, count) for pattern, count in sets.items())


def lots_of(making: Making, cuts: Sequence[Cut], held: Collection[Pattern] = ()) -> tuple[Lot, ...]:
    """A lot for each cut, numbered by its place; sets of `held` patterns keep their length.

    Lots of the same reels have the same broke reels beside them, so that no knife moves between
    them: the web of all is that which the heaviest set allows.
    """
    lots = [
        replace(_lot(making, number, cut), held=cut.pattern in held)
        for number, cut in enumerate(cuts)
    ]
    webs_mm: dict[tuple[Fraction, ...], Fraction] = {}
    for lot in lots:
        if lot.max_web_mm is not None:
            web_mm = webs_mm.setdefault(_widths(lot), lot.max_web_mm)
            webs_mm[_widths(lot)] = min(web_mm, lot.max_web_mm)
    return tuple(replace(lot, max_web_mm=webs_mm.get(_widths(lot))) for lot in lots)


def _widths(lot: Lot) -> tuple[Fraction, ...]:
    return tuple(sorted(strip.width_mm for strip in lot.strips))


def _lot(making: Making, number: int, cut: Cut) -> Lot:
    winding = making.classes[cut.pattern.winding_class]
    limits = making.instance.classes[cut.pattern.winding_class]
    strips: list[Strip] = []
    orders: dict[str, Order] = {}
    used = 0
    for k, count in cut.pattern.pieces:
        option = making.options[k]
        orders[option.order.number] = option.order
        strips += [
            Strip(key=str(k), width_mm=option.width_mm, no_edge=option.order.no_edge)
        ] * count
        used += making.instance.options[k].width * count
    return Lot(
        number=number,
        strips=tuple(strips),
        sets=cut.sets,
        length_m=winding.length_m,
        core_mm=winding.core_mm,
        broke_reels=limits.broke_reels(used) or 0,
        due=min((o.due for o in orders.values() if o.due is not None), default=None),
        priority=min((o.priority for o in orders.values() if o.priority is not None), default=None),
        orders=frozenset(orders),
        setting=limits.setting,
        max_web_mm=winding.max_web_mm,
    )
