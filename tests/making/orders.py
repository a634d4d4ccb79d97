"""Orders and jumbos of the sample mill's board, short to write."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from trimopt.book.model import JumboInStock, Order, Product, Unit

_REEL = Order(
    number="R",
    customer="Customer",
    grade="Folding board",
    grammage_gsm=250.0,
    product=Product.REEL,
    width_mm=Fraction(800),
    chop_mm=None,
    min_diameter_mm=1200.0,
    max_diameter_mm=1250.0,
    core_mm=152.0,
    quantity=Fraction(10),
    unit=Unit.REELS,
    under=Fraction(0),
    over=Fraction(0),
)


def board_reel(number: str = "R", **rest: object) -> Order:
    """A reel order: ten reels of 800 mm, 1,200 to 1,250 mm on a 152 mm core, unless `rest` says."""
    return replace(_REEL, number=number, **rest)  # type: ignore[arg-type]  # Order's own fields


def board_sheet(number: str = "S", **rest: object) -> Order:
    """A sheet order: 20,000 sheets, 700 across by 1,000 along, ±5 %, unless `rest` says."""
    sheet = replace(
        _REEL,
        number=number,
        product=Product.SHEET,
        width_mm=Fraction(700),
        chop_mm=Fraction(1000),
        min_diameter_mm=None,
        max_diameter_mm=None,
        core_mm=None,
        quantity=Fraction(20_000),
        unit=Unit.SHEETS,
        under=Fraction(5, 100),
        over=Fraction(5, 100),
    )
    return replace(sheet, **rest)  # type: ignore[arg-type]  # Order's own fields


def board_jumbo(name: str, length_m: int, **rest: object) -> JumboInStock:
    """A jumbo in stock, of the board and 3,600 mm, without loss at its ends, unless `rest` says."""
    jumbo = JumboInStock(
        name=name,
        grade="Folding board",
        grammage_gsm=250.0,
        width_mm=Fraction(3600),
        length_m=length_m,
        loss_start_m=0,
        loss_end_m=0,
    )
    return replace(jumbo, **rest)  # type: ignore[arg-type]  # JumboInStock's own fields
