"""Books as text: separators, encodings, decimal signs, dates, and what cannot be read."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from tests.book.books import AS_OF, REEL, SHEET, example_mill, one_fault, write_csv
from trimopt.book import Book, read_book
from trimopt.errors import OrderBookError

HEAD = "Order;Grade;Grammage;Product;Width;Quantity;Unit;Tolerance\n"


def read_text(folder: Path, text: str | bytes, name: str = "book.csv") -> Book:
    """The book of this text."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_book(path, example_mill(), as_of=AS_OF)


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_separators_and_encodings(tmp_path: Path, delimiter: str, encoding: str) -> None:
    """Any usual separator and encoding gives the same order, without a warning."""
    row = {**REEL, "Customer": "Köhlmark; Sons, Ltd"}
    path = write_csv(tmp_path / "book.csv", [row], delimiter=delimiter, encoding=encoding)
    book = read_book(path, example_mill(), as_of=AS_OF)
    assert book.require_clean() is book
    assert not book.warnings
    (order,) = book.orders
    assert order.customer == "Köhlmark; Sons, Ltd"
    assert (int(order.width_mm), int(order.quantity), order.row) == (820, 20, 3)


def test_windows_text_is_read_with_a_warning(tmp_path: Path) -> None:
    """Bytes that are not UTF-8 are read as Windows text, and that is said."""
    path = write_csv(tmp_path / "b.csv", [{**REEL, "Customer": "Köhlmark"}], encoding="cp1252")
    book = read_book(path, example_mill(), as_of=AS_OF)
    assert book.orders[0].customer == "Köhlmark"
    assert "1252" in book.warnings[0].wrong


def test_a_separator_line_of_spreadsheet_programs(tmp_path: Path) -> None:
    """A first line such as sep=; is obeyed and keeps its row number."""
    book = read_text(tmp_path, "sep=;\n" + HEAD + "1;Folding boxboard;250;reel;820;20;reels;5\n")
    assert book.orders[0].row == 3


def test_decimal_commas(tmp_path: Path) -> None:
    """With the decimal sign stated, 1,250 t is one and a quarter tonnes."""
    line = "1;Folding boxboard;250;reel;749,5;1,250;t;7,5\n"
    without = read_text(tmp_path, HEAD + line)
    assert "can be read as 1.250 or as 1250" in one_fault(without).wrong
    stated = read_text(tmp_path, "Decimal sign;,\n" + HEAD + line)
    (order,) = stated.orders
    assert (order.width_mm, order.quantity) == (Fraction(1499, 2), Fraction(1250))
    assert order.under == order.over == Fraction(3, 40)
    points = read_text(tmp_path, "Decimal sign;point\n" + HEAD + line.replace("749,5", "749.5"))
    assert one_fault(points).value == "7,5"


@pytest.mark.parametrize(
    "stated",
    ["Stand;26.11.2026", "Stand: 26.11.2026", "Stichtag 26.11.2026 06:00", "As of 2026-11-26"],
)
def test_the_day_of_a_book_in_other_words(tmp_path: Path, stated: str) -> None:
    """German, and in one cell with its name, as exports have it."""
    path = tmp_path / "book.csv"
    path.write_text(f"{stated}\n{HEAD}1;Folding boxboard;250;reel;820;20;reels;5\n")
    book = read_book(path, example_mill())
    assert book.as_of == date(2026, 11, 26)
    assert not any(warning.column == "As of" for warning in book.warnings)


def test_a_setting_that_says_nothing_known(tmp_path: Path) -> None:
    """A decimal sign that is none, and one stated twice, are faults of the book."""
    line = "1;Folding boxboard;250;reel;820;20;reels;5\n"
    fault = one_fault(read_text(tmp_path, "Decimal sign;semicolon\n" + HEAD + line))
    assert (fault.row, fault.column) == (1, "Decimal sign")
    fault = one_fault(read_text(tmp_path, "Decimal sign;,\nDecimal sign;.\n" + HEAD + line))
    assert "second time" in fault.wrong


def test_a_blank_setting_does_not_take_its_neighbour(tmp_path: Path) -> None:
    """Settings side by side: a blank one states nothing."""
    pairs = "As of;;Decimal sign;,;Date order;\n"
    book = read_text(tmp_path, pairs + HEAD + "1;Folding boxboard;250;reel;820,5;20;reels;5\n")
    assert book.require_clean().orders[0].width_mm == Fraction(1641, 2)


def test_the_day_of_the_book(tmp_path: Path) -> None:
    """Asked, stated, or today: in that order, and the last with a warning."""
    text = HEAD + "1;Folding boxboard;250;reel;820;20;reels;5\n"
    path = tmp_path / "book.csv"
    path.write_text("As of;20.11.2026\n" + text, encoding="utf-8")
    assert read_book(path, example_mill()).as_of == date(2026, 11, 20)
    assert read_book(path, example_mill(), as_of=AS_OF).as_of == AS_OF
    path.write_text(text, encoding="utf-8")
    book = read_book(path, example_mill())
    assert book.as_of >= date(2026, 1, 1)
    assert "today" in book.warnings[0].wrong


def test_an_overdue_line_is_a_warning(tmp_path: Path) -> None:
    """Overdue is judged at the day of the book, and the line is still planned."""
    rows = [{**REEL, "Due": "22.11.2026"}, {**SHEET, "Due": "23.11.2026"}]
    book = read_book(write_csv(tmp_path / "b.csv", rows), example_mill(), as_of=AS_OF)
    (warning,) = book.warnings
    assert (warning.column, warning.row) == ("Due", 3)
    assert "overdue on 2026-11-23" in warning.wrong
    assert len(book.orders) == 2


def test_a_row_split_wrongly_is_a_fault(tmp_path: Path) -> None:
    """An unquoted decimal comma in a book with commas shifts the cells: never read so."""
    head = HEAD.replace(";", ",")
    lines = (
        "1,Folding boxboard,250,reel,749,5,20,reels,5\n2,Folding boxboard,250,reel,820,20,reels,5\n"
    )
    book = read_text(tmp_path, head + lines)
    assert any("more cells than there are headings" in fault.wrong for fault in book.faults)
    assert [each.order for each in book.left_out] == ["1"]
    assert [order.number for order in book.orders] == ["2"]


def test_more_cells_alone_leave_the_line_out(tmp_path: Path) -> None:
    """A line that reads well but has a cell too many is not planned."""
    book = read_text(tmp_path, HEAD + "1;Folding boxboard;250;reel;820;20;reels;5;7\n")
    assert not book.orders
    assert one_fault(book).value == "7"


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        (b"", "is empty"),
        (b"\n\n;;\n", "is empty"),
        (b"a;b\n1;2\n", "no row with the headings"),
        (HEAD.encode(), "no order line"),
        (b"\x00\x01\x02\x81\xff", "not a text file"),
        (HEAD.encode() + b'1;"Folding boxboard;250', "cannot be split"),
        (b"Order;Customer;Grade;Quantity;Unit\n1;a;b;2;t\n", "no column has this heading"),
        (b"Order;Width;Grade;Grammage;Product;Quantity;Reel width\n", "second column"),
        (b"Order;Width;Grade;Product;Antal;Unit\n", 'none is Quantity, which "Antal" may be'),
    ],
)
def test_a_book_that_gives_no_line_is_an_error(tmp_path: Path, text: bytes, wrong: str) -> None:
    """Where nothing can be read, the error says why at once."""
    with pytest.raises(OrderBookError) as caught:
        read_text(tmp_path, text)
    assert any(wrong in fault.wrong for fault in caught.value.faults)
    assert "\n  :" not in str(caught.value)


def test_missing_columns_are_all_named(tmp_path: Path) -> None:
    """Every missing column is named, with the headings that nobody knew."""
    with pytest.raises(OrderBookError) as caught:
        read_text(tmp_path, "Order;Colour;Grade;Quantity;Unit;Due\n1;red;b;2;t;\n")
    columns = [fault.column for fault in caught.value.faults]
    assert columns == ["Grammage [g/m²]", "Product", "Width across [mm]"]
    assert '"Colour"' in caught.value.faults[0].wrong


def test_no_such_file_and_a_folder(tmp_path: Path) -> None:
    """A path that is no file is said so."""
    with pytest.raises(OrderBookError, match="no such file"):
        read_book(tmp_path / "nothing.csv", example_mill())
    with pytest.raises(OrderBookError, match="a folder"):
        read_book(tmp_path, example_mill())


def test_an_unknown_column_is_a_warning(tmp_path: Path) -> None:
    """A column that is not read is named, so that a misspelt heading is seen."""
    book = read_book(write_csv(tmp_path / "b.csv", [{**REEL, "Salesperson": 1}]), example_mill(),
                as_of=AS_OF)  # fmt: skip
    (warning,) = book.warnings
    assert warning.column == "Salesperson"
