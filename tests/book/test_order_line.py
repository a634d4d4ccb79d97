"""What a line says is what the order holds, and blanks are never filled in silently."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.book.books import REEL, SHEET, example_mill, one_fault, read_rows
from trimopt.book import Product, Unit
from trimopt.errors import OrderBookError
from trimopt.mill import ToleranceStep

WIDTH = "Width across [mm]"
UNDER, OVER = "Under tolerance [%]", "Over tolerance [%]"


def without(row: Any, *headings: str) -> dict[str, Any]:
    """The row without some columns."""
    return {heading: value for heading, value in row.items() if heading not in headings}


def test_a_reel_and_a_sheet(tmp_path: Path) -> None:
    """Every figure arrives, metric and exact."""
    reel, sheet = read_rows(tmp_path, REEL, SHEET).require_clean().orders
    assert (reel.product, reel.unit, reel.row) == (Product.REEL, Unit.REELS, 2)
    assert (reel.min_diameter_mm, reel.max_diameter_mm, reel.core_mm) == (1150, 1250, 152)
    assert reel.under == reel.over == Fraction(1, 20)
    assert reel.chop_mm is None
    assert (sheet.product, sheet.unit, sheet.row) == (Product.SHEET, Unit.SHEETS, 3)
    assert (int(sheet.width_mm), sheet.chop_mm) == (720, Fraction(1020))
    assert sheet.core_mm is None


@pytest.mark.parametrize(
    ("heading", "right"),
    [
        ("Order", "the order's number"),
        ("Grade", "a grade of the mill file"),
        ("Grammage [g/m²]", "the mass per area"),
        ("Product", "reel or sheet"),
        (WIDTH, "the dimension across the web"),
        ("Quantity", "a quantity above 0"),
        ("Unit", "write reels, t, kg, m, sheets or reams"),
    ],
)
def test_a_blank_that_is_needed(tmp_path: Path, heading: str, right: str) -> None:
    """Each of the needed cells, left blank, is one fault that says what belongs there."""
    fault = one_fault(read_rows(tmp_path, {**REEL, heading: None}))
    assert fault.column == heading
    assert fault.value == ""
    assert fault.right == right


@pytest.mark.parametrize(
    "heading",
    [
        "Grammage [g/m²]", WIDTH, "Min. diameter [mm]", "Max. diameter [mm]", "Core [mm]",
        "Quantity", UNDER, OVER, "Made", "Priority", "Max reel mass", "Joins",
    ],
)  # fmt: skip
def test_text_and_negative_figures(tmp_path: Path, heading: str) -> None:
    """In every column of figures a text and a negative figure are faults, never a zero."""
    for value in ("many", -5):
        fault = one_fault(read_rows(tmp_path, {**REEL, heading: value}))
        assert (fault.column, fault.value) == (heading, str(value))


@pytest.mark.parametrize("heading", ["Grammage [g/m²]", WIDTH, "Core [mm]", "Quantity"])
def test_zero_is_no_blank(tmp_path: Path, heading: str) -> None:
    """A zero does not mean free or nothing: it is a fault."""
    assert one_fault(read_rows(tmp_path, {**REEL, heading: 0})).wrong == "zero"


def test_order_numbers_that_stand_twice(tmp_path: Path) -> None:
    """Nobody can say which is right, so every line of that number is left out."""
    rows = [{**REEL, "Order": name} for name in ("a1", "A1", "a2", " a1 ")]
    book = read_rows(tmp_path, *rows)
    assert [fault.row for fault in book.faults] == [2, 3, 5]
    assert book.faults[0].wrong == 'also used in rows 3 (as "A1"), 5'
    assert [order.number for order in book.orders] == ["a2"]
    assert [each.order for each in book.left_out] == ["a1", "A1", "a1"]


def test_a_quantity_without_a_unit_is_named_where_there_is_no_column_for_units(
    tmp_path: Path,
) -> None:
    """A fault of a column that the book has not is looked for in vain."""
    row = {key: cell for key, cell in REEL.items() if key != "Unit"}
    fault = one_fault(read_rows(tmp_path, row))
    assert (fault.column, fault.value) == ("Quantity", str(REEL["Quantity"]))


def test_a_line_column_makes_the_number(tmp_path: Path) -> None:
    """Two lines of one order are told apart where the book has a column for it."""
    rows = [{**REEL, "Line": line} for line in (1, 2)]
    book = read_rows(tmp_path, *rows).require_clean()
    assert [order.number for order in book.orders] == ["R1/1", "R1/2"]


@pytest.mark.parametrize(
    ("row", "unit", "quantity"),
    [
        ({**REEL, "Quantity": 12.5, "Unit": "t"}, Unit.KG, 12500),
        ({**REEL, "Quantity": 1000, "Unit": "lb"}, Unit.KG, Fraction(45359237, 100000)),
        ({**REEL, "Quantity": 2.5, "Unit": "km"}, Unit.METRES, 2500),
        ({**REEL, "Quantity": 1000, "Unit": "ft"}, Unit.METRES, Fraction(1524, 5)),
        ({**REEL, "Quantity": "12 reels", "Unit": None}, Unit.REELS, 12),
        ({**without(REEL, "Quantity", "Unit"), "Quantity [t]": 3}, Unit.KG, 3000),
        ({**SHEET, "Quantity": "40 reams of 250", "Unit": None}, Unit.SHEETS, 10000),
        ({**SHEET, "Quantity": 40, "Unit": "reams of 250"}, Unit.SHEETS, 10000),
        ({**SHEET, "Quantity": 40, "Unit": "reams", "Sheets per ream": 500}, Unit.SHEETS, 20000),
        ({**SHEET, "Quantity": 2.5, "Unit": "reams of 500"}, Unit.SHEETS, 1250),
    ],
)
def test_units_of_quantity(
    tmp_path: Path, row: dict[str, Any], unit: Unit, quantity: int | Fraction
) -> None:
    """Each unit comes to what trimopt keeps, exactly."""
    (order,) = read_rows(tmp_path, row).require_clean().orders
    assert (order.unit, order.quantity) == (unit, quantity)


@pytest.mark.parametrize(
    ("row", "column", "wrong"),
    [
        ({**REEL, "Unit": "sheets"}, "Unit", "a reel line in sheets"),
        ({**REEL, "Unit": "reams of 500"}, "Unit", "a reel line in reams of 500"),
        ({**SHEET, "Unit": "reels"}, "Unit", "a sheet line in reels"),
        ({**SHEET, "Unit": "m"}, "Unit", "a sheet line in m"),
        ({**REEL, "Unit": "pallets"}, "Unit", "no known unit"),
        ({**REEL, "Unit": "tons"}, "Unit", "a ton may be"),
        ({**REEL, "Quantity": "12 t"}, "Unit", "two units, reels and t"),
        ({**REEL, "Quantity": "12 pieces"}, "Quantity", "text where a number belongs"),
        ({**REEL, "Quantity": 12.5}, "Quantity", "not a whole number of reels"),
        (
            {**SHEET, "Quantity": 0.001, "Unit": "reams of 250"},
            "Quantity",
            "whole number of sheets",
        ),
        ({**SHEET, "Unit": "reams"}, "Sheets per ream", "reams without their count"),
        ({**SHEET, "Unit": "reams of 250", "Sheets per ream": 500}, "Sheets per ream", "says 250"),
        ({**REEL, "Sheets per ream": 500}, "Sheets per ream", "on a reel line"),
        ({**REEL, "Made [t]": 1}, "Made [t]", "in t on a line in reels"),
        ({**REEL, "Made": "1 t"}, "Made", "in t on a line in reels"),
        ({**REEL, "Product": "bobbin"}, "Product", "neither reel nor sheet"),
        ({**REEL, "Priority": 0}, "Priority", "below 1"),
        ({**REEL, "Priority": 1.5}, "Priority", "not a whole number"),
        ({**REEL, "Keep off edge": "maybe"}, "Keep off edge", "neither yes nor no"),
        ({**REEL, WIDTH: "29 in"}, WIDTH, "its unit is in, its heading's mm"),
        ({**REEL, WIDTH: "800 furlongs"}, WIDTH, "text where a number belongs"),
        ({**REEL, WIDTH: 733.3333}, WIDTH, "finer than any knife is set"),
        ({**REEL, WIDTH: 733.333}, WIDTH, "finer than any knife is set"),
    ],
)
def test_quantities_and_flags_that_cannot_be(
    tmp_path: Path, row: dict[str, Any], column: str, wrong: str
) -> None:
    """What does not go together is named where it stands."""
    if "Made [t]" not in row and "Sheets per ream" not in row:
        row = {**row, "Sheets per ream": row.get("Sheets per ream")}
    fault = one_fault(read_rows(tmp_path, row))
    assert fault.column == column
    assert wrong in fault.wrong


def test_reams_of_the_line_are_kept_for_packing(tmp_path: Path) -> None:
    """A count of sheets a ream stays with an order in sheets too."""
    (order,) = read_rows(tmp_path, {**SHEET, "Sheets per ream": 250}).require_clean().orders
    assert order.sheets_a_ream == 250


def test_made(tmp_path: Path) -> None:
    """What is made is in the unit of the line; nothing left to make is a warning."""
    rows = [
        {**SHEET, "Quantity": 40, "Unit": "reams of 250", "Made": 4},
        {**REEL, "Made": 20},
        {**REEL, "Order": "R2", "Made": 0},
    ]
    book = read_rows(tmp_path, *rows).require_clean()
    assert [int(order.made) for order in book.orders] == [1000, 20, 0]
    (warning,) = book.warnings
    assert (warning.row, warning.wrong) == (3, "nothing left to make")
    assert ("made", "4 reams of 250") in book.orders[0].as_written


def test_inches_and_pounds_come_exactly_and_are_shown_again(tmp_path: Path) -> None:
    """A book in inches, pounds and basis weight: exact in metric, kept as written."""
    row = {
        **without(
            REEL, WIDTH, "Grammage [g/m²]", "Min. diameter [mm]", "Max. diameter [mm]",
            "Core [mm]",
        ),
        "Width [in]": "29 1/2",
        "Basis weight [lb 25x38, 500 sheets]": 170,
        "Max. diameter [in]": 49.25,
        "Core [mm]": 76,
        "Quantity": 10000,
        "Unit": "lb",
    }  # fmt: skip
    (order,) = read_rows(tmp_path, row).require_clean().orders
    assert order.width_mm == Fraction(7493, 10)
    assert order.grammage_gsm == pytest.approx(170 * 1.48015, rel=1e-5)
    assert order.max_diameter_mm == pytest.approx(1250.95)
    assert order.quantity == 10000 * Fraction(45359237, 10**8)
    assert dict(order.as_written) == {
        "width": "29 1/2 in",
        "grammage": "170 lb 25×38/500",
        "max_diameter": "49.25 in",
        "quantity": "10000 lb",
    }


def test_a_unit_in_the_cell(tmp_path: Path) -> None:
    """Where the heading states no unit, the cell may."""
    row = {**without(REEL, WIDTH), "Width": '29 1/2"', "Max reel mass": "1 400 lb"}
    (order,) = read_rows(tmp_path, row).require_clean().orders
    assert order.width_mm == Fraction(7493, 10)
    assert dict(order.as_written)["width"] == "29 1/2 in"
    assert order.max_reel_mass_kg == pytest.approx(635.03, abs=0.01)


@pytest.mark.parametrize("heading", ["Width", WIDTH])
@pytest.mark.parametrize("written", ["29 1/16", "182 1/2", "29½"])
def test_a_fraction_is_no_millimetre(tmp_path: Path, heading: str, written: str) -> None:
    """Where no unit says inches, a fraction is asked about: 182 1/2 would pass for narrow."""
    row = {**without(REEL, WIDTH), heading: written}
    fault = one_fault(read_rows(tmp_path, row))
    assert f"{written} in" in fault.right


def test_limits_are_read_in_the_units_of_the_book(tmp_path: Path) -> None:
    """A fault of a book in inches names the mill's limits in inches, the metric ones behind."""
    good = {**without(REEL, WIDTH), "Width [in]": "29 1/2"}
    wide = {**good, "Order": "R2", "Width [in]": "190"}
    right = one_fault(read_rows(tmp_path, good, wide)).right
    assert " in (" in right
    assert right.endswith("mm) would pass")
    metric = one_fault(read_rows(tmp_path, REEL, {**REEL, "Order": "R2", WIDTH: 4826}))
    assert " in (" not in metric.right


def custom(under: str, over: str, *, to: float | None, below: float | None) -> ToleranceStep:
    """A step of a tolerance custom."""
    return ToleranceStep(
        grammage_to_gsm=to, below_t=below, under=Fraction(under), over=Fraction(over)
    )


def test_a_blank_tolerance_is_the_mills_custom(tmp_path: Path) -> None:
    """Below 5 t 15 %, below 15 t 10 %, from 15 t 5 %, above 180 g/m²: by the order's own mass."""
    rows = [
        {**REEL, "Order": str(mass), "Quantity": mass, "Unit": "t", UNDER: None, OVER: None}
        for mass in (4.999, 5, 14.999, 15)
    ]
    book = read_rows(tmp_path, *rows).require_clean()
    expected = [Fraction(15, 100), Fraction(1, 10), Fraction(1, 10), Fraction(1, 20)]
    assert [order.under for order in book.orders] == expected
    assert [order.over for order in book.orders] == expected
    assert all(order.tolerance_by_custom for order in book.orders)
    assert not read_rows(tmp_path, REEL).orders[0].tolerance_by_custom


@pytest.mark.parametrize(
    ("row", "under"),
    [
        # 0.82 m × 3067 m × 250 g/m² = 628.7 kg a reel at 1250 mm on the 152 mm core
        ({**REEL, "Quantity": 7}, "15/100"),
        ({**REEL, "Quantity": 8}, "1/10"),
        # 0.82 m × 250 g/m² = 0.205 kg a metre: 5 t at 24390.2 m
        ({**REEL, "Quantity": 24390, "Unit": "m"}, "15/100"),
        ({**REEL, "Quantity": 24391, "Unit": "m"}, "1/10"),
        # 0.72 m × 1.02 m × 250 g/m² = 0.1836 kg a sheet: 5 t at 27233.1 sheets
        ({**SHEET, "Quantity": 27233}, "15/100"),
        ({**SHEET, "Quantity": 27234}, "1/10"),
    ],
)
def test_the_custom_weighs_every_unit(tmp_path: Path, row: dict[str, Any], under: str) -> None:
    """Reels at their target, metres and sheets by their area: the step changes at 5 t."""
    book = read_rows(tmp_path, {**row, UNDER: None}).require_clean()
    assert book.orders[0].under == Fraction(under)
    assert book.orders[0].over == Fraction(1, 20)


def test_a_target_inside_the_mass_limit(tmp_path: Path) -> None:
    """Reels that may weigh 600 kg are weighed at 600 kg: eight of them are below 5 t."""
    row = {**REEL, "Quantity": 8, "Max reel mass": 600, UNDER: None}
    assert read_rows(tmp_path, row).require_clean().orders[0].under == Fraction(15, 100)


def test_no_custom_for_a_blank_tolerance(tmp_path: Path) -> None:
    """Without a table, or without a step that holds, a blank is a fault, not a zero."""
    blank = {**REEL, UNDER: None}
    none = replace(example_mill(), tolerances=())
    fault = one_fault(read_rows(tmp_path, blank, mill=none))
    assert fault.column == UNDER
    assert fault.wrong == "blank, and the mill file states no default tolerance"
    small = replace(none, tolerances=(custom("1/10", "1/10", to=None, below=1),))
    fault = one_fault(read_rows(tmp_path, blank, mill=small))
    assert fault.wrong == "blank, and the mill file has no default tolerance for its tonnage"


def test_a_tolerance_for_both(tmp_path: Path) -> None:
    """One column may state both; with the other two filled in as well it is a fault."""
    row = {**without(REEL, UNDER, OVER), "Tolerance": "±7,5 %"}
    (order,) = read_rows(tmp_path, row).require_clean().orders
    assert order.under == order.over == Fraction(3, 40)
    fault = one_fault(read_rows(tmp_path, {**REEL, "Tolerance": 5}))
    assert fault.wrong == "stated twice"


@pytest.mark.parametrize(
    ("value", "wrong"),
    [(100, "100 % or more"), ("5 kg", "not a percentage"), (0.5, "may mean 0.5 % or 50 %")],
)
def test_tolerances_that_cannot_be(tmp_path: Path, value: object, wrong: str) -> None:
    """A tolerance is a percentage below 100, and a small figure must say what it is."""
    assert one_fault(read_rows(tmp_path, {**REEL, OVER: value})).wrong == wrong


def test_a_clean_book_or_every_fault(tmp_path: Path) -> None:
    """`require_clean` gives the book, or raises with all its faults."""
    book = read_rows(tmp_path, {**REEL, WIDTH: -1}, {**SHEET, "Quantity": 0})
    with pytest.raises(OrderBookError) as caught:
        book.require_clean()
    assert caught.value.faults == book.faults
    assert len(book.faults) == 2
    assert "2 faults" in str(caught.value)
