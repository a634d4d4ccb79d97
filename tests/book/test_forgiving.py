"""What must not matter does not: order of columns, spelling of headings, signs, kind of file."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from tests.book.books import AS_OF, REEL, SHEET, example_mill, write_csv, write_xlsx
from trimopt.book import Book, Order, read_book
from trimopt.book.order_columns import ORDER_COLUMNS
from trimopt.errors import OrderBookError
from trimopt.text import one_form

few = settings(max_examples=40)

ROWS = (
    {**REEL, "Order": "R1", "Due": "2026-11-27", "Keep off edge": "yes", "Remarks": "-careful"},
    {**REEL, "Order": "R2", "Quantity": 12.5, "Unit": "t", "Core [mm]": None, "Packing": "film"},
    {**SHEET, "Order": "S1", "Quantity": 40, "Unit": "reams of 250", "Priority": 2},
)


@contextmanager
def folder() -> Iterator[Path]:
    """A folder of its own for every example."""
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


def plain(book: Book) -> tuple[Order, ...]:
    """The orders without the row that they stood in."""
    orders = (replace(order, row=0) for order in book.require_clean().orders)
    return tuple(sorted(orders, key=lambda order: order.number))


@cache
def expected() -> tuple[Order, ...]:
    """The orders of `ROWS` as first written."""
    with folder() as here:
        return plain(read_book(write_xlsx(here / "b.xlsx", ROWS), example_mill(), as_of=AS_OF))


@few
@given(st.randoms(use_true_random=False), st.sampled_from(["xlsx", "csv"]))
def test_order_of_columns_and_rows(shuffler: random.Random, kind: str) -> None:
    """Any order of columns and of rows gives the same orders, from either kind of file."""
    headings = list(dict.fromkeys(heading for row in ROWS for heading in row))
    shuffler.shuffle(headings)
    rows = [{heading: row.get(heading) for heading in headings} for row in ROWS]
    shuffler.shuffle(rows)
    with folder() as here:
        if kind == "xlsx":
            path = write_xlsx(here / "b.xlsx", rows)
        else:
            texts = [
                {key: "" if cell is None else str(cell) for key, cell in row.items()}
                for row in rows
            ]
            path = write_csv(here / "b.csv", texts, settings={"Decimal sign": "."})
        assert plain(read_book(path, example_mill(), as_of=AS_OF)) == expected()


@st.composite
def spelling(draw: st.DrawFn, heading: str) -> str:
    """Another spelling of one of our headings: another name, another case, other spaces."""
    column = next(one for one in ORDER_COLUMNS if heading in {one.heading, *one.names})
    name = draw(st.sampled_from([heading, column.heading, *column.names]))
    name = name.partition("[")[0].strip()
    name = draw(st.sampled_from([name.upper(), name.lower(), name.title(), name]))
    name = name.replace(" ", draw(st.sampled_from([" ", "  ", "_", "-", "\n", "\u00a0"])))
    name = draw(st.sampled_from(["{}", " {} ", "{}:", "{}."])).format(name)
    unit = heading.partition("[")[2].removesuffix("]")
    if unit:
        name += draw(st.sampled_from([" [{}]", "({})", " ( {} )", " {{{}}}"])).format(unit)
    return name


@few
@given(st.data())
def test_spelling_of_headings(data: st.DataObject) -> None:
    """Any name of a column in any case, spacing and bracket gives the same orders."""
    headings = list(dict.fromkeys(heading for row in ROWS for heading in row))
    spelt = {heading: data.draw(spelling(heading)) for heading in headings}
    rows = [{spelt[heading]: cell for heading, cell in row.items()} for row in ROWS]
    with folder() as here:
        book = read_book(write_xlsx(here / "b.xlsx", rows), example_mill(), as_of=AS_OF)
    assert not book.warnings
    assert plain(book) == expected()


def written(figure: Decimal, sign: str, grouped: bool) -> str:
    """A figure with a decimal sign, with or without groups of thousands."""
    text = f"{figure:,f}" if grouped else f"{figure:f}"
    return text if sign == "." else text.translate(str.maketrans(".,", ",."))


@few
@given(
    st.sampled_from([".", ","]),
    st.booleans(),
    st.integers(30_000, 260_000),
    st.integers(1, 99_999_999),
)
def test_decimal_signs(sign: str, grouped: bool, hundredths_mm: int, quantity_g: int) -> None:
    """With its sign stated, a book gives each figure exactly, grouped or not."""
    width, quantity = Decimal(hundredths_mm) / 100, Decimal(quantity_g) / 1000
    row = {
        **REEL,
        "Width across [mm]": written(width, sign, grouped),
        "Quantity": written(quantity, sign, grouped),
        "Unit": "kg",
    }
    with folder() as here:
        path = write_csv(here / "b.csv", [row], settings={"Decimal sign": sign})
        (order,) = read_book(path, example_mill(), as_of=AS_OF).require_clean().orders
    assert order.width_mm == Fraction(hundredths_mm, 100)
    assert order.quantity == Fraction(quantity_g, 1000)


@few
@given(st.text(max_size=30), st.text(max_size=30), st.sampled_from([";", ",", "\t"]))
def test_any_text_in_a_text_column(customer: str, remarks: str, delimiter: str) -> None:
    """Whatever a customer is called, the line is read, its accents in one form."""
    customer, remarks = (
        "".join(sign for sign in text if sign.isprintable()) for text in (customer, remarks)
    )
    row = {**REEL, "Customer": customer, "Remarks": remarks}
    with folder() as here:
        path = write_csv(here / "b.csv", [row], delimiter=delimiter)
        (order,) = read_book(path, example_mill(), as_of=AS_OF).require_clean().orders
    assert order.customer == one_form(" ".join(customer.split()))
    assert order.quantity == 20


@few
@given(st.binary(max_size=400))
def test_any_bytes_are_an_error_of_the_book(data: bytes) -> None:
    """Bytes that are no book are refused as such, in every kind of file."""
    with folder() as here:
        for name in ("b.csv", "b.xlsx"):
            path = here / name
            path.write_bytes(data)
            with pytest.raises(OrderBookError) as caught:
                read_book(path, example_mill(), as_of=AS_OF)
            assert caught.value.faults
