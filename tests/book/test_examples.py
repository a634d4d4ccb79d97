"""The example books: read without a fault, made again alike, faulty where they mean to be."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from collections import Counter
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from tests.book.books import ORDERS, example_mill
from trimopt.book import Product, Unit, read_book
from trimopt.mill import read_mill
from trimopt.paper import UnitSystem


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example books made afresh."""
    folder = tmp_path_factory.mktemp("orders")
    script = ORDERS / "make_examples.py"
    subprocess.run([sys.executable, script, folder], check=True)
    return folder


def parts(path: Path) -> dict[str, bytes]:
    """What a workbook is made of, unpacked."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.mark.parametrize("name", ["shift.xlsx", "stock.xlsx", "week.xlsx", "faulty.xlsx"])
def test_the_books_are_what_their_script_makes(made: Path, name: str) -> None:
    """Every part of the committed book is as the script makes it now."""
    committed, again = parts(ORDERS / name), parts(made / name)
    assert list(committed) == list(again)
    assert [part for part in committed if committed[part] != again[part]] == []


def test_the_book_in_inches(made: Path) -> None:
    """Liner, kraft and text in one book, each in its own basis weight, quantities in every unit."""
    path = ORDERS / "inches" / "shift.csv"
    assert path.read_bytes() == (made / "inches" / "shift.csv").read_bytes()
    book = read_book(path, read_mill(path.with_name("mill.toml"))).require_clean()
    assert book.unit_system is UnitSystem.INCH_POUND
    weights = {dict(order.as_written)["grammage"] for order in book.orders}
    assert weights == {"42 lb/1000 ft²", "50 lb 24×36/500", "60 lb text"}
    assert {order.unit for order in book.orders} == set(Unit)
    (area,) = [order for order in book.orders if order.number == "7105"]
    assert area.quantity == 42 * 2400 * Fraction("0.45359237")


def test_the_shift_book() -> None:
    """Twelve lines, one run, reels and sheets, nothing wrong with any."""
    book = read_book(ORDERS / "shift.xlsx", example_mill()).require_clean()
    assert [warning.wrong for warning in book.warnings] == [
        "blank for 4801-05: the mill's diameter tolerance, 50 mm below the max., holds"
    ]
    assert book.as_of == date(2026, 11, 23)
    assert len(book.orders) == 12
    assert {(order.grade, order.grammage_gsm) for order in book.orders} == {
        ("Folding boxboard", 250.0)
    }
    assert Counter(order.product for order in book.orders) == {Product.REEL: 8, Product.SHEET: 4}


def test_the_week_book() -> None:
    """A hundred and twenty lines in six runs, of every product, unit and core."""
    book = read_book(ORDERS / "week.xlsx", example_mill()).require_clean()
    (warning,) = book.warnings
    by_mill = [order.number for order in book.orders if order.diameter_by_custom]
    assert warning.column == "Min. diameter [mm]"
    assert by_mill
    assert all(number in warning.wrong for number in by_mill[:8])
    assert len(book.orders) == 120
    assert len({(order.grade, order.grammage_gsm) for order in book.orders}) == 6
    assert {order.unit for order in book.orders} == set(Unit)
    assert {order.product for order in book.orders} == set(Product)
    assert {order.core_mm for order in book.orders} == {None, 76.0, 152.0, 305.0}
    assert any(order.no_edge for order in book.orders)
    assert any(order.tolerance_by_custom for order in book.orders)
    assert any(order.remarks.startswith("=") for order in book.orders)
    days = {order.due.date() for order in book.orders if order.due is not None}
    assert date(2026, 11, 24) <= min(days) <= max(days) <= date(2026, 11, 30)


FAULTS = """\
Orders, row 7, Grade: blank; a grade of the mill file
Orders, row 8, Quantity: "twenty" text where a number belongs; write the number alone
Orders, row 9, Width across [mm]: "-820" negative; a figure above 0
Orders, row 10, Quantity: "0" zero; a quantity above 0
Orders, row 11, Order: "9005" also used in row 12; give every line its own number
Orders, row 12, Order: "9005" also used in row 11; give every line its own number
Orders, row 13, Max. diameter [mm]: "1250" a diameter on a sheet line; leave it blank, or \
make it a reel
Orders, row 13, Core [mm]: "152" a core on a sheet line; leave it blank, or make it a reel
Orders, row 14, Chop [mm]: "1020" a chop on a reel line; leave it blank, or make it a sheet
Orders, row 15, Chop [mm]: a sheet line without its chop; the dimension along the machine \
direction
Orders, row 16, Width across [mm]: "4700" wider than the winder's widest reel (2600 mm); 2600 \
mm would pass
Orders, row 17, Width across [mm]: "2700" wider than the winder's widest reel (2600 mm); 2600 \
mm would pass
Orders, row 18, Width across [mm]: "240" narrower than the winder's narrowest reel (300 mm); \
300 mm would pass
Orders, row 19, Width across [mm]: "2200" wider than any sheeter takes at 1 up; 2134 mm would \
pass
Orders, row 20, Chop [mm]: "1750" no sheeter cuts a chop of 1750 mm; 400 to 1600 mm (Sheeter 1) \
or 350 to 1300 mm (Sheeter 2) would pass
Orders, row 21, Grade: "Folding boxbord" the mill file has no such grade; "Folding boxboard" is \
the nearest
Orders, row 22, Core [mm]: "150" the winder has no core of 150 mm; 76, 152 or 305 mm would \
pass
Orders, row 23, Min. diameter [mm]: "1250" above the max. diameter (1150 mm); the smaller \
figure as the min., the larger as the max.
Orders, row 24, Min. diameter [mm]: "1600" the winder makes diameters of 600 to 1500 mm; a min. of \
1500 mm would pass
Orders, row 25, Max. reel mass [kg]: "300" the lightest reel in the diameter range weighs \
530 kg, above the order's max. reel mass 300 kg; the order's max. reel mass of 530 kg, a width \
of 464 mm or a min. diameter of 872 mm (1463 m on the 152 mm core) would pass
Orders, row 26, Quantity: "1,250" can be read as 1.250 or as 1250; write 1250 or 1.25, or state \
the book's decimal sign in a pair of cells above the table (Decimal sign | , or .) or under \
[export] in the mill file (decimal_sign = "," or ".")
Orders, row 27, Due: "03/04/2026" can be read as 2026-04-03 or as 2026-03-04; write it with the \
year first, or state the book's date order in a pair of cells above the table (Date order | \
d/m/y or m/d/y) or under [export] in the mill file (date_order = "d/m/y" or "m/d/y")
Orders, row 28, Under tolerance [%]: "0.05" may mean 0.05 % or 5 %; write 0.05 % or 5 % with \
its sign
Orders, row 29, Unit: "sheets" a reel line in sheets; write reels, t, kg or m
Orders, row 30, Sheets per ream: reams without their count; write the sheets a ream, or a unit \
such as reams of 500
Orders, row 31, Product: "bobbin" neither reel nor sheet; write reel or sheet
Orders, row 32, Quantity: "12.5" not a whole number of reels; a whole number of reels
Orders, row 33, Unit: no unit for the quantity; write reels, t, kg, m, sheets or reams
Orders, row 34, Keep off edge: "maybe" neither yes nor no; write yes, y or x, or no, n or 0
Orders, row 35, Priority: "1.5" not a whole number; a whole number from 1 up
Orders, row 36, Due: "soon" not a date; write it like 2026-04-03 or 3.4.2026
Orders, row 38, Quantity: "=10+10" the formula was saved without its result; open the book in a \
spreadsheet program, save it again, or type the value
Orders, row 39, Customer: merged cells down to row 40; unmerge them and fill in every cell
Orders, row 42, Order: blank; the order's number
Jumbos, row 6, Grade: "Duplex" the mill file has no such grade; one of Folding boxboard, Coated \
boxboard, White-lined board, Carrier board, White-top liner, Kraft liner
Jumbos, row 7, Length [m]: "150" its start and end loss take 200 m of it; more than 200 m
"""


def test_the_faulty_book() -> None:
    """Every fault text of the faulty book, word for word, in the order in which they stand."""
    book = read_book(ORDERS / "faulty.xlsx", example_mill())
    said = [str(fault) for fault in book.faults]
    assert said == FAULTS.splitlines()
    assert [order.number for order in book.orders] == ["9000", "9030", "9034"]
    assert [jumbo.name for jumbo in book.jumbos] == ["M-301"]
    left_out = [each.order for each in book.left_out]
    assert left_out[0] == "9001"
    assert left_out[-3:] == ["row 42", "jumbo M-302", "jumbo M-303"]
    assert [str(warning) for warning in book.warnings] == [
        "Orders: hidden row 41: read all the same; show them, or delete what is not meant",
        'Orders, row 37, Due: "2026-11-20" overdue on 2026-11-23; planned all the same',
    ]
