"""Quick golden cases stay what they are: the bound, and the loss within a hundredth of a per cent.

The exact comparison of all cases is a command, ``python -m tests.golden``: which of several equal
plans is found differs between machines.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.golden.cases import golden_cases

KNOWN: dict[str, Any] = json.loads(
    Path(__file__).with_name("figures.json").read_text(encoding="utf-8")
)["cases"]
QUICK = [name for name in KNOWN if name.startswith("run reels_") and "classes" not in name]
TOLERANCE = 1e-4  # of paper


@pytest.mark.parametrize("name", QUICK)
def test_an_engine_run_is_as_good_as_it_was(name: str) -> None:
    """Bound and loss of a generated run, set-ups of its plan of least loss."""
    figures, before = dict(golden_cases())[name](), KNOWN[name]
    paper = before["paper"]
    assert figures["bound"] <= figures["loss"]
    assert abs(figures["bound"] - before["bound"]) <= TOLERANCE * paper
    assert figures["loss"] <= before["loss"] + TOLERANCE * paper
    assert figures["trade_off"][0][1] <= figures["loss"]
