"""The published ten patterns of the 5,600 mm example, arranged.

Source of the patterns: Wikipedia, "Cutting stock problem" (paper machine of 5,600 mm, 73 sets).
The figures for knife moves are this project's own; that none is fewer is proven by the bound.
"""

from __future__ import annotations

from fractions import Fraction

from tests.winding.winders import winder
from trimopt.budget import Budget
from trimopt.winding import Lot, Strip, arrange

_PLAN = (
    (2, (1820, 1820, 1820)),
    (3, (1380, 2150, 1930)),
    (12, (1380, 2150, 2050)),
    (7, (1380, 2100, 2100)),
    (12, (2200, 1820, 1560)),
    (8, (2200, 1520, 1880)),
    (1, (1520, 1930, 2150)),
    (16, (1520, 1930, 2140)),
    (10, (1710, 2000, 1880)),
    (2, (1710, 1710, 2150)),
)


def test_fourteen_moves() -> None:
    """Ten patterns take 14 moves, which is the bound."""
    lots = tuple(
        Lot(
            number=n,
            strips=tuple(Strip(key=str(w), width_mm=Fraction(w)) for w in widths),
            sets=sets,
            length_m=6000,
            core_mm=76.0,
        )
        for n, (sets, widths) in enumerate(_PLAN)
    )
    machine = winder(knives=4, min_edge_trim_mm=Fraction(0))
    kept = arrange(lots, machine, Fraction(5600), budget=Budget(max_work=3000))
    assert kept.moves == kept.moves_bound == 14
    assert kept.set_ups == 9
