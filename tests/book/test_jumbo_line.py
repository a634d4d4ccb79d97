"""The jumbo sheet: what the machine made, and what is wrong with its rows."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.book.books import AS_OF, REEL, example_mill, one_fault, write_xlsx
from trimopt.book import Book, JumboInStock, read_book

JUMBO: Mapping[str, Any] = {
    "Jumbo": "M-301",
    "Grade": "folding boxboard",
    "Grammage": 250,
    "Width [mm]": 4680,
    "Length [m]": 15800,
    "Start loss [m]": None,
    "End loss [m]": None,
}


def read_jumbos(
    folder: Path, *rows: Mapping[str, Any], only: str | None = None, in_order: str | None = None
) -> Book:
    """A book of one order and these jumbos."""

    def add(workbook: Workbook, _: Worksheet) -> None:
        sheet = workbook.create_sheet("Stock")
        if only is not None:
            sheet.append(["Only these jumbos", only])
        if in_order is not None:
            sheet.append(["Keep this order", in_order])
        sheet.append(list(rows[0]))
        for row in rows:
            sheet.append(list(row.values()))

    return read_book(write_xlsx(folder / "b.xlsx", [REEL], touch=add), example_mill(), as_of=AS_OF)


def test_a_jumbo_is_read(tmp_path: Path) -> None:
    """Losses left blank are the mill's; the grade is spelt as the mill file spells it."""
    book = read_jumbos(tmp_path, JUMBO).require_clean()
    assert book.jumbos == (
        JumboInStock(
            name="M-301",
            grade="Folding boxboard",
            grammage_gsm=250.0,
            width_mm=Fraction(4680),
            length_m=15800,
            loss_start_m=120,
            loss_end_m=80,
        ),
    )
    assert not book.only_listed_jumbos
    assert len(book.orders) == 1


def test_only_these_jumbos(tmp_path: Path) -> None:
    """The sheet may say that no other jumbo may be used."""
    assert read_jumbos(tmp_path, JUMBO, only="yes").only_listed_jumbos
    assert not read_jumbos(tmp_path, JUMBO, only="no").only_listed_jumbos
    assert "write yes" in one_fault(read_jumbos(tmp_path, JUMBO, only="perhaps")).right


def test_keep_this_order(tmp_path: Path) -> None:
    """The sheet may say that jumbos come off as listed; they stand in the book as listed."""
    rows = ({**JUMBO, "Jumbo": "M-9"}, {**JUMBO, "Jumbo": "M-2"})
    book = read_jumbos(tmp_path, *rows, in_order="yes").require_clean()
    assert book.jumbos_in_order
    assert [jumbo.name for jumbo in book.jumbos] == ["M-9", "M-2"]
    assert not read_jumbos(tmp_path, *rows).jumbos_in_order
    assert "write yes" in one_fault(read_jumbos(tmp_path, *rows, in_order="first")).right


def test_losses_of_its_own(tmp_path: Path) -> None:
    """A started jumbo may have lost its start already: zero is a figure here."""
    row = {**JUMBO, "Start loss [m]": 0, "End loss [m]": 60}
    (jumbo,) = read_jumbos(tmp_path, row).require_clean().jumbos
    assert (jumbo.loss_start_m, jumbo.loss_end_m, jumbo.usable_m) == (0, 60, 15740)


def test_lengths_in_feet_promise_no_metre_that_is_not_there(tmp_path: Path) -> None:
    """Feet come to whole metres: the length down, the losses up."""
    row = {
        **{key: value for key, value in JUMBO.items() if "[m]" not in key},
        "Length [ft]": 50000,
        "Start loss [ft]": 300,
        "End loss [ft]": 0,
    }
    (jumbo,) = read_jumbos(tmp_path, row).require_clean().jumbos
    assert (jumbo.length_m, jumbo.loss_start_m, jumbo.loss_end_m) == (15240, 92, 0)


def test_feet_in_a_cell_are_feet(tmp_path: Path) -> None:
    """Where the heading states no unit, a jumbo's length may state feet."""
    row = {key: value for key, value in JUMBO.items() if "[m]" not in key}
    (jumbo,) = read_jumbos(tmp_path, {**row, "Length": "50001 ft"}).require_clean().jumbos
    assert jumbo.length_m == 15240


def test_what_is_wrong_with_a_jumbo(tmp_path: Path) -> None:
    """Every fault has its sheet, row and column; the good rows stay."""
    rows = [
        JUMBO,
        {**JUMBO, "Jumbo": "M-302", "Grade": "Duplex"},
        {**JUMBO, "Jumbo": "M-303", "Length [m]": 200},
        {**JUMBO, "Jumbo": "M-304", "Length [m]": 15800.5},
        {**JUMBO, "Jumbo": "M-305", "Width [mm]": 250},
        {**JUMBO, "Jumbo": None},
        {**JUMBO, "Jumbo": "M-306", "Grammage": None},
        {**JUMBO, "Jumbo": "M-307"},
        {**JUMBO, "Jumbo": "m-307"},
    ]
    book = read_jumbos(tmp_path, *rows)
    assert [(fault.where, fault.row, fault.column) for fault in book.faults] == [
        ("Stock", 3, "Grade"),
        ("Stock", 4, "Length [m]"),
        ("Stock", 5, "Length [m]"),
        ("Stock", 6, "Width [mm]"),
        ("Stock", 7, "Jumbo"),
        ("Stock", 8, "Grammage"),
        ("Stock", 9, "Jumbo"),
        ("Stock", 10, "Jumbo"),
    ]
    assert book.faults[1].right == "more than 200 m"
    assert [jumbo.name for jumbo in book.jumbos] == ["M-301"]
    left_out = {each.order: each.why for each in book.left_out}
    assert left_out["jumbo M-302"].endswith('Grade "Duplex" the mill file has no such grade')
    assert "also used in row" in left_out["jumbo M-307"]
    assert "jumbo in row 7" in left_out
    assert len(book.orders) == 1


def test_a_jumbo_that_nothing_can_be_wound_from_is_a_fault(tmp_path: Path) -> None:
    """Less than the narrowest reel and its edge trim, or more than web and the most edge trim."""
    winder = example_mill().winder
    assert winder.max_edge_trim_mm is not None
    ends = (
        winder.min_reel_width_mm + 2 * winder.min_edge_trim_mm,
        winder.max_web_mm + 2 * winder.max_edge_trim_mm,
    )
    widths = [ends[0] - 1, ends[0], ends[1], ends[1] + 1]
    rows = [{**JUMBO, "Jumbo": f"W-{n}", "Width [mm]": float(mm)} for n, mm in enumerate(widths)]
    book = read_jumbos(tmp_path, *rows)
    assert [jumbo.name for jumbo in book.jumbos] == ["W-1", "W-2"]
    assert [fault.row for fault in book.faults] == [2, 5]
    assert f"{float(ends[1]):g} mm or less" in book.faults[1].right


@pytest.mark.parametrize("name", ["Jumbos", "Defects", "Stock", "Run days", "instructions"])
def test_no_sheet_of_a_known_name_is_passed_over(tmp_path: Path, name: str) -> None:
    """Its headings are not known: what it says would be lost unsaid. Instructions may be prose."""

    def add(workbook: Workbook, _: Worksheet) -> None:
        sheet = workbook.create_sheet(name)
        sheet.append(["Paper", "Start day", "Stop"])
        sheet.append(["Kraft liner", "Mon", "Tue"])

    path = write_xlsx(tmp_path / "b.xlsx", [REEL], touch=add)
    book = read_book(path, example_mill(), as_of=AS_OF)
    said = [(one.where, one.wrong) for one in (*book.faults, *book.warnings)]
    assert (name, f"no row with the headings of {name.lower()}") in said
    assert bool(book.faults) == (name != "instructions")
