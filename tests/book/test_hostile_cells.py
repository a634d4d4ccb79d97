"""Any cell of a book may hold anything: a located fault, and never in place of other faults."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
from openpyxl.utils import get_column_letter

from tests.book.books import AS_OF, example_mill
from tests.hostile import FIGURES, OTHERS, RAW, as_csv, hostile_workbook
from trimopt.book import Book, read_book
from trimopt.book.book_columns import BookColumn
from trimopt.book.order_columns import ORDER_COLUMNS
from trimopt.book.table_kinds import (
    INSTRUCTION_COLUMNS,
    JUMBO_COLUMNS,
    RUN_DAY_COLUMNS,
    STOCK_COLUMNS,
)
from trimopt.book.units_of_measure import Dimension
from trimopt.errors import OrderBookError
from trimopt.making import runs_of, stops

_REEL: Mapping[str, object] = {
    "number": "R", "customer": "c", "grade": "Folding boxboard", "grammage": 250, "product": "reel",
    "width": 820, "min_diameter": 1150, "max_diameter": 1250, "core": 152, "quantity": 20,
    "unit": "reels", "under": 5, "over": 5, "priority": 1,
}  # fmt: skip
_SHEET: Mapping[str, object] = {
    **_REEL, "product": "sheet", "width": 720, "chop": 1020, "min_diameter": None,
    "max_diameter": None, "core": None, "quantity": 40000, "unit": "sheets",
}  # fmt: skip
_JUMBO: Mapping[str, object] = {
    "name": "J", "grade": "Folding boxboard", "grammage": 250, "width": 3000, "length": 9000,
}  # fmt: skip
_PIN: Mapping[str, object] = {
    "instruction": "pin", "pattern": "2 × R1", "core": 152, "length": 2700, "number": 2,
}  # fmt: skip
_RUN_DAY: Mapping[str, object] = {
    "grade": "Folding boxboard", "grammage": 250, "begins": "2026-11-24", "ends": "2026-11-25",
}  # fmt: skip
_STOCK: Mapping[str, object] = {
    "reel": "S1", "grade": "Folding boxboard", "grammage": 250, "width": 820, "length": 3000,
    "mass": 615, "diameter": 1235, "core": 152, "place": "Bay 3", "made_on": "2026-10-02",
    "joins": 1, "reserved_for": "R1",
}  # fmt: skip
_TABLES: Mapping[str, tuple[tuple[BookColumn, ...], Mapping[str, object], str, object]] = {
    # Sheet: its columns, a sound row, and a column with what is wrong there whatever else is.
    "Orders": (ORDER_COLUMNS, _REEL, "no_edge", "perhaps"),
    "Jumbos": (JUMBO_COLUMNS, _JUMBO, "grade", "no such grade"),
    "Stock": (STOCK_COLUMNS, _STOCK, "grade", "no such grade"),
    "Instructions": (INSTRUCTION_COLUMNS, _PIN, "pattern", "2 of them"),
    "Run days": (RUN_DAY_COLUMNS, _RUN_DAY, "ends", "soon"),
}
_MEASURED = {
    Dimension.WIDTH, Dimension.LENGTH, Dimension.MASS, Dimension.GRAMMAGE, Dimension.SHARE,
    Dimension.QUANTITY, Dimension.COUNT,
}  # fmt: skip
_CASES = [(name, column.key) for name, (columns, *_) in _TABLES.items() for column in columns]


def _rows(name: str, key: str, values: Sequence[object], *, faulty: bool) -> list[list[object]]:
    """Headings, and a row for each value, in that column; with the other fault or without."""
    columns, sound, other, wrong = _TABLES[name]
    first = columns[0].key
    rows: list[list[object]] = [[column.heading for column in columns]]
    for place, value in enumerate(values):
        line = {**sound, key: value}
        if first != key and name in ("Orders", "Jumbos", "Stock"):
            line[first] = f"{sound[first]}{place + 2}"
        if faulty and key != other:
            line[other] = wrong
        rows.append([line.get(column.key) for column in columns])
    return rows


def _book(name: str, rows: list[list[object]]) -> dict[str, list[list[object]]]:
    orders = _rows("Orders", "number", ["R1", "R2"], faulty=False)
    return {"Orders": rows} if name == "Orders" else {"Orders": orders, name: rows}


def _judged(book: Book, name: str, key: str, values: Sequence[object], where: str) -> None:
    columns, _, other, _ = _TABLES[name]
    headings = {column.heading: column for column in columns}
    found: dict[int, set[str]] = {}
    for fault in book.faults:
        assert fault.where == where
        assert fault.row is not None
        assert fault.column in headings
        assert len(fault.value) <= 60
        found.setdefault(fault.row, set()).add(headings[fault.column].key)
    dimension = next(column.dimension for column in columns if column.key == key)
    for row, value in enumerate(values, start=2):
        if key != other and not (name == "Instructions" and key == "instruction"):
            assert other in found[row], (row, value)
        if dimension in _MEASURED and value in FIGURES:
            assert key in found[row], (row, value)


@pytest.mark.parametrize(("name", "key"), _CASES)
def test_every_cell_of_a_workbook(tmp_path: Path, name: str, key: str) -> None:
    """Each row's other fault is told, and each figure of no size is a fault of its own cell."""
    values = [*FIGURES, *OTHERS]
    path = hostile_workbook(tmp_path / "b.xlsx", _book(name, _rows(name, key, values, faulty=True)))
    _judged(read_book(path, example_mill(), as_of=AS_OF), name, key, values, name)


@pytest.mark.parametrize(("name", "key"), _CASES)
def test_every_cell_that_another_program_wrote(tmp_path: Path, name: str, key: str) -> None:
    """NaN, infinity and thousands of digits in the file itself do not cost the other cells."""
    columns, *_ = _TABLES[name]
    letter = get_column_letter([column.key for column in columns].index(key) + 1)
    tables = _book(name, _rows(name, key, ["x"] * len(RAW), faulty=True))
    raw = {(name, f"{letter}{row}"): xml for row, xml in enumerate(RAW, start=2)}
    path = hostile_workbook(tmp_path / "b.xlsx", tables, raw)
    _judged(read_book(path, example_mill(), as_of=AS_OF), name, key, RAW, name)


@pytest.mark.parametrize("key", [column.key for column in ORDER_COLUMNS])
def test_every_cell_of_a_text_book(tmp_path: Path, key: str) -> None:
    """A csv holds the same as text."""
    values = [value for value in (*FIGURES, *OTHERS) if "\n" not in str(value)]
    path = as_csv(tmp_path / "b.csv", _rows("Orders", key, values, faulty=True))
    _judged(read_book(path, example_mill(), as_of=AS_OF), "Orders", key, [], "b.csv")


@pytest.mark.parametrize("base", [_REEL, _SHEET], ids=["reel", "sheet"])
@pytest.mark.parametrize("key", [column.key for column in ORDER_COLUMNS])
def test_what_is_read_can_be_judged(tmp_path: Path, base: Mapping[str, object], key: str) -> None:
    """An order that was read is either made or stopped by a limit that is named."""
    rows: list[list[object]] = [[column.heading for column in ORDER_COLUMNS]]
    for place, value in enumerate([*FIGURES, *OTHERS]):
        line = {**base, "number": f"N{place}", key: value}
        rows.append([line.get(column.key) for column in ORDER_COLUMNS])
    mill = example_mill()
    path = hostile_workbook(tmp_path / "b.xlsx", {"Orders": rows})
    for run in runs_of(read_book(path, mill, as_of=AS_OF), mill):
        grade = mill.grade(run.grade)
        assert grade is not None
        own = mill.for_paper(grade, run.grammage_gsm)
        for order in run.orders:
            stops(order, own, usable_m=own.jumbo.usable_m)


@pytest.mark.parametrize("name", ["As of", "Decimal sign", "Date order", "Shift ends"])
def test_every_setting(tmp_path: Path, name: str) -> None:
    """A setting that cannot be read is a fault beside those of the lines."""
    for value in [*FIGURES, *OTHERS]:
        rows = [[name, value], *_rows("Orders", "no_edge", ["perhaps"], faulty=False)]
        path = hostile_workbook(tmp_path / "b.xlsx", {"Orders": rows})
        faults = read_book(path, example_mill(), as_of=AS_OF).faults
        assert "Keep off edge" in {fault.column for fault in faults}
        assert {fault.column for fault in faults} <= {"Keep off edge", name}


@pytest.mark.parametrize("unit", ["lb {}x{}, {} sheets", "lb/{} ft²", "reams of {}", "{} mm"])
def test_every_unit_of_a_heading(tmp_path: Path, unit: str) -> None:
    """Figures inside a heading are those of a book, or its fault."""
    for digits in ("0", "9" * 25, "0.0000001", "1" + "0" * 25):
        said = re.sub(r"{}", digits, unit)
        rows = _rows("Orders", "no_edge", ["perhaps"], faulty=False)
        column = 3 if unit.startswith("lb") else 10
        rows[0][column] = f"{str(rows[0][column]).split(' [')[0]} [{said}]"
        path = hostile_workbook(tmp_path / "b.xlsx", {"Orders": rows})
        try:
            faults = read_book(path, example_mill(), as_of=AS_OF).faults
        except OrderBookError as error:
            faults = error.faults
        assert faults
