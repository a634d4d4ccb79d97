"""Published cutting cases, solved and proven.

Sources: Wikipedia, "Cutting stock problem" (5,600 mm paper machine); V. Chvátal, "Linear
Programming" (1983), chapter 13 (raw 100; as also given in the NEOS guide); R. Fourer, D. M. Gay,
B. W. Kernighan, "AMPL", cut.dat (raw 110); AMPL model collection, pattern enumeration notebook (raw
64.5); I. Harjunkoski and others, EJOR 105 (1998) 594-603 (trim-loss family: at most 5 pieces, least
used width).
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

import pytest

from tests.bench.widths import read_instance
from tests.cutting.one_class import one_class
from trimopt.budget import Budget
from trimopt.cutting import SCALE, Demand, Status, WindingClass, solve


def fewest(
    width: int,
    lines: list[tuple[int, int]],
    *,
    over: int | None = None,
    max_pieces: int = 1000,
    slack: int | None = None,
) -> tuple[int, float]:
    """Give sets, proven, and the bound by prices alone, in sets."""
    instance = one_class(
        (w for w, _ in lines),
        (Demand(low=n, high=None if over is None else n + over) for _, n in lines),
        WindingClass(cost=1, width=width, max_pieces=max_pieces, slack=slack, min_broke=width),
    )
    outcome = solve(instance, budget=Budget())
    assert outcome.status is Status.OPTIMAL
    assert outcome.loss is not None
    return outcome.loss // SCALE, outcome.price_bound / SCALE


def test_paper_machine_5600() -> None:
    """The 5,600 mm example takes 73 sets, and its linear program 72.917."""
    widths = (1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200)
    demands = (22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20)
    sets, bound = fewest(5600, list(zip(widths, demands, strict=True)))
    assert sets == 73
    assert 72 < bound <= 73


def test_chvatal_100() -> None:
    """Chvátal's example takes 453 rolls."""
    sets, bound = fewest(100, [(45, 97), (36, 610), (31, 395), (14, 211)])
    assert sets == 453
    assert bound > 452


def test_ampl_110() -> None:
    """The book's example takes 47 rolls."""
    assert fewest(110, [(20, 48), (45, 35), (50, 24), (55, 10), (75, 8)])[0] == 47


@pytest.mark.parametrize("over", [None, 6, 3, 0])
def test_ampl_6450_does_not_make_too_much(over: int | None) -> None:
    """Width 64.5: 18 sets over all patterns, whatever over-making is allowed; never 35."""
    assert fewest(6450, [(677, 10), (756, 40), (1746, 33), (1876, 10)], over=over)[0] == 18


@pytest.mark.parametrize(
    ("width", "least", "lines", "sets"),
    [
        (1850, 1750, [(290, 15), (315, 28), (350, 21), (455, 30)], 19),
        (1900, 1700, [(330, 9), (360, 7), (385, 12), (415, 11)], 8),
        (1900, 1700, [(460, 8), (570, 7)], 5),
    ],
)
def test_trim_loss_family(width: int, least: int, lines: list[tuple[int, int]], sets: int) -> None:
    """At most five pieces a set and a least used width: the rolls of the published optima."""
    assert fewest(width, lines, max_pieces=5, slack=width - least)[0] == sets


def test_linear_programs_of_gau_and_waescher() -> None:
    """The rounded-up published optima of the linear program bound every plan, and are met."""
    folder = os.environ.get("TRIMOPT_DATA")
    if folder is None:
        pytest.skip("TRIMOPT_DATA is not set: the instances stand outside the project")
    root = Path(folder) / "widths" / "gau_waescher_1995"
    with (root / "table3.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    for row in rows[:12]:
        outcome = solve(read_instance(root / f"GW95_{int(row['no']):02d}.txt"))
        assert outcome.status is Status.OPTIMAL
        assert outcome.loss is not None
        assert outcome.loss >= SCALE * float(row["published_lp"]) - 1
        assert outcome.bound >= SCALE * float(row["published_lp"]) - 1
