"""Blank cells under a repeated key are never free without a word."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.book.books import REEL, SHEET, one_fault
from tests.book.test_furniture import book_of
from trimopt.book import Book

KEYS = ("Customer", "Due", "Min. diameter [mm]", "Max. diameter [mm]", "Core [mm]")
ALL = ("customer", "due", "min_diameter", "max_diameter", "core")


def lines(*sizes: int) -> list[dict[str, Any]]:
    """Groups of lines, each of one customer, date, diameter and core."""
    made = []
    for group, size in enumerate(sizes):
        for line in range(size):
            head = {"Customer": f"Customer {group}", "Due": f"2026-12-{group + 1:02d}"}
            made.append({"Line": line + 1, **REEL, **head, "Order": f"{group}-{line}",
                         "Width across [mm]": 800 + 50 * line})  # fmt: skip
    return made


def pivot(rows: list[dict[str, Any]], *keys: str) -> list[dict[str, Any]]:
    """The rows with these cells on the first of each group only."""
    made: list[dict[str, Any]] = []
    for above, row in zip([{}, *rows], rows, strict=False):
        same = above.get("Customer") == row["Customer"]
        made.append({**row, **dict.fromkeys(keys)} if same else row)
    return made


def read(path: Path, rows: list[dict[str, Any]], **export: Any) -> Book:
    """The book of these rows."""
    headings = list(dict.fromkeys(heading for row in rows for heading in row))
    return book_of(path, [[row.get(h) for h in headings] for row in rows], headings, **export)


@pytest.mark.parametrize("sizes", [(4,), (4, 2, 1, 3), (1, 2, 2)])
def test_a_pivot_is_asked_about_and_filled(tmp_path: Path, sizes: tuple[int, ...]) -> None:
    """One question; its answer gives the orders of the book that was written out in full."""
    full, short = lines(*sizes), pivot(lines(*sizes), *KEYS)
    asked = read(tmp_path / "a.xlsx", short)
    fault = one_fault(asked)
    assert all(f'"{key}"' in fault.right for key in ALL)
    assert len(asked.orders) == len(sizes)
    filled = read(tmp_path / "b.xlsx", short, fill_down=ALL).require_clean()
    assert filled.orders == read(tmp_path / "c.xlsx", full).require_clean().orders
    assert sum("as on the line above" in warning.wrong for warning in filled.warnings) == len(ALL)


def test_blanks_on_purpose(tmp_path: Path) -> None:
    """An empty list says that a blank is a blank."""
    book = read(tmp_path / "a.xlsx", pivot(lines(4), *KEYS), fill_down=())
    assert len(book.require_clean().orders) == 4
    assert book.orders[1].due is None


def test_the_order_number_left_out(tmp_path: Path) -> None:
    """A line without its number is asked about once, and not a blank of its own besides."""
    rows = [{**row, "Order": f"A{row['Customer'][-1]}"} for row in lines(2, 2)]
    short = pivot(rows, "Order", *KEYS)
    fault = one_fault(read(tmp_path / "a.xlsx", short))
    assert '"number", "customer"' in fault.right
    book = read(tmp_path / "b.xlsx", short, fill_down=("number", *ALL)).require_clean()
    assert [order.number for order in book.orders] == ["A0/1", "A0/2", "A1/1", "A1/2"]
    assert {order.core_mm for order in book.orders} == {152}


def test_lines_of_one_order(tmp_path: Path) -> None:
    """Under one order number a blank core is not any core."""
    rows = [{**row, "Order": "A1"} for row in lines(3)]
    rows[2]["Core [mm]"] = None
    fault = one_fault(read(tmp_path / "a.xlsx", rows))
    assert (fault.row, fault.column) == (4, "Core [mm]")


def test_a_customer_on_every_line(tmp_path: Path) -> None:
    """The customer is repeated, the rest is not: recognised where it is no chance."""
    short = pivot(lines(4, 3), *KEYS[1:])
    assert '"due"' in one_fault(read(tmp_path / "a.xlsx", short)).right
    filled = read(tmp_path / "b.xlsx", short, fill_down=ALL[1:]).require_clean()
    assert filled.orders == read(tmp_path / "c.xlsx", lines(4, 3)).require_clean().orders


def test_a_sheet_line_takes_no_core(tmp_path: Path) -> None:
    """What a sheet cannot have is neither missed nor filled into it."""
    rows = lines(3)
    rows[1] = {**rows[1], **{key: SHEET[key] for key in SHEET if key not in {"Order", "Customer"}}}
    short = pivot(rows, "Customer", "Due", "Core [mm]")
    book = read(tmp_path / "a.xlsx", short, fill_down=("customer", "due", "core")).require_clean()
    assert [order.core_mm for order in book.orders] == [152, None, 152]


def test_a_new_customer_takes_nothing_from_above(tmp_path: Path) -> None:
    """A first line that lacks a date has none."""
    rows = pivot(lines(2, 2), "Customer", "Due")
    rows[2]["Due"] = None
    book = read(tmp_path / "a.xlsx", rows, fill_down=("customer", "due")).require_clean()
    assert [order.due is None for order in book.orders] == [False, False, True, True]
