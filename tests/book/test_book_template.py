"""The empty order book: what it offers, and that what is filled in comes back."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from tests.book.books import AS_OF, example_mill, one_fault
from trimopt.book import read_book, write_template
from trimopt.book.book_columns import name_key
from trimopt.book.table_kinds import DEFECTS, JUMBOS, KINDS, ORDERS, RUN_DAYS, STOCK
from trimopt.errors import OrderBookError, ReportError
from trimopt.guide import chapter_text
from trimopt.mill import Grade


def test_an_empty_book_has_no_line(tmp_path: Path) -> None:
    """Read back as it is, its headings are all known and only the lines are missing."""
    path = tmp_path / "orders.xlsx"
    write_template(path, example_mill())
    with pytest.raises(OrderBookError) as caught:
        read_book(path, example_mill())
    (fault,) = caught.value.faults
    assert (fault.where, fault.row) == ("Orders", ORDERS.heading_row)
    assert fault.wrong == "no order line under the headings"


def test_what_is_filled_in_comes_back(tmp_path: Path) -> None:
    """A user fills in a line, a jumbo and the settings; all of it is read, without a warning."""
    path = tmp_path / "orders.xlsx"
    write_template(path, example_mill())
    workbook = load_workbook(path)
    orders, jumbos = workbook["Orders"], workbook["Jumbos"]
    orders["B2"], orders["E2"], orders["H2"] = date(2026, 11, 20), "comma", "d/m/y"
    orders["K2"] = datetime.fromisoformat("2026-11-20T14:00")
    line: dict[str, Any] = {
        "number": "1001", "customer": "-Wrenlow", "grade": "Kraft liner", "grammage": 175,
        "product": "reel", "width": "1.250,5", "min_diameter": "free", "max_diameter": 1500,
        "core": 305, "quantity": 12.5, "unit": "t", "under": 5, "over": 7.5, "made": 2,
        "due": "03/12/2026", "priority": 1, "no_edge": "yes", "takes_seconds": "yes",
        "max_reel_mass": 3000, "joins_allowed": 1,
        "winding_side": "out", "packing": "film", "destination": "Marlhaven", "remarks": "@x",
    }  # fmt: skip
    for index, column in enumerate(ORDERS.offered, start=1):
        orders.cell(ORDERS.heading_row + 1, index, line.get(column.key))
    jumbos["C2"] = jumbos["F2"] = "yes"
    cells: list[Any] = ["M-1", "Kraft liner", 175, 4680, 20000]
    for index, value in enumerate(cells, start=1):
        jumbos.cell(JUMBOS.heading_row + 1, index, value)
    workbook["Defects"]["C2"] = "spool"
    for index, value in enumerate(["M-1", 0, 300, None, 40, "hole"], start=1):
        workbook["Defects"].cell(DEFECTS.heading_row + 1, index, value)
    cells = ["S-1", "Kraft liner", 175, 900, 4000, None, None, 305, "Bay 1", "01/11/2026", 1, "@x"]
    for index, value in enumerate(cells, start=1):
        workbook["Stock"].cell(STOCK.heading_row + 1, index, value)
    cells = ["Kraft liner", 175, date(2026, 12, 1), "02/12/2026"]
    for index, value in enumerate(cells, start=1):
        workbook["Run days"].cell(RUN_DAYS.heading_row + 1, index, value)
    workbook.save(path)
    book = read_book(path, example_mill()).require_clean()
    assert not book.warnings
    assert book.as_of == date(2026, 11, 20)
    assert book.only_listed_jumbos
    assert book.jumbos_in_order
    assert book.shift_ends == datetime.fromisoformat("2026-11-20T14:00")
    (jumbo,), (order,) = book.jumbos, book.orders
    assert (jumbo.name, jumbo.length_m, jumbo.loss_start_m) == ("M-1", 20000, 120)
    assert order.width_mm == Fraction(2501, 2)
    assert (int(order.quantity), int(order.made)) == (12500, 2000)
    assert (order.customer, order.remarks) == ("-Wrenlow", "@x")
    assert order.due is not None
    assert order.due.month == 12
    assert order.no_edge
    assert order.takes_seconds
    (defect,) = jumbo.defects
    assert (int(defect.to_mm), defect.what) == (40, "hole")
    (reel,) = book.stock
    assert (reel.length_m, reel.made_on, reel.reserved_for) == (4000, date(2026, 11, 1), "@x")
    (day,) = book.run_days
    assert (day.grade, day.grammage_gsm) == ("Kraft liner", 175.0)
    assert (f"{day.begins}", f"{day.ends}") == ("2026-12-01 00:00:00", "2026-12-02 23:59:00")


def test_it_is_the_same_every_time(tmp_path: Path) -> None:
    """The same mill gives the same bytes."""
    for name in ("a.xlsx", "b.xlsx"):
        write_template(tmp_path / name, example_mill())
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_it_is_ready_to_fill_in_and_print(tmp_path: Path) -> None:
    """Notes on headings, drop-downs, a frozen heading row, and a print set-up."""
    path = tmp_path / "orders.xlsx"
    write_template(path, example_mill())
    workbook = load_workbook(path)
    assert workbook.sheetnames == [
        "Orders", "Jumbos", "Defects", "Stock", "Instructions", "Run days", "How to fill in",
        "Lists",
    ]  # fmt: skip
    assert workbook["Lists"].sheet_state == "hidden"
    for name, row in (("Orders", ORDERS.heading_row), ("Jumbos", JUMBOS.heading_row)):
        sheet = workbook[name]
        assert sheet.freeze_panes == f"B{row + 1}"
        headings = [cell for cell in sheet[row] if cell.value]
        assert all(cell.comment is not None and cell.comment.text for cell in headings)
        assert sheet.print_title_rows == f"${row}:${row}"
        assert sheet.page_setup.paperSize == 9
        assert sheet.page_setup.orientation == "landscape"
    rules = {
        str(rule.sqref).partition(":")[0]: rule
        for rule in workbook["Orders"].data_validations.dataValidation
    }
    lists = {place: rule.formula1 for place, rule in rules.items() if rule.type == "list"}
    row = ORDERS.heading_row + 1
    places = {
        column.key: f"{chr(ord('A') + index)}{row}" for index, column in enumerate(ORDERS.offered)
    }
    assert lists[places["product"]] == '"reel,sheet"'
    assert lists[places["grade"]] == "Lists!$A$2:$A$7"
    assert lists[places["core"]] == "Lists!$B$2:$B$4"
    assert lists[places["no_edge"]] == '"yes,no"'
    assert "reams" in str(lists[places["unit"]])
    assert rules[places["width"]].type == "decimal"
    listed = [cell.value for cell in workbook["Lists"]["A"]][1:]
    assert listed == [grade.name for grade in example_mill().grades]


def test_all_that_is_read_is_offered(tmp_path: Path) -> None:
    """Every table has its sheet; every column and setting is on it, or explained beside it."""
    path = tmp_path / "orders.xlsx"
    write_template(path, example_mill())
    workbook = load_workbook(path)
    guide = (chapter_text("book") + chapter_text("scheduler")).casefold()
    words = set(name_key(guide).split())
    explained = {row[0] for row in workbook["How to fill in"].iter_rows(values_only=True)}
    for kind in KINDS:
        page = workbook[kind.tab]
        assert [c.value for c in page[kind.heading_row] if c.value] == [
            column.heading for column in kind.offered
        ]
        assert {one.heading for one in kind.settings} <= {cell.value for cell in page[2]}
        assert f"*{kind.name}*" in guide or kind is ORDERS
        for one in (*kind.settings, *kind.columns):
            assert one.heading in explained, one.heading
            assert set(name_key(one.heading.partition("[")[0]).split()) <= words, one.heading


def test_a_grade_that_begins_like_a_formula(tmp_path: Path) -> None:
    """Names from the mill file are texts in the book, whatever they begin with."""
    odd = Grade(name="=1+1", caliper_um=300, bulk_cm3_g=None, density_kg_m3=None, wound_factor=1.0)
    mill = replace(example_mill(), name="+Mill", grades=(odd,))
    path = tmp_path / "orders.xlsx"
    write_template(path, mill)
    workbook = load_workbook(path)
    for sheet in workbook:
        assert not [cell.coordinate for row in sheet for cell in row if cell.data_type == "f"]
    assert workbook["Lists"]["A2"].value == "=1+1"


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    """The error says where, as of any file."""
    (tmp_path / "no").write_text("")
    with pytest.raises(ReportError, match="cannot be written"):
        write_template(tmp_path / "no" / "orders.xlsx", example_mill())


def test_a_spreadsheet_program_opens_and_saves_it(tmp_path: Path) -> None:
    """Saved again by a spreadsheet program, a filled-in book reads as before."""
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("no spreadsheet program on this machine")
    path = tmp_path / "orders.xlsx"
    write_template(path, example_mill())
    workbook = load_workbook(path)
    sheet = workbook["Orders"]
    line: list[Any] = [
        "1",
        "Wrenlow",
        "Kraft liner",
        175,
        "reel",
        1250.5,
        None,
        None,
        1500,
        305,
        "=3*4",
        "t",
    ]
    for index, value in enumerate(line, start=1):
        sheet.cell(ORDERS.heading_row + 1, index, value)
    workbook.save(path)
    assert "without its result" in one_fault(read_book(path, example_mill(), as_of=AS_OF)).wrong
    command = [office, f"-env:UserInstallation=file://{tmp_path}/profile", "--headless"]
    command += ["--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(tmp_path / "out")]
    subprocess.run([*command, str(path)], check=True, capture_output=True, timeout=120)
    (order,) = read_book(tmp_path / "out" / "orders.xlsx", example_mill(), as_of=AS_OF).orders
    assert (int(order.quantity), order.width_mm) == (12000, Fraction(2501, 2))
