"""Signs and date orders that differ inside one book are a fault with both places."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.book.books import AS_OF, REEL, example_mill, one_fault, write_csv
from trimopt.book import Book, read_book

NUMBERED = [{**REEL, "Order": f"R{number}", "Unit": "kg"} for number in range(3)]


def read(path: Path, cells: list[dict[str, Any]], **settings: str) -> Book:
    """Three reel orders with some cells changed."""
    rows = [{**row, **changed} for row, changed in zip(NUMBERED, cells, strict=True)]
    return read_book(write_csv(path, rows, settings=settings), example_mill(), as_of=AS_OF)


@pytest.mark.parametrize(
    ("cells", "column", "shown"),
    [
        (["1.250,5", "2.500,5", "1,250.5"], "Quantity", '"1.250,5" shows ,'),
        (["1250,5", "2500", "1250.5 kg"], "Quantity", '"1250,5" shows ,'),
        (["13/12/2026", "14/12/2026", "12/15/2026"], "Due", '"13/12/2026" shows d/m/y'),
        (["3.12.2026", "4.12.2026", "12/15/2026"], "Due", '"3.12.2026" shows d/m/y'),
    ],
)
def test_two_ways_in_one_book(tmp_path: Path, cells: list[str], column: str, shown: str) -> None:
    """The rarer way is the fault; it names the place of the other."""
    fault = one_fault(read(tmp_path / "b.csv", [{column: cell} for cell in cells]))
    assert (fault.row, fault.value) == (5, cells[2])
    assert f"row 3, {column}, {shown}" in fault.wrong


def test_across_columns(tmp_path: Path) -> None:
    """A width with a comma beside a tolerance with a point."""
    cells = [{"Width across [mm]": "820,5"}, {}, {"Under tolerance [%]": "2.5"}]
    assert "decimal sign" in one_fault(read(tmp_path / "b.csv", cells)).wrong


def test_one_way_is_no_fault(tmp_path: Path) -> None:
    """Figures that may be of either way say nothing."""
    cells = [{"Quantity": "1.250,5"}, {"Quantity": "1 250"}, {"Quantity": "7", "Due": "3/3/2026"}]
    assert len(read(tmp_path / "b.csv", cells).require_clean().orders) == 3
