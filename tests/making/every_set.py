"""Which orders some set can hold, counted out: every set length, every choice of reels.

It is written from the mill file's words alone and shares nothing with the package but the data and
the formulae of paper.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations_with_replacement

from trimopt.book.model import Order, Product
from trimopt.mill.model import Core, Mill
from trimopt.paper import reel_diameter_mm


@dataclass(frozen=True)
class _Reel:
    """A reel that may be wound: for whom, how wide, on which core, between which lengths."""

    order: str
    width_mm: Fraction
    core_mm: float
    min_m: int
    max_m: int
    no_edge: bool


def makeable(orders: Sequence[Order], mill: Mill, usable_m: int) -> set[str]:
    """Numbers of the orders of which a reel lies in some set that the winder takes.

    Parameters
    ----------
    mill
        Its jumbo has a length.
    usable_m
        The longest set.

    A set that is made shorter, as far as the longest of its reels' least lengths, holds the same
    reels and weighs less: so only the least length of some reel is looked at.
    """
    reels = [reel for order in orders for reel in _reels(order, mill, usable_m)]
    found: set[str] = set()
    for length_m in sorted({reel.min_m for reel in reels}):
        here = [reel for reel in reels if reel.min_m <= length_m <= reel.max_m]
        gsm = Fraction(str(orders[0].grammage_gsm))
        for core_mm in sorted({reel.core_mm for reel in here}):
            # A single drum winds every reel at a station of its own, on a core of its own.
            mixed = mill.winder.kind == "single-drum"
            found |= _held([r for r in here if mixed or r.core_mm == core_mm], mill, length_m, gsm)
    return found


def _held(reels: list[_Reel], mill: Mill, length_m: int, gsm: Fraction) -> set[str]:
    kinds = sorted({(reel.width_mm, reel.no_edge) for reel in reels})
    found: set[tuple[Fraction, bool]] = set()
    for count in range(1, _stations(mill) + 1):
        for chosen in combinations_with_replacement(kinds, count):
            if _allowed(chosen, mill, length_m, gsm):
                found |= set(chosen)
    return {reel.order for reel in reels if (reel.width_mm, reel.no_edge) in found}


def _stations(mill: Mill) -> int:
    winder = mill.winder
    most = min(winder.max_reels, winder.knives - 1)
    if winder.max_reels_per_side is not None:
        most = min(most, 2 * winder.max_reels_per_side)
    return most


def _allowed(
    chosen: tuple[tuple[Fraction, bool], ...], mill: Mill, length_m: int, gsm: Fraction
) -> bool:
    """Whether these reels make a set, with as few broke reels as the edge strips call for."""
    winder, jumbo_mm = mill.winder, mill.jumbo.width_mm
    reels_mm = sum((width for width, _ in chosen), Fraction(0))
    widest_mm = min(winder.max_web_mm, jumbo_mm - 2 * winder.min_edge_trim_mm)
    if winder.max_set_mass_kg is not None:
        limit = Fraction(str(winder.max_set_mass_kg))
        widest_mm = min(widest_mm, limit * 1_000_000 / (gsm * length_m))
    narrowest_mm = Fraction(0)
    if winder.max_edge_trim_mm is not None:
        narrowest_mm = jumbo_mm - 2 * winder.max_edge_trim_mm
    inside = sum(no_edge for _, no_edge in chosen)
    for broke in range(_stations(mill) - len(chosen) + 1):
        lowest = reels_mm + broke * _min_broke_mm(mill)
        highest = reels_mm + broke * winder.max_reel_width_mm
        if max(lowest, narrowest_mm) <= min(highest, widest_mm):
            return not inside or len(chosen) - inside + broke >= 2
    return False


def _min_broke_mm(mill: Mill) -> Fraction:
    min_mm = mill.winder.min_broke_width_mm
    return mill.winder.min_reel_width_mm if min_mm is None else min_mm


def _reels(order: Order, mill: Mill, usable_m: int) -> Iterator[_Reel]:
    winder = mill.winder
    for width_mm, core, max_mm in _ways(order, mill):
        if not winder.min_reel_width_mm <= width_mm <= winder.max_reel_width_mm:
            continue
        min_mm = winder.min_reel_diameter_mm
        if order.min_diameter_mm is not None and order.product is Product.REEL:
            min_mm = max(min_mm, order.min_diameter_mm)
        lengths = [
            length_m
            for length_m in range(1, usable_m + 1)
            if min_mm - 0.5 <= _diameter(order, mill, core, length_m) <= max_mm + 0.5
            and _light(order, mill, width_mm, length_m)
        ]
        if lengths:
            yield _Reel(
                order.number, width_mm, core.inside_mm, lengths[0], lengths[-1], order.no_edge
            )


def _ways(order: Order, mill: Mill) -> Iterator[tuple[Fraction, Core, float]]:
    """Width, core and greatest diameter."""
    winder = mill.winder
    if order.product is Product.REEL:
        greatest = min(winder.max_reel_diameter_mm, order.max_diameter_mm or float("inf"))
        for core in winder.cores:
            if order.core_mm is None or core.inside_mm == order.core_mm:
                yield order.width_mm, core, greatest
        return
    assert order.chop_mm is not None
    for sheeter in mill.sheeters:
        if not sheeter.min_chop_mm <= order.chop_mm <= sheeter.max_chop_mm:
            continue
        for ups in range(1, sheeter.max_ups + 1):
            width_mm = ups * order.width_mm + 2 * sheeter.trim_per_side_mm
            stands = winder.core(sheeter.core_inside_mm)
            if width_mm <= sheeter.max_web_mm and stands is not None:
                greatest = min(winder.max_reel_diameter_mm, sheeter.max_reel_diameter_mm)
                yield width_mm, stands, greatest


def _diameter(order: Order, mill: Mill, core: Core, length_m: int) -> float:
    grade = mill.grade(order.grade)
    assert grade is not None
    caliper_um = grade.wound_caliper_um(order.grammage_gsm)
    return reel_diameter_mm(length_m, core.outside_mm, caliper_um)


def _light(order: Order, mill: Mill, width_mm: Fraction, length_m: int) -> bool:
    mass_kg = float(width_mm) * length_m * order.grammage_gsm / 1e6
    limits = (order.max_reel_mass_kg, mill.winder.max_reel_mass_kg)
    return all(limit is None or mass_kg <= limit for limit in limits)
