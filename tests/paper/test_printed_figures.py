"""Figures as a mill writes them, and what is read from them again."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from trimopt.paper import INCH_MM, Measured, UnitSystem, Written, basis_weight_unit
from trimopt.paper.printed_figures import INCHES

INCH = Written(system=UnitSystem.INCH_POUND)


def _inches(text: str) -> Fraction:
    """A text of inches, read by Python's own fractions."""
    return sum((Fraction(part) for part in text.replace(",", "").split()), Fraction(0))


@given(st.integers(1, 300 * 128), st.sampled_from(sorted(INCHES)))
def test_no_part_of_an_inch_is_lost(parts: int, inches: str) -> None:
    """Every width that a book in inches may state is written exactly, however the mill writes."""
    written = Written(system=UnitSystem.INCH_POUND, inches=inches)
    width_mm = Fraction(parts, 128) * INCH_MM
    assert _inches(written.figure(Measured.WIDTH, width_mm)) * INCH_MM == width_mm


@given(st.integers(1, 10**6), st.sampled_from(sorted(INCHES)))
def test_a_metric_width_in_inches_is_read_again(hundredths: int, inches: str) -> None:
    """A width in hundredths of a millimetre is the nearest one to its text in inches."""
    written = Written(system=UnitSystem.INCH_POUND, inches=inches)
    read_mm = _inches(written.figure(Measured.WIDTH, Fraction(hundredths, 100))) * INCH_MM
    assert round(read_mm * 100) == hundredths


@given(st.integers(1, 500_000))
def test_whole_metres_in_feet_are_read_again(length_m: int) -> None:
    """A set's whole metres are the nearest ones to its whole feet."""
    feet = int(INCH.figure(Measured.LENGTH, length_m).replace(",", ""))
    assert round(feet * Fraction(3048, 10_000)) == length_m


@pytest.mark.parametrize(
    ("what", "kept", "text"),
    [
        (Measured.WIDTH, Fraction("1389.0625"), "54 11/16 in"),
        (Measured.WIDTH, INCH_MM / 2, "1/2 in"),
        (Measured.DIAMETER, 56 * float(INCH_MM), "56 in"),
        (Measured.DIAMETER, 1421.9, "56 in"),
        (Measured.TONNAGE, 12_000 * 0.90718474, "12 short tons"),
        (Measured.SPEED, 1402.08, "4,600 ft/min"),
        (Measured.CALIPER, 254.0, "10 pt"),
    ],
)
def test_inches_and_pounds(what: Measured, kept: Fraction | float, text: str) -> None:
    """Each kind of figure in the unit of a mill that works in inches and pounds."""
    assert INCH.text(what, kept) == text


def test_a_diameter_is_not_rounded_up_over_its_inches() -> None:
    """Diameter of 56 in, 1,422.4 mm, is no 1,423 mm; metric stands beside where it is asked for."""
    both = Written(system=UnitSystem.INCH_POUND, metric_beside=True)
    assert both.text(Measured.DIAMETER, 56 * INCH_MM) == "56 in (1,422 mm)"
    assert Written().text(Measured.DIAMETER, 56 * INCH_MM) == "1,422 mm"


@pytest.mark.parametrize("unit", ["lb/1000 ft²", "lb 24×36/500", "lb text"])
@given(st.integers(10, 400))
def test_a_basis_weight_keeps_its_pounds(unit: str, pounds: int) -> None:
    """What was written in pounds is shown in the same pounds, though a float was kept."""
    basis = basis_weight_unit(unit)
    assert basis is not None
    grammage_gsm = float(pounds * basis.factor)
    assert INCH.grammage(grammage_gsm, basis) == f"{pounds} {unit}"
    assert INCH.grammage(grammage_gsm).endswith("g/m²")
