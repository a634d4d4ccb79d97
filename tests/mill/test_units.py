"""A mill file in inches and pounds is the mill of the same file in metric units."""

from __future__ import annotations

from dataclasses import fields, replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from tests.mill.sample import mill_text, read_text
from trimopt.mill.mill_keys import SECTIONS, Key
from trimopt.mill.mill_section import read_section
from trimopt.mill.model import Mill
from trimopt.paper import INCH_MM, UnitSystem
from trimopt.paper.measures import Measure

KEYS = [
    (table.name, key, unit)
    for table in SECTIONS
    for key in table.keys
    if key.units is not None and key.choices == ()
    for unit in dict.fromkeys(key.units[0].named.values())
]


def _read(key: Key, value: object) -> Fraction | None:
    (table,) = [table for table in SECTIONS if key in table.keys]
    section, _ = read_section(table, table.title, {key.name: value})
    figures = section.figures(key.name)
    return figures[0] if figures else section.figure(key.name)


@pytest.mark.parametrize(("table", "key", "unit"), KEYS)
def test_a_key_takes_every_unit_of_its_table(table: str, key: Key, unit: Measure) -> None:
    """A figure in any unit is the figure in the unit of the key, to the last fraction."""
    assert key.units is not None
    assert key.max is not None
    own = key.units[1].factor
    compared = 0
    for eighths in (1, 4, 8, 80, 8 * 56, 8 * 205, 8 * 4600):
        figure = Fraction(eighths, 8)
        kept = figure * unit.factor / own
        in_feet = unit.shown == "ft" and own == 1 and key.kind.name == "WHOLE"
        if in_feet:
            kept = Fraction(-int(-kept // 1)) if key.rounds_up else Fraction(int(kept))
        text = f"{float(figure):g} {unit.shown}"
        value: object = [text] if key.kind.name == "LENGTHS" else text
        read = _read(key, value)
        if read is not None:  # out of the key's range
            assert read == kept, (table, text)
            compared += 1
    assert compared


def _as_metric(mill: Mill) -> Mill:
    """A mill without what says where and how it was written."""
    return replace(mill, source="", fingerprint="")


@given(st.integers(120 * 16, 240 * 16), st.integers(20 * 16, 56 * 16), st.integers(2000, 6000))
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_mill_file_in_inches_is_the_same_mill(
    tmp_path: Path, web: int, diameter: int, feet: int
) -> None:
    """Width, diameter, mass and speed in inches, pounds and feet give the metric mill exactly."""
    whole, rest = divmod(web, 16)
    inch = {
        "winder.max_web_mm": f'"{whole} {rest}/16 in"' if rest else f'"{whole} in"',
        "winder.max_reel_diameter_mm": f'"{diameter}/16 in"',
        "winder.max_reel_mass_kg": f'"{feet} lb"',
        "winder.speed_m_min": f'"{feet} ft/min"',
        "jumbo.width_mm": f'"{whole + 2} {rest}/16 in"' if rest else f'"{whole + 2} in"',
    }
    inch_mm = Fraction(INCH_MM)

    def decimal(figure: Fraction) -> str:
        return f"{float(figure):.9f}"

    metric = {
        "winder.max_web_mm": decimal(Fraction(web, 16) * inch_mm),
        "winder.max_reel_diameter_mm": decimal(Fraction(diameter, 16) * inch_mm),
        "winder.max_reel_mass_kg": decimal(feet * Fraction("0.45359237")),
        "winder.speed_m_min": decimal(feet * Fraction("0.3048")),
        "jumbo.width_mm": decimal((Fraction(web, 16) + 2) * inch_mm),
    }
    unlike = {"winder.min_reel_diameter_mm": "300", "winder.max_edge_trim_mm": None}
    same = [read_text(tmp_path, mill_text({**unlike, **each})) for each in (inch, metric)]
    assert _as_metric(same[0]) == _as_metric(same[1])


def test_the_units_of_outputs(tmp_path: Path) -> None:
    """Unsaid, plans are written as the book is; a mill may state one system for all."""
    plain = read_text(tmp_path, mill_text())
    assert plain.units.written(UnitSystem.INCH_POUND).system is UnitSystem.INCH_POUND
    more = '[units]\nshown = "inch-pound"\ninches = "decimals"\nmetric_beside = true'
    written = read_text(tmp_path, mill_text(more=more)).units.written(UnitSystem.METRIC)
    assert (written.system, written.inches) == (UnitSystem.INCH_POUND, "decimals")
    assert written.metric_beside
    assert {each.name for each in fields(plain.units)} == {"shown", "inches", "metric_beside"}


def test_a_grade_says_what_its_pounds_are_for(tmp_path: Path) -> None:
    """The basis weight of a grade is a unit with its exact factor."""
    (grade, *_) = read_text(tmp_path, mill_text({"grade.basis_weight": '"lb/MSF"'})).grades
    assert grade.basis_weight is not None
    assert round(float(42 * grade.basis_weight.factor), 3) == 205.062
