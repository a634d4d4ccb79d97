"""General trade rules of 1980 for non-stock orders, as printed in merchants' terms of sale.

Up to 180 g/m²: under 1 t ±15 %, 1 to 5 t ±10 %, 5 to 10 t ±7.5 %, 10 to 100 t ±5 %, from 100 t
±3 %. Above 180 g/m²: under 5 t ±15 %, 5 to 15 t ±10 %, from 15 t ±5 %.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from trimopt.mill import example_mill_text, read_mill
from trimopt.paper import custom_tolerance

ORDERS = Path(__file__).parents[2] / "orders"


@pytest.mark.parametrize(
    ("grammage", "tonnes", "percent"),
    [
        *((180, 0.999, "15"), (180, 1, "10"), (180, 4.999, "10"), (180, 5, "7.5")),
        *((180, 9.999, "7.5"), (180, 10, "5"), (180, 99.999, "5"), (180, 100, "3")),
        *((40, 0.5, "15"), (40, 2000, "3")),
        *((181, 0.5, "15"), (181, 4.999, "15"), (181, 5, "10"), (181, 14.999, "10")),
        *((181, 15, "5"), (600, 2000, "5")),
    ],
)
@pytest.mark.parametrize("which", ["example", "orders"])
def test_the_steps(
    grammage: float, tonnes: float, percent: str, which: str, tmp_path: Path
) -> None:
    """Both mill files that come with the project carry the rules, each step with its ends."""
    path = ORDERS / "mill.toml"
    if which == "example":
        path = tmp_path / "mill.toml"
        path.write_text(example_mill_text(), encoding="utf-8")
    share = Fraction(percent) / 100
    assert custom_tolerance(read_mill(path).tolerances, tonnes, grammage) == (share, share)
