"""One layout: strips from front to back, edge strips inside their limits, knives between."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction

from trimopt.mill.model import Winder
from trimopt.paper import common_step
from trimopt.winding.knives.integer_lot import Shape
from trimopt.winding.model import Layout, Lot, Strip

__all__ = ["layout_of", "run_unit_mm"]


def run_unit_mm(
    lots: Iterable[Lot], winder: Winder, web_mm: Fraction, knives_mm: Iterable[Fraction] = ()
) -> Fraction:
    """The unit, mm, of which all positions of these lots are whole multiples."""
    lots = tuple(lots)
    values = [web_mm, winder.min_edge_trim_mm, *knives_mm]
    if winder.max_edge_trim_mm is not None:
        values.append(winder.max_edge_trim_mm)
    values += [strip.width_mm for lot in lots for strip in lot.strips]
    if any(lot.broke_reels for lot in lots):
        values += [winder.narrowest_broke_mm, winder.max_reel_width_mm]
    unit = common_step(values)
    return unit if winder.web_shift else unit / 2


def layout_of(
    shape: Shape,
    strips: tuple[Strip, ...],
    *,
    offset: int,
    kinds: tuple[int, ...],
    web_mm: Fraction,
    unit_mm: Fraction,
) -> Layout:
    """The layout in mm; reels of one width go to their places in the order of their keys.

    Parameters
    ----------
    shape, strips
        As `shape_of` gives them.
    offset
        Width of the front edge strip, units.
    kinds
        Positions in `shape.kinds`, front to back.
    """
    waiting: dict[tuple[int, bool, bool], list[Strip]] = defaultdict(list)
    for strip in sorted(strips, key=lambda strip: strip.key, reverse=True):
        waiting[int(strip.width_mm / unit_mm), strip.no_edge, strip.broke].append(strip)
    placed = tuple(waiting[shape.kinds[kind]].pop() for kind in kinds)
    at = offset * unit_mm
    knives = [at]
    for strip in placed:
        at += strip.width_mm
        knives.append(at)
    return Layout(
        strips=placed, edge_front_mm=knives[0], edge_back_mm=web_mm - at, knives_mm=tuple(knives)
    )
