"""Walking a plan field by field, and putting another value in one place of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from fractions import Fraction
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


def leaf(value: Any, path: Path) -> Any:
    """What stands at one path of a plan."""
    for step in path:
        value = value[step] if isinstance(step, int) else getattr(value, step)
    return value


def _changed(whole: Any, path: Path, value: object) -> Any:
    if not path:
        return value
    step, *rest = path
    if isinstance(step, int):
        part = _changed(whole[step], tuple(rest), value)
        return (*whole[:step], part, *whole[step + 1 :])
    return replace(whole, **{step: _changed(getattr(whole, step), tuple(rest), value)})


def name_of(path: Path) -> str:
    """The path as it is written: `runs.0.blocks.1.core_mm`."""
    return ".".join(map(str, path))


# Where one more or less is below what a plan is rounded to: a price is in 1/scale of 1/1000 of an
# area unit, and a metre more on a reel is less than a millimetre of diameter.
_STEPS = {"gain_price": 10**12, "worth_price": 10**12, "scale": 1000, "set_lengths": 25}


def another(path: Path, value: object, size: int, *, down: bool) -> object:
    """Another value of the same kind, off by more than any rounding."""
    step = size * next((n for name, n in _STEPS.items() if name in path), 1)
    if down:
        step = -step
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | Fraction):
        return value + type(value)(step)
    if isinstance(value, float):
        return value + 1.3 * step
    if isinstance(value, date):
        return (
            value + (timedelta(minutes=7) if isinstance(value, datetime) else timedelta(1)) * step
        )
    return f"{value}x"
