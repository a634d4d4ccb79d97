"""Figures of a mill file stay exact."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from trimopt.mill.mill_section import exact_number, plain, typed_figure
from trimopt.paper import INCH_MM
from trimopt.paper.measures import LENGTHS, MASSES, SPEEDS, WIDTHS, UnitTable
from trimopt.paper.typed import CellFaultError


@pytest.mark.parametrize(
    ("written", "mm"),
    [
        (1500, Fraction(1500)),
        (Decimal("0.1"), Fraction(1, 10)),
        ("1500", Fraction(1500)),
        ("1500 mm", Fraction(1500)),
        ("0.5MM", Fraction(1, 2)),
        ("-3", Fraction(-3)),
        ("59 1/16 in", Fraction(945, 16) * INCH_MM),
        ("59-1/16 in.", Fraction(945, 16) * INCH_MM),
        ('59 1/16"', Fraction(945, 16) * INCH_MM),
        ("59.0625 inches", Fraction(945, 16) * INCH_MM),
        ("1/2 in", Fraction(1, 2) * INCH_MM),
        (" 1 inch ", INCH_MM),
        ("29½ in", Fraction(59, 2) * INCH_MM),
        ("4 m", Fraction(4000)),
        ("20 ft", 240 * INCH_MM),
    ],
)
def test_widths_as_they_may_be_written(written: object, mm: Fraction) -> None:
    """Numbers, millimetres and inches with decimals or fractions become exact millimetres."""
    assert typed_figure(written, WIDTHS, WIDTHS.assumed) == mm


@pytest.mark.parametrize(
    "written",
    [
        "",
        "wide",
        "1,5",
        "1.500,0",
        "1 500",
        "4 kg",
        "4,000",
        "1/0 in",
        "1e3",
        "in",
        "5 in 3",
        True,
        None,
        [],
    ],
)
def test_what_is_no_width(written: object) -> None:
    """What can be read two ways, or not at all, is not read."""
    assert typed_figure(written, WIDTHS, WIDTHS.assumed) is None


@given(st.decimals(-100_000, 100_000, places=6))
def test_decimals_stay_exact(figure: Decimal) -> None:
    """A decimal of a mill file is the same figure as a fraction."""
    assert exact_number(figure) == Fraction(figure)


@pytest.mark.parametrize(
    "figure", [True, "3", Decimal("inf"), Decimal("nan"), Decimal("1e99999"), 10**20]
)
def test_what_is_no_number(figure: object) -> None:
    """A truth, a text and figures out of all reason are no numbers."""
    assert exact_number(figure) is None


@given(whole=st.integers(0, 20_000), sixteenths=st.integers(0, 15))
def test_figures_in_texts_read_back(whole: int, sixteenths: int) -> None:
    """A width on the sixteenth of an inch is shown so that it reads back as itself."""
    width = (whole + Fraction(sixteenths, 16)) * INCH_MM
    assert Fraction(plain(width)) == width


@pytest.mark.parametrize(
    ("text", "units", "kept"),
    [
        ("4600 ft/min", SPEEDS, Fraction("1402.08")),
        ("50000 ft", LENGTHS, Fraction(15240)),
        ("7700 lb", MASSES, 7700 * Fraction("0.45359237")),
        ("20 short tons", MASSES, 20 * Fraction("907.18474")),
    ],
)
def test_every_kind_of_figure_takes_its_units(text: str, units: UnitTable, kept: Fraction) -> None:
    """Speeds, lengths and masses are read in the units of a mill that works in feet and pounds."""
    assert typed_figure(text, units, units.assumed) == kept


def test_a_ton_alone_is_asked_about() -> None:
    """A ton may be of three sizes, in a mill file as in a book."""
    with pytest.raises(CellFaultError, match="2000 lb"):
        typed_figure("20 tons", MASSES, MASSES.named["t"])
