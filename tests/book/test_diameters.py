"""Where a line states no least diameter the mill's tolerance holds, unless the line says free."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.book.books import REEL, SHEET, example_mill, read_rows
from trimopt.book import Order

LEAST, GREATEST, MASS = "Min. diameter [mm]", "Max. diameter [mm]", "Max. reel mass [kg]"
BLANK: Mapping[str, Any] = {**REEL, LEAST: None}


def order_of(tmp_path: Path, row: Mapping[str, Any], **mill: Any) -> Order:
    """The one order of a book of one line."""
    (order,) = read_rows(tmp_path, row, mill=replace(example_mill(), **mill)).orders
    return order


def test_a_blank_is_fifty_millimetres_below_the_greatest(tmp_path: Path) -> None:
    """Without a word in the mill file either; what the line states stays."""
    order = order_of(tmp_path, BLANK)
    assert order.min_diameter_mm == 1200.0
    assert order.diameter_by_custom
    stated = order_of(tmp_path, REEL)
    assert stated.min_diameter_mm == 1150.0
    assert not stated.diameter_by_custom


@pytest.mark.parametrize(
    ("mill", "min_mm"),
    [
        ({"diameter_tolerance_mm": 0.0}, 1250.0),
        ({"diameter_tolerance_mm": 120.0}, 1130.0),
        ({"diameter_tolerance_percent": 4.0}, 1200.0),
        ({"diameter_tolerance_mm": 900.0}, 600.0),  # the winder's least comes first
    ],
)
def test_the_mill_states_its_tolerance(
    tmp_path: Path, mill: dict[str, float], min_mm: float
) -> None:
    """In millimetres or in per cent."""
    assert order_of(tmp_path, BLANK, **mill).min_diameter_mm == min_mm


@pytest.mark.parametrize("word", ["free", "Free", " FREE "])
def test_free_is_written_on_purpose(tmp_path: Path, word: str) -> None:
    """Then any diameter that the winder makes will do, and nobody is warned."""
    book = read_rows(tmp_path, {**REEL, LEAST: word})
    assert book.orders[0].min_diameter_mm is None
    assert not book.orders[0].diameter_by_custom
    assert not book.warnings


def test_without_any_diameter_the_winders_greatest_is_the_target(tmp_path: Path) -> None:
    """Silence on both is no freedom either."""
    assert order_of(tmp_path, {**BLANK, GREATEST: None}).min_diameter_mm == 1450.0


def test_a_mass_that_comes_first_is_the_target(tmp_path: Path) -> None:
    """600 kg of 820 mm at 250 g/m² are 2,926 m, on a core of 178 mm at 392 µm."""
    diameter_mm = math.sqrt(178**2 + 4 * 392 * 2926 / math.pi)
    min_mm = math.floor(diameter_mm) - 50
    assert order_of(tmp_path, {**BLANK, MASS: 600}).min_diameter_mm == min_mm


def test_the_mass_of_a_set_comes_first_too(tmp_path: Path) -> None:
    """Of 4,680 mm no less than 4,560 are wound: 3,000 kg are 2,631 m."""
    mill = example_mill()
    winder = replace(mill.winder, max_set_mass_kg=3000.0)
    diameter_mm = math.sqrt(178**2 + 4 * 392 * 2631 / math.pi)
    order = order_of(tmp_path, BLANK, winders=(winder,))
    assert order.min_diameter_mm == math.floor(diameter_mm) - 50


def test_one_warning_names_the_lines(tmp_path: Path) -> None:
    """It reaches the plan's notes; sheets have no diameter, and lines beyond eight are counted."""
    rows = [{**BLANK, "Order": f"R{n}"} for n in range(11)] + [SHEET, {**REEL, "Order": "Z"}]
    (warning,) = read_rows(tmp_path, *rows).warnings
    assert str(warning).endswith(
        "Min. diameter [mm]: blank for R0, R1, R2, R3, R4, R5, R6, R7 and 3 more: the mill's "
        "diameter tolerance, 50 mm below the max., holds; a min. diameter, or the word free"
    )


def test_free_on_a_sheet_is_a_fault(tmp_path: Path) -> None:
    """A sheet has no diameter at all."""
    (fault,) = read_rows(tmp_path, {**SHEET, LEAST: "free"}).faults
    assert fault.wrong == "a diameter on a sheet line"


def test_a_mill_without_the_column(tmp_path: Path) -> None:
    """Where the book has no such column, the warning names ours, in no unit."""
    row = {key: value for key, value in REEL.items() if key != LEAST}
    book = read_rows(tmp_path, row)
    assert book.orders[0].min_diameter_mm == 1200.0
    assert book.warnings[0].column == "Min. diameter"
