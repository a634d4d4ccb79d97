"""Answers that need no order book: can it be made at all, and how it fills a set by itself."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Order
from trimopt.making import Run, Way, ways
from trimopt.making.cut_options import OptionBuilder
from trimopt.mill.model import Mill
from trimopt.paper import common_step, reel_diameter_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Alone:
    """A set of nothing but the enquiry's reels, on one core and at the longest length allowed.

    As many across as the winder's limits on edge trim, broke reels, stations and mass allow.
    `trim_mm` is deckle less the reels, `broke_reels` of it wound; `trim_share` of the deckle.
    """

    core_mm: float
    length_m: int
    diameter_mm: float
    reel_mm: Fraction
    ups: int | None
    sheeter: str
    across: int
    broke_reels: int
    trim_mm: Fraction
    trim_share: float


def alone(order: Order, mill: Mill, *, usable_m: int) -> tuple[Alone, ...]:
    """How the order fills sets by itself, one row a way of winding it, fullest first.

    A way whose reels may lie beside others only has none.

    Parameters
    ----------
    order
        Of a grade that the mill file has.
    mill
        As the order's run sees it (`Mill.for_paper`).
    usable_m
        The longest set that a jumbo gives, m.
    """
    grade = mill.grade(order.grade)
    assert grade is not None
    caliper_um = grade.wound_caliper_um(order.grammage_gsm)
    rows = []
    for way in ways(order, mill, usable_m=usable_m):
        across, broke_reels = _windable(order, way, mill)
        if not across:
            continue
        trim_mm = mill.deckle_mm - across * way.width_mm
        rows.append(
            Alone(
                core_mm=way.core.inside_mm,
                length_m=way.span.longest_m,
                diameter_mm=reel_diameter_mm(way.span.longest_m, way.core.outside_mm, caliper_um),
                reel_mm=way.width_mm,
                ups=way.ups,
                sheeter="" if way.sheeter is None else way.sheeter.name,
                across=across,
                broke_reels=broke_reels,
                trim_mm=trim_mm,
                trim_share=float(trim_mm / mill.deckle_mm),
            )
        )
    return tuple(sorted(rows, key=lambda row: (row.trim_share, row.reel_mm)))


def _windable(order: Order, way: Way, mill: Mill) -> tuple[int, int]:
    """The most reels that a set of nothing else may hold, and broke reels beside them; or 0, 0."""
    winder = mill.winder
    widths = (way.width_mm, mill.deckle_mm, winder.narrowest_broke_mm, winder.max_reel_width_mm)
    step = common_step([width for width in (*widths, mill.narrowest_web_mm) if width > 0])
    run = Run(name="", grade=order.grade, grammage_gsm=order.grammage_gsm, orders=(order,))
    builder = OptionBuilder(mill=mill, run=run, unit_mm=step, width_unit_mm=step)
    limits = builder.limits(way.span.longest_m)
    width = int(way.width_mm / step)
    for across in range(min(limits.width // width, limits.max_pieces), 0, -1):
        broke_reels = limits.broke_reels(across * width)
        if broke_reels is not None and across + broke_reels <= limits.max_pieces:
            return across, broke_reels
    return 0, 0
