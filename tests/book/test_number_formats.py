"""Number formats of a workbook that show a unit, other words or another figure."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.book.books import (
    AS_OF,
    REEL,
    example_mill,
    headings_of,
    one_fault,
    write_csv,
    write_xlsx,
)
from trimopt.book import Book, read_book
from trimopt.book.number_formats import as_shown
from trimopt.book.written_figures import Disguised, Percent, as_text
from trimopt.paper.typed import split_figure_and_unit

BARE = {"Width": "Width across [mm]", "Chop": "Chop [mm]", "Max. diameter": "Max. diameter [mm]"}


def book_with(folder: Path, formats: dict[str, str], **changes: Any) -> Book:
    """The book of one reel line whose headings state no unit, its cells formatted."""
    named = {of: plain for plain, of in BARE.items()}
    row = {named.get(heading, heading): value for heading, value in REEL.items()} | changes

    def touch(_: Workbook, sheet: Worksheet) -> None:
        for heading, shown in formats.items():
            sheet.cell(2, headings_of([row]).index(heading) + 1).number_format = shown

    path = write_xlsx(folder / "book.xlsx", [row], touch=touch)
    return read_book(path, example_mill(), as_of=AS_OF)


@pytest.mark.parametrize("shown", ['0" in"', '0.0\\ "in"', 'General" in"', '0\\"', "0\\ \\i\\n;-0"])
def test_a_unit_of_the_format_is_read_like_one_that_is_typed(tmp_path: Path, shown: str) -> None:
    """A cell that shows 32 in is 32 inches wide, not 32 mm."""
    (order,) = book_with(tmp_path, {"Width": shown}, Width=32).require_clean().orders
    assert order.width_mm == 32 * Fraction(254, 10)
    assert order.as_written == (("width", "32 in"),)


def test_a_unit_that_agrees_changes_nothing(tmp_path: Path) -> None:
    """The unit of trimopt, a quantity in its unit, a percentage with a sign of its own."""
    formats = {
        "Width": '#,##0" mm"', "Max. diameter": '0" mm"', "Quantity": '0.0" t"',
        "Over tolerance [%]": '0"%"', "Under tolerance [%]": '0.0"%"',
    }  # fmt: skip
    book = book_with(tmp_path, formats, Quantity=12.5, Unit=None, **{"Under tolerance [%]": 0.5})
    (order,) = book.require_clean().orders
    assert (order.width_mm, order.quantity) == (Fraction(820), Fraction(12500))
    assert order.max_diameter_mm == 1250
    assert (order.under, order.over) == (Fraction(5, 1000), Fraction(5, 100))


@pytest.mark.parametrize(
    ("heading", "shown", "value", "wrong"),
    [
        ("Width", "0,", 820000, "the format of the cell, 0,, shows another figure than it holds"),
        ("Quantity", '0".000"', 20, 'the format of the cell, 0".000", shows another figure'),
        ("Width", '"ca. "0', 820, 'the format of the cell shows words: "ca. 820"'),
        ("Width", '0" cubits"', 820, "text where a number belongs"),
        ("Grammage [g/m²]", '0" lb"', 250, "a basis weight in pounds needs the size"),
        ("Core [mm]", '0" in"', 6, "its unit is in, its heading's mm"),
    ],
)
def test_what_a_format_leaves_in_doubt_is_a_fault(
    tmp_path: Path, heading: str, shown: str, value: int, wrong: str
) -> None:
    """Thousands, figures and words that the cell does not hold, units that are none."""
    fault = one_fault(book_with(tmp_path, {heading: shown}, **{heading: value}))
    assert (fault.row, fault.column) == (2, heading)
    assert wrong in fault.wrong


def test_an_order_number_is_read_as_it_is_shown(tmp_path: Path) -> None:
    """The customer knows the number with the letters before it."""
    (order,) = book_with(tmp_path, {"Order": '"PO-"000000'}, Order=4711).require_clean().orders
    assert order.number == "PO-004711"


@pytest.mark.parametrize(
    "plain",
    [
        "#,##0.00", "# ?/?", "# ?/16", "0.00E+00", "[$-407]0", "#'##0", "@", "0.0_ ;[Red]\\-0.0\\ ",
        "_-* #,##0.00_-;\\-* #,##0.00_-;_-* \"-\"??_-;_-@_-", "#,##0_);(#,##0)", "0;-0;;@", ";;;",
    ],
)  # fmt: skip
def test_a_format_without_words_leaves_the_figure(plain: str) -> None:
    """Groups, signs, colours, fractions, room for brackets."""
    assert [as_shown(value, plain) for value in (29.5, 0, -3)] == [29.5, 0, -3]


def test_the_part_of_a_format_is_the_one_for_the_value() -> None:
    """By condition and by sign, as a spreadsheet takes it."""
    by_size = '[>999]0.0" t";0" kg"'
    assert split_figure_and_unit(as_shown(1500, by_size)) == (1500, "t")
    assert split_figure_and_unit(as_shown(15, by_size)) == (15, "kg")
    assert as_text(as_shown(-5, '0" mm";[Red]-0" short"')) == "-5 short"
    assert as_shown(0, '0;-0;"free"') == Disguised(0, '0;-0;"free"')
    assert as_shown(0.05, '0 %" over"') == Percent(0.05)


@pytest.mark.parametrize(
    ("shown", "wrong"),
    [("yyyy-mm-dd hh:mm", ["midnight, of which the day may begin or end"]), ("d.m.yyyy", [])],
)
def test_a_shift_that_ends_at_midnight_is_asked_about(
    tmp_path: Path, shown: str, wrong: list[str]
) -> None:
    """A cell that shows 24 November, 00:00 was taken for the end of that day, a day too late."""

    def touch(_: Workbook, sheet: Worksheet) -> None:
        sheet["B1"].number_format = shown

    ends = {"Shift ends": datetime(2026, 11, 24)}  # noqa: DTZ001  # as a spreadsheet keeps it
    path = write_xlsx(tmp_path / "book.xlsx", [dict(REEL)], settings=ends, touch=touch)
    book = read_book(path, example_mill(), as_of=AS_OF)
    assert [fault.wrong for fault in book.faults] == wrong
    assert all(fault.value == "2026-11-24 00:00" for fault in book.faults)
    path = write_csv(
        tmp_path / "book.csv", [dict(REEL)], settings={"Shift ends": "2026-11-24 00:00"}
    )
    (fault,) = read_book(path, example_mill(), as_of=AS_OF).faults
    assert fault.wrong == "midnight, of which the day may begin or end"
