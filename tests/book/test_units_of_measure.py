"""Units in headings and cells, and their exact factors."""

from __future__ import annotations

from fractions import Fraction

import pytest

from trimopt.book.model import Product, Unit
from trimopt.book.units_of_measure import Dimension, measure_of, quantity_unit_of
from trimopt.paper.typed import CellFaultError


@pytest.mark.parametrize(
    ("dimension", "unit", "factor"),
    [
        (Dimension.WIDTH, "", Fraction(1)),
        (Dimension.WIDTH, "mm", Fraction(1)),
        (Dimension.WIDTH, "CM", Fraction(10)),
        (Dimension.WIDTH, "in.", Fraction(127, 5)),
        (Dimension.WIDTH, "\u2033", Fraction(127, 5)),
        (Dimension.WIDTH, "ft", Fraction(1524, 5)),
        (Dimension.LENGTH, "km", Fraction(1000)),
        (Dimension.LENGTH, "feet", Fraction(381, 1250)),
        (Dimension.MASS, "lb", Fraction(45359237, 10**8)),
        (Dimension.MASS, "t", Fraction(1000)),
        (Dimension.GRAMMAGE, "g/m²", Fraction(1)),
        (Dimension.GRAMMAGE, "gsm", Fraction(1)),
        (Dimension.SHARE, "%", Fraction(1, 100)),
    ],
)
def test_factors_are_exact(dimension: Dimension, unit: str, factor: Fraction) -> None:
    """Every unit goes to metric by its definition."""
    measure = measure_of(dimension, unit)
    assert measure is not None
    assert measure.factor == factor


@pytest.mark.parametrize(
    ("unit", "pounds", "gsm"),
    [
        ("lb 17x22, 500 sheets", 20, 75.2),
        ("lb 25 x 38 in, 500", 50, 74.0),
        ("lbs 24×36/500", 40, 65.1),
        ("lb/1000 ft²", 42, 205.1),
        ("lb/msf", 42, 205.1),
        ("lb/3000 ft2", 100, 162.75),
    ],
)
def test_basis_weights(unit: str, pounds: int, gsm: float) -> None:
    """Pounds for a stated ream or area come to the grammage that their definition gives."""
    measure = measure_of(Dimension.GRAMMAGE, unit)
    assert measure is not None
    assert float(pounds * measure.factor) == pytest.approx(gsm, abs=0.05)


@pytest.mark.parametrize("unit", ["lb", "lb 25x38", "lb 0x38, 500 sheets", "lb/0 ft²"])
def test_a_ream_left_open_is_refused(unit: str) -> None:
    """A basis weight without size and count could be several grammages."""
    with pytest.raises(CellFaultError):
        measure_of(Dimension.GRAMMAGE, unit)


def test_an_unknown_unit_is_none() -> None:
    """A unit of no dimension here is left to the caller to refuse."""
    assert measure_of(Dimension.WIDTH, "furlong") is None
    assert measure_of(Dimension.WIDTH, "kg") is None
    assert measure_of(Dimension.GRAMMAGE, "mm") is None
    assert quantity_unit_of("pallets") is None


@pytest.mark.parametrize(
    ("text", "unit", "factor", "count"),
    [
        ("Reels", Unit.REELS, 1, None),
        ("rolls", Unit.REELS, 1, None),
        ("kg", Unit.KG, 1, None),
        ("t", Unit.KG, 1000, None),
        ("tonnes", Unit.KG, 1000, None),
        ("m", Unit.METRES, 1, None),
        ("km", Unit.METRES, 1000, None),
        ("ft", Unit.METRES, Fraction(381, 1250), None),
        ("sheets", Unit.SHEETS, 1, None),
        ("reams", Unit.SHEETS, 1, None),
        ("reams of 250", Unit.SHEETS, 250, 250),
        ("Reams (480)", Unit.SHEETS, 480, 480),
    ],
)
def test_quantity_units(text: str, unit: Unit, factor: int | Fraction, count: int | None) -> None:
    """Every unit of an ordered quantity, with its factor and its count."""
    found = quantity_unit_of(text)
    assert found is not None
    assert (found.unit, found.factor, found.sheets_a_ream) == (unit, factor, count)


@pytest.mark.parametrize(
    ("text", "product", "in_inches", "shown"),
    [
        ("ea", Product.REEL, None, "reels"),
        ("rm", Product.REEL, None, "m"),
        ("RM", Product.SHEET, None, "reams"),
        ("ST", Product.REEL, True, "short tons"),
        ("t", Product.REEL, True, "t"),
        ("T", Product.REEL, False, "T"),
        ("M shts", Product.SHEET, True, "M sheets"),
    ],
)
def test_words_that_their_line_makes_clear(
    text: str, product: Product, in_inches: bool | None, shown: str
) -> None:
    """Product and width of a line say what a word of the trade means there."""
    unit = quantity_unit_of(text, product, in_inches=in_inches)
    assert unit is not None
    assert unit.shown == shown


@pytest.mark.parametrize(
    ("text", "product", "in_inches", "wrong"),
    [
        ("ea", Product.SHEET, None, "what is counted"),
        ("ea", None, None, "what is counted"),
        ("rm", None, None, "running metres or reams"),
        ("ST", Product.REEL, False, "short tons or pieces"),
        ("St.", Product.REEL, None, "short tons or pieces"),
        ("T", Product.REEL, True, "2000 lb or 1000 kg"),
        ("M", Product.REEL, True, "metres or a thousand"),
    ],
)
def test_words_that_stay_open_are_asked_about(
    text: str, product: Product | None, in_inches: bool | None, wrong: str
) -> None:
    """What its line does not make clear is refused with what it may mean."""
    with pytest.raises(CellFaultError, match=wrong):
        quantity_unit_of(text, product, in_inches=in_inches)


def test_a_ton_is_refused() -> None:
    """A ton is of three sizes; a ream of no sheets is none."""
    with pytest.raises(CellFaultError, match="2000 lb"):
        quantity_unit_of("tons")
    with pytest.raises(CellFaultError, match="no sheets"):
        quantity_unit_of("reams of 0")
