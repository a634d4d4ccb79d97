"""Two dimensions in one cell: never taken apart by their size, only as the mill file says."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.book.books import REEL, SHEET, example_mill, one_fault, read_rows
from trimopt.mill import Export


@pytest.mark.parametrize("chop", [True, False])
@pytest.mark.parametrize(
    ("size", "first", "second"),
    [
        ('24" x 36"', Fraction(24 * 254, 10), Fraction(36 * 254, 10)),
        ("720x1020", 720, 1020),
        ("72 × 102 cm", 720, 1020),
        ("610,5 x 860", Fraction(1221, 2), 860),
        ("28 1/2 x 40 in", Fraction(57 * 254, 20), 1016),
    ],
)
def test_taken_apart_as_the_mill_says(
    tmp_path: Path, size: str, first: Fraction, second: Fraction, chop: bool
) -> None:
    """Across first or along first, with the unit behind either, with a chop column or without."""
    sheet = {**SHEET, "Width": size, "Chop": None}
    rows = [
        {key: cell for key, cell in row.items() if "[mm]" not in key or "dia" in key}
        for row in ({**REEL, "Width": 820}, sheet)
    ]
    if not chop:
        rows = [{key: cell for key, cell in row.items() if key != "Chop"} for row in rows]
    for order, wanted in (("across x along", (first, second)), ("along x across", (second, first))):
        mill = replace(example_mill(), export=Export(size_order=order))
        book = read_rows(tmp_path, *rows, mill=mill).require_clean()
        assert book.orders[0].width_mm == 820
        assert (book.orders[1].width_mm, book.orders[1].chop_mm) == wanted


def test_asked_where_nobody_says(tmp_path: Path) -> None:
    """Which figure lies across the web differs from country to country."""
    fault = one_fault(read_rows(tmp_path, {**SHEET, "Width across [mm]": "720 x 1020"}))
    assert 'size_order = "across x along"' in fault.right
