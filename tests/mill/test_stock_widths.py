"""Stock widths of the mill file: read as they stand, and what cannot be is named."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.book.books import REEL, example_mill, one_fault, read_rows
from tests.mill.sample import faults_of, mill_text, read_text
from trimopt.mill import StockWidth


def test_a_stock_width_is_read(tmp_path: Path) -> None:
    """Tonnes become kilograms, the share stays exact, the min. diameter may be left out."""
    assert read_text(tmp_path, mill_text()).stock_widths == (
        StockWidth(
            name="STOCK-735", grade="Board", grammage_gsm=250.0, width_mm=Fraction(735),
            core_mm=76.0, max_diameter_mm=1250.0, max_kg=Fraction(5000),
            value_share=Fraction(4, 5),
        ),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("key", "value", "wrong"),
    [
        ("grade", '"Glassine"', "is no grade of this file"),
        ("core_mm", "152", "is a core that the winder does not have"),
        ("min_diameter_mm", "1300", "is above max_diameter_mm"),
        ("value_share", "1", "above 0 and up to 99/100"),
    ],
)
def test_what_cannot_be_is_named(tmp_path: Path, key: str, value: str, wrong: str) -> None:
    """With its section and key, and what would be right."""
    (fault,) = faults_of(tmp_path, mill_text({f"stock_width.{key}": value}))
    assert "[[stock_width]]" in fault.where
    assert fault.column == key
    assert wrong in f"{fault.wrong} {fault.right}"


def test_an_order_does_not_bear_its_name(tmp_path: Path) -> None:
    """Reels on the crew's sheet are told apart by their number."""
    width = StockWidth(
        name="r1", grade="Folding boxboard", grammage_gsm=250.0, width_mm=Fraction(735),
        core_mm=152.0, max_diameter_mm=1250.0, max_kg=Fraction(5000), value_share=Fraction(1, 2),
    )  # fmt: skip
    mill = replace(example_mill(), stock_widths=(width,))
    fault = one_fault(read_rows(tmp_path, REEL, mill=mill))
    assert fault.wrong == "the mill file calls a stock width so"
