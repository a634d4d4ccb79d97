"""Random mills whose limits bind, and orders at the edge of what they can make."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Order, Unit
from trimopt.mill.model import Mill

_HALF = Fraction(1, 2)
_SIXTEENTH = Fraction(254, 160)  # of an inch, mm


def tight_mill(draw: Random) -> Mill:
    """A narrow winder of either kind, its limits close together, as the mill file allows them."""
    mill = sample_mill()
    jumbo_mm = draw.randint(1800, 3400) * _HALF
    least = draw.randint(0, 40) * _HALF
    greatest = draw.choice([None, least, least + draw.randint(0, 90) * _HALF])
    inside_mm = jumbo_mm - 2 * least
    web_mm = draw.choice([jumbo_mm, inside_mm, inside_mm - draw.randint(0, 60) * _HALF])
    if greatest is not None:
        narrow = jumbo_mm - 2 * greatest
        web_mm = draw.choice([max(web_mm, narrow), min(inside_mm, narrow + draw.randint(0, 20))])
    narrowest = Fraction(draw.randint(100, 350))
    kind = draw.choice(["two-drum", "two-drum", "single-drum"])
    most = draw.choice([1, 2, 3, 4, 4])
    spacing = Fraction(draw.randint(40, int(narrowest)))
    winder = replace(
        mill.winder,
        kind=kind,
        max_reels_per_side=draw.choice([1, 2]) if kind == "single-drum" else None,
        max_web_mm=web_mm,
        min_edge_trim_mm=least,
        max_edge_trim_mm=greatest,
        min_reel_width_mm=narrowest,
        max_reel_width_mm=draw.choice([jumbo_mm, narrowest + draw.randint(0, 800)]),
        min_knife_spacing_mm=spacing,
        min_broke_width_mm=draw.choice([None, spacing, spacing + draw.randint(0, 100) * _HALF]),
        broke_position=draw.choice(["edge", "edge", "anywhere"]),
        max_reels=most,
        knives=most + draw.choice([1, 1, 3]),
        max_reel_mass_kg=draw.choice([None, 700.0]),
        max_set_mass_kg=draw.choice([None, None, float(draw.randint(400, 1200))]),
        web_shift=draw.random() < 0.7,
    )
    return replace(mill, winders=(winder,), jumbo=replace(mill.jumbo, width_mm=jumbo_mm))


def tight_orders(draw: Random, mill: Mill) -> tuple[Order, ...]:
    """One to five orders of one paper, at times in sixteenths of an inch."""
    orders = tuple(_order(draw, mill, number) for number in range(draw.randint(1, 5)))
    if draw.random() < 0.75:
        return orders
    return tuple(
        replace(order, width_mm=round(order.width_mm / _SIXTEENTH) * _SIXTEENTH) for order in orders
    )


def _order(draw: Random, mill: Mill, number: int) -> Order:
    if draw.random() < 0.2:
        return board_sheet(
            f"S{number}",
            width_mm=Fraction(draw.randint(90, 700)),
            chop_mm=Fraction(draw.randint(380, 1320)),
            no_edge=draw.random() < 0.3,
        )
    widest = int(mill.deckle_mm)
    near = draw.randint(widest - 120, widest + 5)
    any_other = draw.randint(int(mill.winder.min_reel_width_mm) - 3, widest)
    least = draw.choice([None, 600.0, 900.0, 1100.0])
    return board_reel(
        f"R{number}",
        width_mm=draw.choice([near, any_other, any_other]) - draw.choice([0, 0, 1]) * _HALF,
        quantity=Fraction(draw.randint(1, 30)),
        unit=draw.choice([Unit.REELS, Unit.REELS, Unit.METRES]),
        min_diameter_mm=least,
        max_diameter_mm=draw.choice([None, (least or 600.0) + draw.choice([0, 40, 150])]),
        core_mm=draw.choice([*[76.0, 152.0, None] * 4, 100.0]),
        no_edge=draw.random() < 0.2,
        max_reel_mass_kg=draw.choice([*[None] * 4, float(draw.randint(100, 500))]),
    )
