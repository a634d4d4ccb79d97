"""An answer to an enquiry as JSON: widths and trim mm, masses kg, lengths m, shares of one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime
from enum import Enum
from fractions import Fraction
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from trimopt.errors import types_checked

if TYPE_CHECKING:
    from trimopt.fit import Alternative, Answer, CurvePoint, PlacedSet, Placement, RunWithEnquiry
    from trimopt.fit.enquiry_list import Listed
    from trimopt.fit.together import Together
    from trimopt.plan.difference import OrderDifference
    from trimopt.plan.model import RunPlan

SCHEMA = 3

_ENQUIRY = (
    "name", "grade", "grammage_gsm", "width_mm", "chop_mm", "quantity", "unit",
    "min_diameter_mm", "max_diameter_mm", "core_mm", "under", "over", "tolerance_by_custom",
    "usual",
)  # fmt: skip


@types_checked
def answer_fields(answer: Answer) -> dict[str, Any]:
    """Give every figure of an answer in plain fields.

    `extra_paper` is t of paper for a tonne delivered (`trimopt.fit.extra_paper`): proven lower
    bound, what a plan made with it needs, the estimate put into the planned sets, and what the run
    uses on average. `estimate` of a width is not solved; null where it cannot be made.
    """
    curve, floor = answer.curve, answer.floor_price
    return {
        "schema": SCHEMA,
        "answer": answer.line,
        "verdict": answer.verdict.value,
        "can_be_made": not answer.stop,
        "stop": answer.stop,
        "narrowed": answer.narrowed,
        "enquiry": _picked(answer.enquiry, **{name: name for name in _ENQUIRY}),
        "run": answer.run,
        "extra_paper": _picked(
            answer.extra, proven_min="min_use", planned="max_use", sets_held="held_use",
            run_average="average", judged="shown",
        ),
        "floor_price": floor and {"min": floor[0], "max": floor[1], "currency": answer.currency},
        "reels": answer.reels,
        "sets": [_set(row) for row in answer.sets],
        "planned": answer.planned and _planned(answer.planned),
        "needs_sales_kg": answer.needs_sales,
        "lacking": _plain(answer.lacking),
        "when": _plain(answer.when),
        "others": [_other(each) for each in answer.others],
        "notes": list(answer.notes),
        "plan": answer.from_plan,
        "alone": _plain(answer.alone),
        "sets_held": answer.placement and _placement(answer.placement),
        "asked": curve and _point(curve.asked),
        "valleys": [_point(point) for point in curve.valleys] if curve else [],
        "curve": [_point(point) for point in curve.points] if curve else [],
        "alternatives": [_alternative(each) for each in answer.alternatives],
        "seconds": round(answer.seconds, 3),
    }  # fmt: skip


def _plain(value: object) -> Any:
    """A value as JSON has it: dataclasses as objects, whole fractions as integers, no infinity."""
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [_plain(each) for each in value]
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else float(value)
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value.value if isinstance(value, Enum) else value


def _picked(of: object, **places: str) -> dict[str, Any] | None:
    """Fields by the names of the JSON, each with its place in an object; None of none."""
    if of is None:
        return None
    return {name: _plain(attrgetter(place)(of)) for name, place in places.items()}


def _planned(planned: RunWithEnquiry) -> dict[str, Any]:
    return {
        "minutes_more": planned.minutes_more,
        "stopped_at_time_limit": planned.clock_stopped,
        "delivered_kg": planned.line.delivered_kg,
        "without": _run(planned.before),
        "with": _run(planned.run),
    }


def _alternative(alternative: Alternative) -> dict[str, Any]:
    return {
        "change": alternative.change,
        "width_mm": _plain(alternative.order.width_mm),
        "saved_as_placed": alternative.saved,
        "sets_held": _placement(alternative.placement),
    }


def _other(change: OrderDifference) -> dict[str, Any]:
    names = ("planned", "planned_kg", "states", "finished")
    sides = {"without": change.before, "with": change.after}
    return {
        "order": change.number,
        "customer": change.customer,
        "unit": change.unit,
        **{key: _picked(side, **{name: name for name in names}) for key, side in sides.items()},
    }


def list_fields(
    listed: Listed, answers: Sequence[Answer | None], together: Together | None
) -> dict[str, Any]:
    """Give what `answer_list` gives in plain fields.

    `together` says which rows can all be had, by their numbers; its `value` and `max_value`, which
    no selection exceeds, are tonnes or money, as `by` says.
    """
    return {
        "schema": SCHEMA,
        "rows": [
            {
                "row": row.row,
                "faults": [str(fault) for fault in row.faults],
                "answer": answer and answer_fields(answer),
            }
            for row, answer in zip(listed.rows, answers, strict=True)
        ],
        "together": together and _plain(together) | {"proven_best": together.best},
    }


def _placement(placement: Placement) -> dict[str, Any]:
    sets = [_set(row) for row in placement.sets]
    return {**_plain(placement), "sets": sets, "reels": placement.reels}


def _set(row: PlacedSet) -> dict[str, Any]:
    names = ("order", "width_mm", "reels")
    across = [dict(zip(names, _plain(each), strict=True)) for each in row.across]
    return {**_plain(row), "across": across}


def _run(run: RunPlan) -> dict[str, Any]:
    balance = ("used_kg", "delivered_kg", "trim_loss", "total_loss")
    return {
        **{name: getattr(run.balance, name) for name in balance},
        "set_ups": run.set_ups,
        "knife_moves": run.knife_moves,
        "sets": len(run.sets),
        "minutes": run.minutes,
    }


def _point(point: CurvePoint | None) -> dict[str, Any] | None:
    return _picked(
        point, width_mm="width_mm", estimate="marginal_use", sets_held="held_use",
        core_mm="core_mm", length_m="length_m", ups="ups",
    )  # fmt: skip
