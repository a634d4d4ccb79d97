"""The stock sheet: reels in stock, and what is wrong with its rows."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.book.books import AS_OF, REEL, example_mill, one_fault, write_xlsx
from trimopt.book import Book, StockReel, read_book
from trimopt.paper import mass_kg, reel_diameter_mm

STOCK: Mapping[str, Any] = {
    "Reel": "S-1",
    "Grade": "folding boxboard",
    "Grammage": 250,
    "Width [mm]": 820,
    "Length [m]": 3000,
    "Mass [kg]": None,
    "Diameter [mm]": None,
    "Core [mm]": 152,
    "Place": "Bay 3",
    "Made on": date(2026, 10, 2),
    "Joins": 1,
    "Reserved for": "R1",
}


def read_stock(folder: Path, *rows: Mapping[str, Any]) -> Book:
    """A book of one order and these reels in stock."""

    def add(workbook: Workbook, _: Worksheet) -> None:
        sheet = workbook.create_sheet("Warehouse")
        sheet.append(list(rows[0]))
        for row in rows:
            sheet.append(list(row.values()))

    return read_book(write_xlsx(folder / "b.xlsx", [REEL], touch=add), example_mill(), as_of=AS_OF)


def test_a_reel_is_read(tmp_path: Path) -> None:
    """Its diameter follows from its length, on its own core."""
    book = read_stock(tmp_path, STOCK).require_clean()
    (reel,) = book.stock
    mill = example_mill()
    core, grade = mill.winder.core(152), mill.grade("Folding boxboard")
    assert core is not None
    assert grade is not None
    assert reel == StockReel(
        name="S-1", grade="Folding boxboard", grammage_gsm=250.0, width_mm=Fraction(820),
        diameter_mm=reel_diameter_mm(3000, core.outside_mm, grade.wound_caliper_um(250)),
        length_m=3000, core_mm=152, place="Bay 3", made_on=date(2026, 10, 2), joins=1,
        reserved_for="R1",
    )  # fmt: skip
    assert float(reel.mass_kg) == pytest.approx(mass_kg(820, 3000, 250))


def test_a_length_follows_from_mass_or_diameter(tmp_path: Path) -> None:
    """No metre is promised that is not there: both are rounded down; a stated diameter stands."""
    by_mass = {**STOCK, "Length [m]": None, "Mass [kg]": 615.2}
    by_diameter = {**STOCK, "Reel": "S-2", "Length [m]": None, "Diameter [mm]": 1240}
    one, other = read_stock(tmp_path, by_mass, by_diameter).require_clean().stock
    assert one.length_m == 3000
    assert other.diameter_mm == 1240
    again = read_stock(tmp_path, {**STOCK, "Length [m]": other.length_m}).stock[0]
    assert again.diameter_mm <= 1240 < again.diameter_mm + 0.3


@pytest.mark.parametrize(
    ("changed", "column", "wrong"),
    [
        ({"Length [m]": None}, "Length [m]", "no length, mass or diameter"),
        ({"Core [mm]": None}, "Core [mm]", "blank"),
        ({"Core [mm]": 100}, "Core [mm]", "the winder has no such core"),
        ({"Grade": "Glassine"}, "Grade", "the mill file has no such grade"),
        ({"Mass [kg]": 900}, "Mass [kg]", "gives 4,390 m, while its length gives 3,000 m"),
        ({"Length [m]": None, "Diameter [mm]": 150}, "Diameter [mm]", "no larger than its core"),
        ({"Joins": "one"}, "Joins", "text where a number belongs"),
        ({"Made on": "soon"}, "Made on", "not a date"),
        ({"Width [mm]": -820}, "Width [mm]", "negative"),
    ],
)
def test_each_fault_is_named(
    tmp_path: Path, changed: Mapping[str, Any], column: str, wrong: str
) -> None:
    """With its place and what would be right; the reel is left out."""
    book = read_stock(tmp_path, {**STOCK, **changed})
    fault = one_fault(book)
    assert (fault.where, fault.row, fault.column) == ("Warehouse", 2, column)
    assert wrong in fault.wrong
    assert fault.right
    assert not book.stock


def test_no_two_reels_share_a_number(tmp_path: Path) -> None:
    """Which of them lies in stock is not known."""
    book = read_stock(tmp_path, STOCK, STOCK)
    assert {(fault.row, fault.wrong) for fault in book.faults} == {
        (2, "also used in row 3"),
        (3, "also used in row 2"),
    }


def test_a_reel_that_meets_no_order_is_no_fault(tmp_path: Path) -> None:
    """It stays where it is, and nothing is said."""
    book = read_stock(tmp_path, {**STOCK, "Width [mm]": 777}).require_clean()
    assert len(book.stock) == 1
    assert not book.warnings
