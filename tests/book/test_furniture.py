"""What exports put among the lines: recognised and said where it is furniture, asked where not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st
from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from tests.book.books import (
    AS_OF,
    REEL,
    SHEET,
    example_mill,
    headings_of,
    one_fault,
    write_csv,
    write_xlsx,
)
from tests.book.test_forgiving import folder, plain
from trimopt import Effort, Request, make_plan
from trimopt.book import Book, read_book
from trimopt.errors import OrderBookError
from trimopt.mill import Export

LINES = (
    {**REEL, "Order": "R1", "Quantity": 20},
    {**REEL, "Order": "R2", "Width across [mm]": 1040, "Quantity": 12},
    {**SHEET, "Order": "S1"},
)
HEADINGS = headings_of(LINES)
Cells = list[Any]


def cells_of(line: dict[str, Any]) -> Cells:
    """A line as its cells."""
    return [line.get(heading) for heading in HEADINGS]


def book_of(
    path: Path,
    rows: Sequence[Cells],
    headings: Sequence[str] = HEADINGS,
    above: Sequence[Cells] = (),
    **export: Any,
) -> Book:
    """The book of these rows under the headings."""
    workbook = Workbook()
    sheet = workbook.worksheets[0]
    for cells in (*above, headings, *rows):
        sheet.append(list(cells))
    workbook.save(path)
    mill = replace(example_mill(), export=Export(**export))
    return read_book(path, mill, as_of=AS_OF)


def row_with(**cells: Any) -> Cells:
    """A row that is blank but for some cells, by heading."""
    by_heading = {heading.partition(" [")[0]: index for index, heading in enumerate(HEADINGS)}
    row: Cells = [None] * len(HEADINGS)
    for heading, cell in cells.items():
        row[by_heading[heading]] = cell
    return row


UNITS_ROW = ["mm" if "[mm]" in heading else None for heading in HEADINGS]
FURNITURE: dict[str, Cells] = {
    "totals": row_with(Order="Total", Quantity=32),
    "totals with their key": row_with(Customer="Wrenlow Cartons Ergebnis", Quantity=32),
    "headings": list(HEADINGS),
    "ruled": ["-----"] * len(HEADINGS),
    "page": row_with(Order="Seite 2 von 5"),
    "printed": row_with(Customer="Printed 26.11.2026 by MK"),
    "units": UNITS_ROW,
    "blank": [None] * len(HEADINGS),
}


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(0, 3), st.sampled_from(sorted(FURNITURE))), max_size=8),
    st.lists(st.sampled_from(["Order list", "Mill 2", None, "26.11.2026"]), max_size=4),
)
def test_furniture_changes_no_order(put: list[tuple[int, str]], titles: list[str | None]) -> None:
    """Whatever furniture stands wherever, the orders are those of the bare table."""
    rows: list[Cells] = []
    for place in range(4):
        rows.extend(FURNITURE[kind] for at, kind in put if at == place)
        if place < 3:
            rows.append(cells_of(LINES[place]))
    with folder() as here:
        bare = read_book(write_xlsx(here / "a.xlsx", LINES), example_mill(), as_of=AS_OF)
        book = book_of(here / "b.xlsx", rows, above=[[title] for title in titles])
    assert plain(book) == plain(bare)
    said = {kind for _, kind in put if kind != "blank"}
    assert len(book.warnings) >= bool(said)


def test_a_total_without_a_word(tmp_path: Path) -> None:
    """A quantity alone that is the sum so far is a total; any other is a line with blanks."""
    rows = [cells_of(line) for line in LINES[:2]]
    book = book_of(tmp_path / "a.xlsx", [*rows, row_with(Quantity=32)])
    assert len(book.require_clean().orders) == 2
    assert "totals in row 4" in book.warnings[0].wrong
    assert book_of(tmp_path / "b.xlsx", [*rows, row_with(Quantity=31)]).faults
    blank = dict.fromkeys(HEADINGS, "")
    for quantity in (32, 31):
        lines = [{**blank, **line} for line in (*LINES[:2], {"Quantity": quantity})]
        book = read_book(write_csv(tmp_path / "c.csv", lines), example_mill(), as_of=AS_OF)
        assert len(book.orders) == 2
        assert bool(book.faults) == (quantity == 31)


def test_an_order_of_a_customer_called_total(tmp_path: Path) -> None:
    """A line that has all it needs is a line, whatever its words."""
    line = {**REEL, "Order": "Total", "Customer": "Sum Total Ltd"}
    assert len(book_of(tmp_path / "a.xlsx", [cells_of(line)]).require_clean().orders) == 1


def test_a_text_alone_is_asked_about(tmp_path: Path) -> None:
    """The head of a band may say a due date or a customer for the lines below."""
    rows = [row_with(Order="Due week 49"), *(cells_of(line) for line in LINES)]
    fault = one_fault(book_of(tmp_path / "a.xlsx", rows))
    assert (fault.row, fault.value) == (2, "Due week 49")


def test_other_headings_among_the_lines_spoil_what_is_below(tmp_path: Path) -> None:
    """Page 2 with its columns in another order is not read under the headings of page 1."""
    turned = [*HEADINGS[1:], HEADINGS[0]]
    rows = [cells_of(LINES[0]), turned, cells_of(LINES[1])]
    book = book_of(tmp_path / "a.xlsx", rows)
    assert [order.number for order in book.orders] == ["R1"]
    assert "other headings than in row 1" in one_fault(book).wrong


def test_units_under_the_headings(tmp_path: Path) -> None:
    """A row of units is read as if each stood in its heading, inches among them."""
    headings = [heading.partition(" [")[0] for heading in HEADINGS]
    units = ["g/m²" if h == "Grammage" else None for h in headings]
    units[headings.index("Width across")] = "[in]"
    units[headings.index("Under tolerance")] = "%"
    line = {**LINES[0], "Width across [mm]": "32 1/2"}
    book = book_of(tmp_path / "a.xlsx", [units, cells_of(line)], headings)
    (order,) = book.require_clean().orders
    assert order.width_mm == 825.5
    assert "units under the headings" in book.warnings[0].wrong


def test_a_line_is_no_row_of_units(tmp_path: Path) -> None:
    """Two units for one column are a fault of the heading."""
    units = ["in" if "[mm]" in heading else None for heading in HEADINGS]
    with pytest.raises(Exception, match="two units"):
        book_of(tmp_path / "a.xlsx", [units, cells_of(LINES[0])])


def test_cancelled_by_the_status_column(tmp_path: Path) -> None:
    """Known words are obeyed and said, others are asked about once each."""
    headings = [*HEADINGS, "Status"]
    states = ["Storniert", "open", "held"]
    rows = [[*cells_of(line), state] for line, state in zip(LINES, states, strict=True)]
    book = book_of(tmp_path / "a.xlsx", rows, headings)
    assert [order.number for order in book.orders] == ["R2"]
    assert 'cancelled ("Storniert") in row 2' in book.warnings[0].wrong
    assert 'cancelled = ["held"]' in one_fault(book).right
    book = book_of(tmp_path / "b.xlsx", rows, headings, words={"cancelled": ("held",)})
    assert [order.number for order in book.require_clean().orders] == ["R2"]
    book = book_of(tmp_path / "c.xlsx", rows, headings, words={"open": ("HELD",)})
    assert [order.number for order in book.require_clean().orders] == ["R2", "S1"]


def test_a_book_with_every_line_cancelled_says_so(tmp_path: Path) -> None:
    """Rows stand there: whoever is told of none looks for them in vain."""
    rows = [[*cells_of(line), "Storniert"] for line in LINES]
    with pytest.raises(OrderBookError) as caught:
        book_of(tmp_path / "a.xlsx", rows, [*HEADINGS, "Status"])
    (fault,) = caught.value.faults
    left_out = 'cancelled ("Storniert") in rows 2–4: left out'
    assert fault.wrong == f"no order line under the headings: {left_out}"


def test_our_own_words_for_a_status_are_known_in_capitals_too(tmp_path: Path) -> None:
    """As most systems write them."""
    states = ["Cancelled", "Open", "LATER"]
    rows = [[*cells_of(line), state] for line, state in zip(LINES, states, strict=True)]
    book = book_of(tmp_path / "a.xlsx", rows, [*HEADINGS, "Status"]).require_clean()
    assert 'cancelled ("Cancelled") in row 2' in book.warnings[0].wrong
    assert [order.number for order in book.orders] == ["R2"]
    assert [order.number for order in book.next_run] == ["S1"]


def test_a_line_through_an_order_is_asked_about(tmp_path: Path) -> None:
    """Struck out by hand: cancelled or not, it is never planned unseen."""

    def strike(_: Workbook, sheet: Worksheet) -> None:
        for cell in sheet[3]:
            cell.font = Font(strike=True)

    path = write_xlsx(tmp_path / "a.xlsx", LINES, touch=strike)
    book = read_book(path, example_mill(), as_of=AS_OF)
    assert [order.number for order in book.orders] == ["R1", "S1"]
    assert (one_fault(book).row, one_fault(book).wrong[:10]) == (3, "struck out")


def test_a_filter_is_said(tmp_path: Path) -> None:
    """Rows that a filter hides are read, and that is said."""

    def hide(_: Workbook, sheet: Worksheet) -> None:
        sheet.auto_filter.ref = "A1:N4"
        sheet.auto_filter.add_filter_column(0, ["R1"])
        sheet.row_dimensions[3].hidden = True

    path = write_xlsx(tmp_path / "a.xlsx", LINES, touch=hide)
    book = read_book(path, example_mill(), as_of=AS_OF)
    assert len(book.orders) == 3
    assert "hidden row 3, by a filter" in book.warnings[0].wrong


def test_furniture_changes_no_plan(tmp_path: Path) -> None:
    """The sets, knives, jumbos and figures of the plan are those of the bare table."""
    lines = [{**line, "Quantity": 4} for line in LINES[:2]]
    rows: list[Cells] = []
    for line, kinds in zip(lines, (("units", "page"), ("totals", "headings")), strict=True):
        rows.extend([*(FURNITURE[kind] for kind in kinds), cells_of(line)])
    rows.append(FURNITURE["totals"])
    bare = book_of(tmp_path / "a.xlsx", [cells_of(line) for line in lines])
    full = book_of(tmp_path / "b.xlsx", rows, above=[["Order list"], []])
    mill, request = example_mill(), Request(effort=Effort.QUICK, time_limit_s=60)
    plans = [make_plan(book, mill, request) for book in (bare, full)]
    ours, theirs = (plan.runs[0] for plan in plans)
    assert ours.blocks == theirs.blocks
    assert ours.balance == theirs.balance
