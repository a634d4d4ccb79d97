"""Answers that need no order book: can it be made at all, and how it fills a set by itself."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Order
from trimopt.making import ways
from trimopt.mill.model import Mill
from trimopt.paper import reel_diameter_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Alone:
    """A set of nothing but the enquiry's reels, on one core and at the longest length allowed.

    `trim_mm` is deckle less the reels; `trim_share` of the deckle.
    """

    core_mm: float
    length_m: int
    diameter_mm: float
    reel_mm: Fraction
    ups: int | None
    sheeter: str
    across: int
    trim_mm: Fraction
    trim_share: float


def alone(order: Order, mill: Mill, *, usable_m: int) -> tuple[Alone, ...]:
    """How the order fills sets by itself, one row a way of winding it, fullest first.

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
    stations = min(mill.winder.max_reels, mill.winder.knives - 1)
    rows = []
    for way in ways(order, mill, usable_m=usable_m):
        across = min(int(mill.deckle_mm // way.width_mm), stations)
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
                trim_mm=trim_mm,
                trim_share=float(trim_mm / mill.deckle_mm),
            )
        )
    return tuple(sorted(rows, key=lambda row: (row.trim_share, row.reel_mm)))
