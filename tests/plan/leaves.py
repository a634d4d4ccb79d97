"""Walking a plan field by field, and putting another value in one place of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any

from trimopt.plan.model import Plan

Path = tuple[str | int, ...]


def leaves(value: object, path: Path = ()) -> Iterator[tuple[Path, object]]:
    """Every plain value of a plan with its path; tuples and dataclasses are walked through."""
    if is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from leaves(getattr(value, field.name), (*path, field.name))
    elif isinstance(value, tuple):
        for place, part in enumerate(value):
            yield from leaves(part, (*path, place))
    else:
        yield path, value


def with_leaf(plan: Plan, path: Path, value: object) -> Plan:
    """The plan with another value at one path."""
    changed = _changed(plan, path, value)
    assert isinstance(changed, Plan)
    return changed


def _changed(whole: Any, path: Path, value: object) -> Any:
    if not path:
        return value
    step, *rest = path
    if isinstance(step, int):
        part = _changed(whole[step], tuple(rest), value)
        return (*whole[:step], part, *whole[step + 1 :])
    return replace(whole, **{step: _changed(getattr(whole, step), tuple(rest), value)})
