"""Books as workbooks: kinds that are refused, hidden and merged cells, formulas, sheets."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.book.books import (
    AS_OF,
    REEL,
    SHEET,
    example_mill,
    headings_of,
    one_fault,
    read_rows,
    write_xlsx,
)
from trimopt.book import Book, read_book
from trimopt.errors import OrderBookError


def read_back(path: Path) -> Book:
    """The book at a path."""
    return read_book(path, example_mill(), as_of=AS_OF)


def test_cells_of_every_kind(tmp_path: Path) -> None:
    """Whole numbers, floats, texts, real dates and yes as a truth value are read as meant."""
    row = {
        **REEL,
        "Order": 10234,
        "Quantity": 12.5,
        "Unit": "t",
        "Width": None,
        "Due": datetime.fromisoformat("2026-11-27T14:30"),
        "Keep off edge": True,
        "Priority": 2.0,
        "Remarks": "two\nlines",
    }
    del row["Width"]
    (order,) = read_rows(tmp_path, row).require_clean().orders
    assert order.number == "10234"
    assert order.quantity == 12500
    assert order.due == datetime.fromisoformat("2026-11-27T14:30")
    assert order.no_edge
    assert order.priority == 2
    assert order.remarks == "two lines"
    assert order.as_written == (("quantity", "12.5 t"),)


def test_order_numbers_that_a_spreadsheet_changed(tmp_path: Path) -> None:
    """Leading zeros that are shown are read; what became a date or lost its end is a fault."""

    def zeros(_: Workbook, sheet: Worksheet) -> None:
        sheet["A2"].number_format = sheet["F2"].number_format = "0000000"

    rows = [{**REEL, "Order": 4711}]
    (order,) = read_back(write_xlsx(tmp_path / "b.xlsx", rows, touch=zeros)).orders
    (plain,) = read_rows(tmp_path, *rows).orders
    assert (order.number, plain.number) == ("0004711", "4711")
    assert replace(order, number="4711") == plain
    for number in (datetime.fromisoformat("2026-03-12"), 4500001234567890123):
        fault = one_fault(read_rows(tmp_path, {**REEL, "Order": number}))
        assert (fault.column, fault.right) == (
            "Order",
            "format the cell as text, and write the number again",
        )


def test_text_that_begins_like_a_formula(tmp_path: Path) -> None:
    """A customer called =1+1 is a text in the book and in the order."""

    def as_text(_: Workbook, sheet: Worksheet) -> None:
        sheet["B2"] = "=1+1"
        sheet["B2"].data_type = "s"

    book = read_back(write_xlsx(tmp_path / "b.xlsx", [REEL], touch=as_text))
    assert book.require_clean().orders[0].customer == "=1+1"


def test_a_formula_without_its_result_is_a_fault(tmp_path: Path) -> None:
    """A formula that no program has worked out yet gives no number, and no silent blank."""
    book = read_rows(tmp_path, {**REEL, "Quantity": "=10+10"}, {**SHEET})
    fault = one_fault(book)
    assert (fault.value, fault.row) == ("=10+10", 2)
    assert "without its result" in fault.wrong
    assert [order.number for order in book.orders] == ["S1"]


def test_a_formula_with_its_result_is_read(tmp_path: Path) -> None:
    """Results saved with the book are taken; an empty text among them is a blank."""
    path = write_xlsx(tmp_path / "b.xlsx", [{**REEL, "Chop [mm]": '=""', "Quantity": "=10+10"}])
    source = zipfile.ZipFile(io.BytesIO(path.read_bytes()))
    with zipfile.ZipFile(path, "w") as target:
        for name in source.namelist():
            part = source.read(name).decode()
            if name.endswith("sheet1.xml"):
                part = part.replace("<f>10+10</f><v></v>", "<f>10+10</f><v>20</v>")
                part = part.replace("<f>10+10</f><v />", "<f>10+10</f><v>20</v>")
                start = part.index("<c", part.index('r="G2"') - 5)
                part = part[:start] + part[start:].replace('r="G2"', 'r="G2" t="str"', 1)
            target.writestr(name, part)
    (order,) = read_back(path).require_clean().orders
    assert order.quantity == 20
    assert order.chop_mm is None


def test_an_error_in_a_cell_is_a_fault(tmp_path: Path) -> None:
    """#REF! is named for what it is, in a number and in a text."""

    def broken(_: Workbook, sheet: Worksheet) -> None:
        for place in ("B2", "F2"):
            sheet[place] = "#REF!"
            sheet[place].data_type = "e"

    book = read_back(write_xlsx(tmp_path / "b.xlsx", [REEL], touch=broken))
    assert [(fault.column, fault.value) for fault in book.faults] == [
        ("Customer", "#REF!"),
        ("Width across [mm]", "#REF!"),
    ]


def test_hidden_rows_columns_and_sheets_are_read_with_a_warning(tmp_path: Path) -> None:
    """What is hidden is planned like the rest, and said."""

    def hide(workbook: Workbook, sheet: Worksheet) -> None:
        for row in (3, 5, 6):
            sheet.row_dimensions[row].hidden = True
        sheet.column_dimensions["K"].hidden = True
        workbook.create_sheet("Notes")
        workbook.active = 1
        sheet.sheet_state = "hidden"

    rows = [{**REEL, "Order": str(number)} for number in range(5)]
    book = read_back(write_xlsx(tmp_path / "b.xlsx", rows, touch=hide))
    assert len(book.require_clean().orders) == 5
    said = " | ".join(str(warning) for warning in book.warnings)
    assert "hidden rows 3, 5–6" in said
    assert "Quantity: a hidden column" in said
    assert "the sheet is hidden" in said


def test_merged_cells_are_a_fault_and_leave_their_lines_out(tmp_path: Path) -> None:
    """Under a merged cell other cells are blank: such lines are never half read."""

    def merge(_: Workbook, sheet: Worksheet) -> None:
        sheet.merge_cells("B3:B4")

    rows = [{**REEL, "Order": str(number)} for number in range(4)]
    book = read_back(write_xlsx(tmp_path / "b.xlsx", rows, touch=merge))
    fault = one_fault(book)
    assert (fault.row, fault.column) == (3, "Customer")
    assert "down to row 4" in fault.wrong
    assert [each.order for each in book.left_out] == ["1", "2"]


def test_merged_cells_above_the_table_do_no_harm(tmp_path: Path) -> None:
    """A merged title is no line."""

    def title(_: Workbook, sheet: Worksheet) -> None:
        sheet.insert_rows(1, 2)
        sheet["A1"] = "Orders of the week"
        sheet.merge_cells("A1:F1")

    book = read_back(write_xlsx(tmp_path / "b.xlsx", [REEL], touch=title))
    assert book.require_clean().orders[0].row == 4


def test_blank_rows_are_no_lines(tmp_path: Path) -> None:
    """Rows left blank, or with spaces alone, are passed over and keep the numbering."""
    blank = dict.fromkeys(REEL, None)
    spaces = {**blank, "Customer": "   "}
    book = read_rows(tmp_path, REEL, blank, spaces, {**SHEET})
    assert [order.row for order in book.require_clean().orders] == [2, 5]


def test_a_wrong_extent_does_not_cut_columns_off(tmp_path: Path) -> None:
    """Exported books often state an extent that is too small."""
    path = write_xlsx(tmp_path / "b.xlsx", [REEL])
    source = zipfile.ZipFile(io.BytesIO(path.read_bytes()))
    with zipfile.ZipFile(path, "w") as target:
        for name in source.namelist():
            part = source.read(name)
            if name.endswith("sheet1.xml"):
                assert b'<dimension ref="A1:N2"' in part
                part = part.replace(b'<dimension ref="A1:N2"', b'<dimension ref="A1"')
            target.writestr(name, part)
    assert len(read_back(path).require_clean().orders) == 1


def test_the_order_sheet_is_found_by_its_headings(tmp_path: Path) -> None:
    """Notes before it, headings some rows down: the table is found."""

    def notes_first(workbook: Workbook, sheet: Worksheet) -> None:
        sheet.title = "Week 48"
        sheet.insert_rows(1, 7)
        notes = workbook.create_sheet("Notes", 0)
        notes["A1"] = "Order quantity by Friday"

    book = read_back(write_xlsx(tmp_path / "b.xlsx", [REEL], touch=notes_first))
    assert book.require_clean().orders[0].row == 9


def second_sheet(name: str, hidden: bool = False) -> Any:
    """A touch that adds a second order table."""

    def add(workbook: Workbook, _: Worksheet) -> None:
        other = workbook.create_sheet(name)
        other.append(headings_of([SHEET]))
        other.append(list(SHEET.values()))
        if hidden:
            other.sheet_state = "hidden"

    return add


def test_two_order_sheets(tmp_path: Path) -> None:
    """The one called Orders is read, with a warning; two of no such name are an error."""
    book = read_back(write_xlsx(tmp_path / "a.xlsx", [REEL], touch=second_sheet("Old")))
    assert [order.number for order in book.orders] == ["R1"]
    assert "a second sheet with orders; not read" in book.warnings[0].wrong

    def rename(workbook: Workbook, sheet: Worksheet) -> None:
        sheet.title = "Week 47"
        second_sheet("Week 48")(workbook, sheet)

    with pytest.raises(OrderBookError, match='"Week 47", "Week 48"'):
        read_back(write_xlsx(tmp_path / "b.xlsx", [REEL], touch=rename))


def test_a_hidden_second_order_sheet_is_not_read(tmp_path: Path) -> None:
    """One in sight and one hidden: the one in sight is meant."""

    def rename(workbook: Workbook, sheet: Worksheet) -> None:
        sheet.title = "Week 47"
        second_sheet("Orders", hidden=True)(workbook, sheet)

    book = read_back(write_xlsx(tmp_path / "b.xlsx", [REEL], touch=rename))
    assert [order.number for order in book.orders] == ["R1"]


def test_settings_on_a_sheet_of_their_own(tmp_path: Path) -> None:
    """A sheet called Settings states them for the book."""

    def add(workbook: Workbook, _: Worksheet) -> None:
        settings = workbook.create_sheet("Settings")
        settings.append(["Decimal sign", ","])
        settings.append(["As of", date(2026, 11, 20)])
        settings.append(["Date order", "m/d/y"])

    row = {**REEL, "Quantity": "1,250", "Unit": "t", "Due": "12/01/2026"}
    path = write_xlsx(tmp_path / "b.xlsx", [row], touch=add)
    book = read_book(path, example_mill()).require_clean()
    assert book.as_of == date(2026, 11, 20)
    assert book.orders[0].quantity == 1250
    due = book.orders[0].due
    assert due is not None
    assert (due.month, due.day) == (12, 1)


def test_the_day_on_which_it_was_saved(tmp_path: Path) -> None:
    """A workbook that states no day is judged at the day on which it was saved."""
    path = tmp_path / "b.xlsx"
    workbook = xlsxwriter.Workbook(path)
    workbook.set_properties({"created": datetime.fromisoformat("2026-11-19T23:10:00")})
    sheet = workbook.add_worksheet()
    sheet.write_row(0, 0, headings_of([REEL]))
    sheet.write_row(1, 0, REEL.values())
    workbook.close()
    book = read_book(path, example_mill())
    assert book.as_of == date(2026, 11, 19)
    assert "2026-11-19, is taken" in book.warnings[0].wrong


def test_percentages(tmp_path: Path) -> None:
    """5, 5 %, and a cell formatted as a percentage are alike; 0.05 alone is refused."""

    def as_percent(_: Workbook, sheet: Worksheet) -> None:
        sheet["M2"], sheet["N2"] = 0.05, "5 %"
        sheet["M2"].number_format = "0.0%"

    book = read_back(write_xlsx(tmp_path / "b.xlsx", [REEL], touch=as_percent))
    assert book.require_clean().orders[0].under == book.orders[0].over == Fraction(1, 20)
    fault = one_fault(read_rows(tmp_path, {**REEL, "Under tolerance [%]": 0.05}))
    assert fault.wrong == "may mean 0.05 % or 5 %"
    said = read_rows(tmp_path, {**REEL, "Under tolerance [%]": "0.5 %"}).require_clean()
    assert said.orders[0].under == Fraction(1, 200)


def old_workbook(marker: str = "") -> bytes:
    """The beginning of the container of old and of protected workbooks."""
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600) + marker.encode("utf-16-le")


@pytest.mark.parametrize(
    ("name", "data", "wrong"),
    [
        ("b.xlsm", b"PK\x03\x04", "a macro workbook"),
        ("b.xls", old_workbook("Workbook"), "the old .xls kind"),
        ("b.xlsx", old_workbook("EncryptedPackage"), "protected with a password"),
        ("b.xlsx", b"PK\x03\x04 cut off", "is damaged"),
        ("b.xlsx", b"", "the file is empty"),
        ("b.xlsx", b"Order;Width", "not a workbook of the .xlsx kind"),
        ("b.pdf", b"%PDF-1.7", "not a workbook of the .xlsx kind"),
        ("b.ods", b"PK\x03\x04", "not a workbook of the .xlsx kind"),
        ("b.xlsx", b"", "is empty"),
    ],
)
def test_other_kinds_of_file_are_named(tmp_path: Path, name: str, data: bytes, wrong: str) -> None:
    """Every kind that is not read says which it is and what to do."""
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(OrderBookError) as caught:
        read_back(path)
    assert wrong in caught.value.faults[0].wrong
    assert caught.value.faults[0].right
    assert caught.value.exit_code == 3


def test_a_macro_workbook_under_another_name(tmp_path: Path) -> None:
    """Renaming a macro workbook does not get it in."""
    path = write_xlsx(tmp_path / "b.xlsx", [REEL])
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("xl/vbaProject.bin", b"macro")
    with pytest.raises(OrderBookError, match="macro workbook"):
        read_back(path)


def test_every_truncation_is_an_error_not_a_crash(tmp_path: Path) -> None:
    """A workbook cut off anywhere is said to be damaged."""
    whole = write_xlsx(tmp_path / "b.xlsx", [REEL]).read_bytes()
    for share in range(1, 10):
        path = tmp_path / "cut.xlsx"
        path.write_bytes(whole[: len(whole) * share // 10])
        with pytest.raises(OrderBookError):
            read_back(path)


def test_a_damaged_sheet_inside_a_sound_container(tmp_path: Path) -> None:
    """Damage that shows only while rows are read is named too."""
    path = write_xlsx(tmp_path / "b.xlsx", [REEL])
    source = zipfile.ZipFile(io.BytesIO(path.read_bytes()))
    with zipfile.ZipFile(path, "w") as target:
        for name in source.namelist():
            part = source.read(name)
            target.writestr(name, part[:-40] if name.endswith("sheet1.xml") else part)
    with pytest.raises(OrderBookError, match="is damaged"):
        read_back(path)


def test_an_empty_workbook(tmp_path: Path) -> None:
    """A workbook without a single cell is empty, not without headings."""
    path = tmp_path / "b.xlsx"
    Workbook().save(path)
    with pytest.raises(OrderBookError, match="the book is empty"):
        read_back(path)
