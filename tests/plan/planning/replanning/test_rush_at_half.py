"""The example shift, half of it run, and a rush line: against a scheduler's plan by hand.

The case was kept when plans had another schema.
"""

from __future__ import annotations

import json
import os
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

import trimopt
from tests.plan.planning.conftest import ROOT
from trimopt import Budget, Plan, read_book, read_mill, what_ran
from trimopt.plan.codec import from_json

_CASE = Path(os.environ.get("TRIMOPT_DATA", "nowhere"), "defects", "rush-at-half")
_NAMES = {
    "least": "min_quantity",
    "most": "max_quantity",
    "wishes": "instructions",
    "wishes_price": "instructions_price",
    "wishes_from": "instructions_from",
}

#: By hand, under the rules of then: paper lost more than as issued, kg, and set-ups in the rest,
#: the first of which counted apart.
_HAND_KG, _HAND_SET_UPS = 326, 5


def _in_words_of_now(value: Any) -> Any:
    if isinstance(value, dict):
        found = {_NAMES.get(key, key): _in_words_of_now(part) for key, part in value.items()}
        of_a_winder = {"stretches", "wound_m", "blocks"} & found.keys()
        return found | ({"winder": "Winder 1"} if of_a_winder else {})
    return [_in_words_of_now(part) for part in value] if isinstance(value, list) else value


def _issued() -> Plan:
    """The plan as issued, with what is asked of the example plan."""
    plan = _in_words_of_now(json.loads((_CASE / "plan-as-issued.json").read_text("utf-8")))
    example = json.loads((ROOT / "reports" / "shift-1.json").read_text("utf-8"))
    plan |= {name: example[name] for name in ("request", "settings", "book", "mill")}
    plan["runs"][0]["cores"] = example["runs"][0]["cores"]
    return from_json(json.dumps(plan | {"schema": 3}))


@pytest.mark.skipif(not _CASE.is_dir(), reason="TRIMOPT_DATA names no such data")
def test_a_rush_line_at_half_is_no_worse_than_by_hand() -> None:
    """In one call, and little work; no order is late, and most sets stay."""
    plan, mill = _issued(), read_mill(ROOT / "orders" / "mill.toml")
    book = read_book(ROOT / "orders" / "shift.xlsx", mill)
    rush = replace(
        book.orders[0],
        number="4801-99",
        width_mm=Fraction(700),
        quantity=Fraction(8),
        under=Fraction(0),
        over=Fraction(15, 100),
        due=datetime(2026, 11, 23, 14, 0),  # noqa: DTZ001  a mill's dates carry no zone
    )
    book = replace(book, orders=(*book.orders, rush))
    request = replace(plan.request, time_limit_s=4)
    ran = what_ran(plan, ["1-23"])
    answer = trimopt.replan(plan, book, mill, ran, request=request, budget=Budget())
    (was,), (now,) = plan.runs, answer.plan.runs
    balances = [run.balance.used_kg - run.balance.delivered_kg for run in (was, now)]
    assert balances[1] - balances[0] < _HAND_KG
    rest = [block for block in now.blocks if not all(row.done for row in block.sets)]
    assert sum(block.set_up for block in rest[1:]) <= _HAND_SET_UPS
    assert answer.difference is not None
    assert not any("late" in str(line.states) for line in now.orders)
