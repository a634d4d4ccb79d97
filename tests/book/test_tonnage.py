"""Quantities beyond what a mill can make are faults of their lines, not an endless search."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.book.books import REEL, SHEET, example_mill, one_fault, read_rows


@pytest.mark.parametrize(
    "row",
    [
        {**REEL, "Quantity": 100_000},
        {**REEL, "Quantity": 10_000_000},
        {**REEL, "Quantity": 20_001, "Unit": "t"},
        {**REEL, "Quantity": 10**12, "Unit": "m"},
        {**SHEET, "Quantity": 10**10},
    ],
)
def test_one_line_beyond_the_mill(tmp_path: Path, row: dict[str, Any]) -> None:
    """In every unit; the fault says where, how much, and what would be right."""
    book = read_rows(tmp_path, row)
    fault = one_fault(book)
    assert (fault.where, fault.row, fault.column) == ("Orders", 2, "Quantity")
    assert "more than the mill can make of one book (20,000 t)" in fault.wrong
    assert "max_book_t" in fault.right
    assert str(row["Quantity"]) in fault.value
    assert book.orders == ()
    assert [each.order for each in book.left_out] == [row["Order"]]


def test_the_mill_file_states_the_limit(tmp_path: Path) -> None:
    """A larger limit lets the same line pass, a smaller one stops what passed."""
    row = {**REEL, "Quantity": 20_001, "Unit": "t"}
    assert not read_rows(tmp_path, row, mill=replace(example_mill(), max_book_t=20_001.0)).faults
    small = replace(example_mill(), max_book_t=10.0)
    assert one_fault(read_rows(tmp_path, REEL, mill=small)).wrong.startswith("13 t: more")


def test_lines_that_are_too_much_together(tmp_path: Path) -> None:
    """The largest are at fault, so that the rest is a book that can be planned."""
    rows = [{**REEL, "Order": f"R{n}", "Quantity": n, "Unit": "t"} for n in (50, 10, 40, 30)]
    book = read_rows(tmp_path, *rows, mill=replace(example_mill(), max_book_t=85.0))
    assert [(fault.row, fault.wrong.partition(":")[0]) for fault in book.faults] == [
        (2, "50 t, and with the smaller lines 130 t"),
    ]
    assert [order.number for order in book.orders] == ["R10", "R40", "R30"]


def test_what_is_made_already_is_not_counted(tmp_path: Path) -> None:
    """Only what is still to be made has to be made."""
    row = {**REEL, "Quantity": 30_000, "Unit": "t", "Already made": 29_000}
    assert not read_rows(tmp_path, row).faults
