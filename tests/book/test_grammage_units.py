"""Basis weights whose pounds are for what the cell, a unit column or the grade says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.book.books import REEL, example_mill, read_rows
from trimopt.errors import OrderBookError
from trimopt.mill import Mill
from trimopt.paper import basis_weight_unit

BARE = {key: value for key, value in REEL.items() if key != "Grammage [g/m²]"}
LINER, KRAFT, TEXT = "lb/1000 ft²", "lb 24×36/500", "lb 25×38/500"


def gsm(pounds: int, unit: str) -> float:
    """The grammage of a basis weight."""
    measure = basis_weight_unit(unit)
    assert measure is not None
    return float(pounds * measure.factor)


def mill_with(**units: str) -> Mill:
    """The example mill, its grades with the basis weights given by five letters of their names."""
    grades = tuple(
        replace(grade, basis_weight=basis_weight_unit(units.get(grade.name[:5], "")))
        for grade in example_mill().grades
    )
    return replace(example_mill(), grades=grades)


def lines(column: str, *cells: object, **more: Any) -> list[dict[str, Any]]:
    """Order lines that differ in number and in one column."""
    rows: list[dict[str, Any]] = []
    for number, cell in enumerate(cells):
        others = {key: value[number] for key, value in more.items()}
        rows.append({**BARE, "Order": f"R{number}", column: cell, **others})
    return rows


@pytest.mark.parametrize("heading", ["Basis weight", "Basis weight [lb]", "Grammage"])
def test_three_bases_in_one_book_by_their_cells(tmp_path: Path, heading: str) -> None:
    """Liner, kraft and text stand in one column, each with its own unit, kept for showing."""
    cells = ("42 lb/1000 ft2", "50 lb 24x36, 500 sheets", "60 lb 25x38/500")
    book = read_rows(tmp_path, *lines(heading, *cells)).require_clean()
    bases = [(42, LINER), (50, KRAFT), (60, TEXT)]
    assert [order.grammage_gsm for order in book.orders] == [gsm(*each) for each in bases]
    shown = [dict(order.as_written)["grammage"] for order in book.orders]
    assert shown == [f"{pounds} {unit}" for pounds, unit in bases]


@pytest.mark.parametrize("unit_heading", ["Basis weight unit", "Basis", "Basic size"])
def test_three_bases_by_a_unit_column(tmp_path: Path, unit_heading: str) -> None:
    """Figures alone, and what they are for in a column beside them."""
    units = ("lb/MSF", "24x36/500", "lb text")
    rows = lines("Basis weight", 42, 50, 60, **{unit_heading: units})
    book = read_rows(tmp_path, *rows).require_clean()
    expected = [gsm(42, LINER), gsm(50, KRAFT), gsm(60, TEXT)]
    assert [order.grammage_gsm for order in book.orders] == expected


@pytest.mark.parametrize(
    ("heading", "cells"),
    [("Basis weight", (42, 42)), ("Basis weight [lb]", (42, 42)), ("Basis wt", ("42 lb", "42#"))],
)
def test_the_grade_says_it_where_the_book_does_not(
    tmp_path: Path, heading: str, cells: tuple[object, ...]
) -> None:
    """Each grade of the mill file has its own basis."""
    mill = replace(mill_with(Foldi=LINER, White=KRAFT), headings={"grammage": "Basis wt"})
    grades = ("Folding boxboard", "White-lined board")
    rows = lines(heading, *cells, Grade=grades)
    book = read_rows(tmp_path, *rows, mill=mill)
    found = {order.grade: order.grammage_gsm for order in book.require_clean().orders}
    assert found == {grades[0]: gsm(42, LINER), grades[1]: gsm(42, KRAFT)}


def test_a_line_that_nothing_explains_is_named(tmp_path: Path) -> None:
    """One line says it and the other does not: that one is at fault, never taken as g/m²."""
    book = read_rows(tmp_path, *lines("Basis weight", "42 lb/1000 ft2", 42))
    (fault,) = book.faults
    assert (fault.row, fault.wrong) == (3, "a basis weight without its unit")


@pytest.mark.parametrize("heading", ["Basis weight", "Basis weight [lb]"])
def test_where_no_line_says_it_the_heading_is_named(tmp_path: Path, heading: str) -> None:
    """One fault for the column, not one for each of its lines."""
    with pytest.raises(OrderBookError) as refused:
        read_rows(tmp_path, *lines(heading, 42, 50))
    (fault,) = refused.value.faults
    assert (fault.row, fault.value) == (1, heading)


@pytest.mark.parametrize(
    "row",
    [
        {"Basis weight [lb/1000 ft²]": "42 lb 24x36/500"},
        {"Basis weight": "42 lb/1000 ft2", "Basis": "lb 24x36/500"},
        {"Grammage [g/m²]": 42, "Basis": "lb/MSF"},
    ],
)
def test_two_units_for_one_figure_are_a_fault(tmp_path: Path, row: Mapping[str, object]) -> None:
    """Cell, unit column and heading must agree."""
    (fault,) = read_rows(tmp_path, {**BARE, **row}).faults
    assert "beside" in fault.wrong


def test_an_area_weighs_its_basis_weight(tmp_path: Path) -> None:
    """100 MSF of 42 lb a MSF are 4,200 lb, to the last fraction."""
    row = {**BARE, "Basis weight": "42 lb/MSF", "Quantity": 100, "Unit": "MSF"}
    (order,) = read_rows(tmp_path, row).require_clean().orders
    assert order.quantity == 4200 * Fraction("0.45359237")
    assert dict(order.as_written)["quantity"] == "100 MSF"
