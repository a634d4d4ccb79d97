"""Rows that cannot be, made at random: each is refused at its own row and column."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.ledger.filling import write_csv
from tests.ledger.plans import small_plan
from tests.plan.sample import sample_plan
from trimopt.ledger.as_run_file import read_filled
from trimopt.ledger.match_rows import PlanSet, jumbo_faults, match, sets_of
from trimopt.plan.model import Plan

_Cells = dict[str, object]
_Key = tuple[int, int]


def _faults(path: Path, plan: Plan, filled: dict[_Key, _Cells]) -> list[tuple[int, str]]:
    sheet = read_filled(write_csv(path, plan, filled))
    entries, faults = match(plan, sheet.rows)
    found = [*sheet.faults, *faults] or jumbo_faults(plan, sheet.rows, entries)
    return [(fault.row or 0, fault.column) for fault in found]


def _possible(rng: random.Random, each: PlanSet) -> _Cells:
    """What a crew may well write: measured a little off the plan, a cull, a stop."""
    cells: _Cells = {"Done": "yes"}
    spare = float(each.run.jumbo_width_mm - each.block.across_mm)
    if rng.random() < 0.5:
        cells["Length wound m"] = each.row.length_m - rng.randint(0, each.row.length_m // 2)
    if rng.random() < 0.3:
        cells |= {"Reels rejected": rng.randint(1, each.reels), "Reason": "wrinkles"}
    if rng.random() < 0.3:
        front = round(rng.uniform(0, spare), 1)
        cells |= {"Edge trim front mm": front, "Edge trim back mm": round(spare - front, 1)}
    elif rng.random() < 0.5:
        cells["Jumbo width mm"] = float(each.run.jumbo_width_mm) + rng.randint(0, 30)
    if rng.random() < 0.2:
        cells["Minutes stopped"] = rng.randint(1, 300)
    return cells


def _times(rng: random.Random, figure: float, *others: float) -> float:
    """A figure ten times off, in feet, or another."""
    return round(figure * rng.choice((10, 100, 3.2808 * 1.1, *others)))


def _too_wide(rng: random.Random, each: PlanSet) -> float:
    """A strip that leaves no room for the reels, on a jumbo as wide as planned or a little more."""
    web = float(each.run.web_mm(each.block))
    return round(web * 1.011 - float(each.block.across_mm) + rng.choice((1, 90, 900)), 1)


_Bad = Callable[[random.Random, PlanSet], _Cells]
_IMPOSSIBLE: dict[str, _Bad] = {
    "length too long": lambda rng, each: {"Length wound m": _times(rng, each.row.length_m)},
    "length too short": lambda rng, each: {
        "Length wound m": each.row.length_m // rng.choice((10, 1000))
    },
    "length negative": lambda rng, each: {"Length wound m": -rng.randint(1, each.row.length_m)},
    "more culls than reels": lambda rng, each: {
        "Reels rejected": each.reels + rng.randint(1, 50), "Reason": "starred",
    },
    "culls negative": lambda rng, each: {
        "Reels rejected": -rng.randint(1, each.reels), "Reason": "starred",
    },
    "culls in parts": lambda rng, _: {
        "Reels rejected": rng.randint(0, 1) + 0.5, "Reason": "starred",
    },
    "front strip": lambda rng, each: {"Edge trim front mm": _too_wide(rng, each)},
    "back strip": lambda rng, each: {"Edge trim back mm": _too_wide(rng, each)},
    "strip negative": lambda rng, _: {"Edge trim back mm": -rng.randint(1, 50)},
    "jumbo too wide": lambda rng, each: {
        "Jumbo width mm": _times(rng, float(each.run.jumbo_width_mm), 1.2)
    },
    "jumbo too narrow": lambda rng, each: {
        "Jumbo width mm": float(each.block.across_mm) / rng.choice((1.01, 10, 25.4))
    },
    "jumbo too long": lambda rng, each: {"Jumbo length m": _times(rng, each.jumbo.length_m)},
    "jumbo too short": lambda rng, each: {"Jumbo length m": rng.randint(1, each.row.length_m - 1)},
    "stopped for ever": lambda rng, _: {"Minutes stopped": rng.randint(10_001, 10**9)},
    "another jumbo": lambda rng, _: {"Jumbo": f"X{rng.randint(1, 99)}"},
    "another plan": lambda rng, _: {"Plan": f"z-{rng.randint(1, 99)}"},
    "no such set": lambda rng, _: {"Set": rng.randint(500, 900)},
}  # fmt: skip
_COLUMN = {
    "length": "Length wound m", "more": "Reels rejected", "culls": "Reels rejected",
    "front": "Edge trim front mm", "back": "Edge trim back mm", "strip": "Edge trim back mm",
    "stopped": "Minutes stopped", "another jumbo": "Jumbo", "another plan": "Plan", "no": "Set",
    "jumbo too wide": "Jumbo width mm", "jumbo too narrow": "Jumbo width mm",
    "jumbo too long": "Jumbo length m", "jumbo too short": "Jumbo length m",
}  # fmt: skip


@pytest.mark.parametrize("plan", [small_plan("a-1"), sample_plan()], ids=["small", "sample"])
def test_what_may_be_is_taken(tmp_path: Path, plan: Plan) -> None:
    """Of 40 sheets filled in as a crew would, none is refused."""
    sets = sets_of(plan)
    for seed in range(40):
        rng = random.Random(seed)
        filled = {key: _possible(rng, each) for key, each in sets.items()}
        assert _faults(tmp_path / "run.csv", plan, filled) == [], filled


def test_the_sheet_of_another_plan_is_one_fault(tmp_path: Path) -> None:
    """Named once, with the plan that it is of, however many rows it has."""
    sheet = read_filled(write_csv(tmp_path / "run.csv", sample_plan(), {}))
    entries, faults = match(small_plan("a-2"), sheet.rows)
    assert entries == ()
    (fault,) = faults
    number = sample_plan().number
    assert (fault.row, fault.column, fault.value) == (2, "Plan", number)
    assert fault.wrong == f"is another plan, in {len(sheet.rows)} rows"
    assert fault.right.endswith(f"or record this one under plan {number}")


@pytest.mark.parametrize("kind", _IMPOSSIBLE)
@pytest.mark.parametrize("plan", [small_plan("a-1"), sample_plan()], ids=["small", "sample"])
def test_what_cannot_be_is_refused_at_its_row(tmp_path: Path, plan: Plan, kind: str) -> None:
    """One impossible row among possible ones: a fault at that row, in the column of the figure."""
    column = next(name for start, name in _COLUMN.items() if kind.startswith(start))
    sets = sets_of(plan)
    for seed in range(8):
        rng = random.Random(seed)
        filled: dict[_Key, _Cells] = {key: {"Done": "yes"} for key in sets}
        alone = [key for key, each in sets.items() if len(each.row.stretches) == 1]
        at = rng.choice(alone)
        filled[at] |= _IMPOSSIBLE[kind](rng, sets[at])
        row = 2 + list(sets).index(at)
        assert (row, column) in _faults(tmp_path / "run.csv", plan, filled), filled[at]
