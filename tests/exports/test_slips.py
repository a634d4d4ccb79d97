"""Exports with furniture and slips: read right, asked about or refused, never silently wrong."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from tests.book.books import AS_OF, example_mill
from tests.exports.slips import SLIPS, Export, random_export
from trimopt.book import Book, read_book
from trimopt.errors import Fault, OrderBookError

SEEDS = range(30)


def outcome(export: Export, folder: Path) -> str:
    """What became of an export; an order that is read otherwise than meant fails."""
    try:
        book = read_book(export.write(folder), example_mill(), as_of=AS_OF)
    except OrderBookError as error:
        return _asked_or_refused(error.faults)
    _no_order_wrong(export, book)
    if book.faults:
        return _asked_or_refused(book.faults)
    assert {order.number for order in book.orders} == set(export.meant), export.done
    return "right"


def _asked_or_refused(faults: tuple[Fault, ...]) -> str:
    asked = any("mill file" in fault.right or "state the book" in fault.right for fault in faults)
    return "asked" if asked else "refused"


def _no_order_wrong(export: Export, book: Book) -> None:
    for order in book.orders:
        assert order.number in export.meant, (order.number, export.done)
        width, quantity, due, core = export.meant[order.number]
        assert abs(float(order.width_mm) - width) < 0.01, export.done
        read = (float(order.quantity), order.due and order.due.date().isoformat(), order.core_mm)
        assert read == (quantity, due, core), (order.number, export.done)


@pytest.mark.parametrize("slip", sorted(SLIPS))
def test_each_slip(slip: str, tmp_path: Path) -> None:
    """Every slip alone, in a text file and in a workbook."""
    for seed in (1, 2):
        export = random_export(seed, slips=[slip])
        export.as_csv = seed == 1
        outcome(export, tmp_path)


def test_thirty_exports(tmp_path: Path) -> None:
    """Thirty at random: nothing silently wrong, and a good part of them read as they are."""
    count = Counter(outcome(random_export(seed), tmp_path) for seed in SEEDS)
    assert count.total() == len(SEEDS)
    assert count["right"] >= 5
    assert count["asked"] >= 5
