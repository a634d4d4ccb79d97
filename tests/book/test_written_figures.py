"""Figures as people write them are read exactly, or refused."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from trimopt.book.written_figures import (
    NoValue,
    Percent,
    as_text,
    read_figure,
    read_flag,
    read_text,
)
from trimopt.paper.typed import CellFaultError, split_figure_and_unit


@pytest.mark.parametrize(
    ("written", "figure"),
    [
        (735, Fraction(735)),
        (29.5, Fraction(59, 2)),
        (0.1, Fraction(1, 10)),
        (29.499999999999996, Fraction(59, 2)),
        ("735", Fraction(735)),
        (" 735 ", Fraction(735)),
        ("735.5", Fraction(1471, 2)),
        ("735,5", Fraction(1471, 2)),
        ("0,125", Fraction(1, 8)),
        ("1250.500", Fraction(2501, 2)),
        ("1 250", Fraction(1250)),
        ("1\u00a0250,5", Fraction(2501, 2)),
        ("1\u202f250", Fraction(1250)),
        ("1'250", Fraction(1250)),
        ("1.250,5", Fraction(2501, 2)),
        ("1,250.5", Fraction(2501, 2)),
        ("1,250,000", Fraction(1250000)),
        ("1.250.000", Fraction(1250000)),
        (".5", Fraction(1, 2)),
        ("-4", Fraction(-4)),
        ("\u22124", Fraction(-4)),
        ("(4)", Fraction(-4)),
        ("+4", Fraction(4)),
    ],
)
def test_a_figure_is_read_exactly(written: object, figure: Fraction) -> None:
    """Comma, point, groups and signs come to one exact figure."""
    assert read_figure(written) == figure


@pytest.mark.parametrize("written", ["1,250", "1.250", "12,500", "999.999"])
def test_two_readings_are_refused_unless_the_sign_is_stated(written: str) -> None:
    """What may be a thousand or a decimal is a fault that names both readings."""
    with pytest.raises(CellFaultError, match="can be read as") as caught:
        read_figure(written)
    assert written.replace(",", "").replace(".", "") in str(caught.value)
    sign = "," if "," in written else "."
    other = "." if sign == "," else ","
    assert read_figure(written, decimal_sign=sign) < 1000
    assert read_figure(written, decimal_sign=other) >= 1000


@pytest.mark.parametrize(
    ("written", "sign"),
    [("29,5", "."), ("29.5", ","), ("1.25.0", ","), ("1,2,3", "."), ("1.250.00", ",")],
)
def test_the_stated_sign_holds(written: str, sign: str) -> None:
    """A figure that breaks the book's own rule is refused, not read the other way."""
    with pytest.raises(CellFaultError):
        read_figure(written, decimal_sign=sign)


@pytest.mark.parametrize(
    ("written", "figure"),
    [
        ("29 1/2", Fraction(59, 2)),
        ("29-1/2", Fraction(59, 2)),
        ("29½", Fraction(59, 2)),
        ("½", Fraction(1, 2)),
        ("29 11/16", Fraction(475, 16)),
        ("1/2", Fraction(1, 2)),
    ],
)
def test_fractions_of_an_inch(written: str, figure: Fraction) -> None:
    """Fractions are read where the column allows them, and nowhere else."""
    assert read_figure(written, fractions=True) == figure
    with pytest.raises(CellFaultError, match="fraction"):
        read_figure(written)


@pytest.mark.parametrize("written", ["29 1/0", "29 3/2", "29 1/2/3"])
def test_an_improper_fraction_is_refused(written: str) -> None:
    """A fraction that nobody would measure is a fault."""
    with pytest.raises(CellFaultError):
        read_figure(written, fractions=True)


@pytest.mark.parametrize(
    "written",
    [
        "twelve", "12a", "1e3", "nan", "12 34", "1 25", "--5", "1,25.0,5", "12..5", "", "1250,",
        True, datetime.fromisoformat("2026-11-23"), Percent(0.05), NoValue("#REF!"),
        NoValue.of_formula("=A1"),
    ],
)  # fmt: skip
def test_what_is_no_number_is_refused(written: object) -> None:
    """Text, dates, errors and percentages never become a number."""
    with pytest.raises(CellFaultError):
        read_figure(written)


@given(st.integers(0, 10**9), st.integers(0, 9999), st.sampled_from(".,"))
def test_every_spelling_of_a_decimal_reads_the_same(whole: int, part: int, sign: str) -> None:
    """Groups or none, comma or point: with the sign stated, one figure."""
    figure = whole + Fraction(part, 10000)
    plain = f"{whole}{sign}{part:04d}"
    group = "." if sign == "," else ","
    grouped = f"{whole:,}".replace(",", group) + f"{sign}{part:04d}"
    spaced = f"{whole:,}".replace(",", "\u00a0") + f"{sign}{part:04d}"
    for written in (plain, grouped, spaced):
        assert read_figure(written, decimal_sign=sign) == figure
    # Four digits behind the sign leave no second reading, so nothing need be stated.
    assert read_figure(plain) == figure


@given(st.integers(0, 300), st.sampled_from([2, 4, 8, 16, 32, 64]), st.data())
def test_mixed_fractions_are_exact(whole: int, below: int, data: st.DataObject) -> None:
    """Every sixty-fourth of an inch comes through without rounding."""
    above = data.draw(st.integers(1, below - 1))
    assert read_figure(f"{whole} {above}/{below}", fractions=True) == whole + Fraction(above, below)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(written: str) -> None:
    """No text makes the reader fail in another way than by a fault."""
    try:
        figure = read_figure(written, fractions=True)
    except CellFaultError:
        return
    assert isinstance(figure, Fraction)


@pytest.mark.parametrize(
    ("written", "parts"),
    [
        ("735 mm", ("735", "mm")),
        ("29 1/2 in", ("29 1/2", "in")),
        ('29 1/2"', ("29 1/2", '"')),
        ("40 reams of 250", ("40", "reams of 250")),
        ("1 250,5 kg", ("1 250,5", "kg")),
        ("5 %", ("5", "%")),
        ("735", ("735", "")),
        ("twelve", ("twelve", "")),
        (735, (735, "")),
    ],
)
def test_a_unit_behind_a_figure(written: object, parts: tuple[object, str]) -> None:
    """The unit that somebody typed into the cell is told from the figure."""
    assert split_figure_and_unit(written) == parts


def test_flags() -> None:
    """Yes and no in their usual spellings; anything else is a fault."""
    assert all(read_flag(cell) for cell in ("yes", "Y", " Yes ", "x", True, 1, "TRUE"))
    assert not any(read_flag(cell) for cell in ("no", "N", None, "", False, 0, "-"))
    with pytest.raises(CellFaultError, match="neither yes nor no"):
        read_flag("maybe")


def test_text_is_never_a_formula() -> None:
    """A text that begins like a formula is that text."""
    assert read_text("=1+1") == "=1+1"
    assert read_text("@dock") == "@dock"


def test_cells_are_shown_as_the_spreadsheet_shows_them() -> None:
    """What a fault quotes is what the user sees."""
    assert as_text(1250.0) == "1250"
    assert as_text(Percent(0.05)) == "5 %"
    assert as_text(datetime.fromisoformat("2026-11-23")) == "2026-11-23"
    assert as_text(datetime.fromisoformat("2026-11-23 14:30")) == "2026-11-23 14:30"
    assert len(as_text("x" * 500)) == 60
