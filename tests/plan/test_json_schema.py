"""The published schema of a plan, judged by a validator that is not ours."""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st
from jsonschema import Draft202012Validator

from tests.plan.leaves import leaves
from tests.plan.sample import sample_plan
from trimopt.errors import ReportError
from trimopt.plan.codec import from_json, plan_json, plan_schema
from trimopt.plan.model import Plan

EXAMPLE = Path(__file__).parents[2] / "reports" / "shift-1.json"
VALIDATOR = Draft202012Validator(plan_schema())
SAMPLE = sample_plan()
LEAVES = tuple(path for path, _ in leaves(SAMPLE))


def test_it_is_a_schema_of_the_draft_that_it_names() -> None:
    """The draft's own schema accepts it, and every field of the plan is in it."""
    Draft202012Validator.check_schema(plan_schema())
    assert set(plan_schema()["$defs"]["Plan"]["properties"]) == {f.name for f in fields(Plan)}


@pytest.mark.parametrize("text", [plan_json(SAMPLE), EXAMPLE.read_text(encoding="utf-8")])
def test_plans_are_valid(text: str) -> None:
    """The sample with every kind of field in it, and the example that the project shows."""
    VALIDATOR.validate(json.loads(text))


def _whole(data: Any, path: tuple[str | int, ...]) -> Any:
    for step in path:
        data = data[step]
    return data


@settings(max_examples=60)
@given(st.sampled_from(LEAVES), st.sampled_from(["gone", "unknown", "object"]))
def test_what_the_reader_refuses_is_invalid(path: tuple[str | int, ...], change: str) -> None:
    """A field missing, unknown or of another type is refused by both, at any place."""
    data = json.loads(plan_json(SAMPLE))
    owner = _whole(data, path[:-1])
    name = path[-1]
    if change == "object":
        owner[name] = {}
    elif isinstance(owner, dict):
        owner.pop(name) if change == "gone" else owner.update({f"{name}_": 1})
    else:
        owner.append({})
    assert not VALIDATOR.is_valid(data)
    with pytest.raises(ReportError):
        from_json(json.dumps(data))
