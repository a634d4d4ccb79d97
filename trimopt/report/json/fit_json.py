"""An answer to an enquiry as JSON: widths and trim mm, masses kg, lengths m, shares of one."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict
from enum import Enum
from fractions import Fraction
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from trimopt.fit import (
        Alternative,
        Answer,
        CurvePoint,
        ExtraPaper,
        PlacedSet,
        Placement,
        RunWithEnquiry,
        When,
    )
    from trimopt.fit.enquiry_list import Listed
    from trimopt.fit.together import Together
    from trimopt.plan.difference import OrderDifference, OrderFigures
    from trimopt.plan.model import RunPlan

SCHEMA = 3
_Of = TypeVar("_Of")


_ENQUIRY = (
    "name", "grade", "grammage_gsm", "width_mm", "chop_mm", "quantity", "unit",
    "min_diameter_mm", "max_diameter_mm", "core_mm", "under", "over", "tolerance_by_custom",
    "usual",
)  # fmt: skip


def answer_fields(answer: Answer) -> dict[str, Any]:
    """Give every figure of an answer in plain fields.

    `extra_paper` is t of paper for a tonne delivered (`trimopt.fit.extra_paper`): proven lower
    bound, what a plan made with it needs, the estimate put into the planned sets, and what the run
    uses on average. `estimate` of a width is not solved; null where it cannot be made.
    """
    curve, placement, extra = answer.curve, answer.placement, answer.extra
    floor = answer.floor_price
    return {
        "schema": SCHEMA,
        "answer": answer.line,
        "verdict": answer.verdict.value,
        "can_be_made": not answer.stop,
        "stop": answer.stop,
        "enquiry": {name: _figure(getattr(answer.enquiry, name)) for name in _ENQUIRY},
        "run": answer.run,
        "extra_paper": _or_none(_extra, extra),
        "floor_price": _or_none(
            lambda span: {"min": span[0], "max": span[1], "currency": answer.currency}, floor
        ),
        "reels": answer.reels,
        "sets": [_set(row) for row in answer.sets],
        "planned": _or_none(_planned, answer.planned),
        "lacking": _or_none(asdict, answer.lacking),
        "when": _or_none(_when, answer.when),
        "others": [_other(each) for each in answer.others],
        "notes": list(answer.notes),
        "plan": answer.from_plan,
        "alone": [{k: _figure(v) for k, v in asdict(row).items()} for row in answer.alone],
        "sets_held": _or_none(_placement, placement),
        "asked": _or_none(_point, None if curve is None else curve.asked),
        "valleys": [] if curve is None else [_point(point) for point in curve.valleys],
        "curve": [] if curve is None else [_point(point) for point in curve.points],
        "alternatives": [_alternative(each) for each in answer.alternatives],
        "seconds": round(answer.seconds, 3),
    }


def _or_none(fields: Callable[[_Of], dict[str, Any]], of: _Of | None) -> dict[str, Any] | None:
    return None if of is None else fields(of)


def _extra(extra: ExtraPaper) -> dict[str, Any]:
    return {
        "proven_min": extra.min_use,
        "planned": extra.max_use,
        "sets_held": extra.held_use,
        "run_average": extra.average,
        "judged": extra.shown,
    }


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
        "width_mm": _figure(alternative.order.width_mm),
        "saved_as_placed": alternative.saved,
        "sets_held": _placement(alternative.placement),
    }


def _side(side: OrderFigures) -> dict[str, Any]:
    return {
        "planned": _figure(side.planned),
        "planned_kg": side.planned_kg,
        "states": [state.value for state in side.states],
        "finished": None if side.finished is None else side.finished.isoformat(),
    }


def _other(change: OrderDifference) -> dict[str, Any]:
    sides = {"without": _or_none(_side, change.before), "with": _or_none(_side, change.after)}
    return {"order": change.number, "customer": change.customer, "unit": change.unit, **sides}


def _when(when: When) -> dict[str, Any]:
    fields = asdict(when)
    for name in ("earliest", "latest", "begins"):
        fields[name] = None if fields[name] is None else fields[name].isoformat()
    return fields


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
                "answer": _or_none(answer_fields, answer),
            }
            for row, answer in zip(listed.rows, answers, strict=True)
        ],
        "together": _or_none(lambda of: asdict(of) | {"proven_best": of.best}, together),
    }


def _placement(placement: Placement) -> dict[str, Any]:
    fields = asdict(placement)
    fields["reels"] = placement.reels
    fields["sets"] = [_set(row) for row in placement.sets]
    return fields


def _set(row: PlacedSet) -> dict[str, Any]:
    fields = {name: _figure(value) for name, value in asdict(row).items()}
    fields["across"] = [
        {"order": order, "width_mm": _figure(width), "reels": count}
        for order, width, count in row.across
    ]
    return fields


def _run(run: RunPlan) -> dict[str, Any]:
    return {
        "used_kg": run.balance.used_kg,
        "delivered_kg": run.balance.delivered_kg,
        "trim_loss": run.balance.trim_loss,
        "total_loss": run.balance.total_loss,
        "set_ups": run.set_ups,
        "knife_moves": run.knife_moves,
        "sets": len(run.sets),
        "minutes": run.minutes,
    }


def _point(point: CurvePoint) -> dict[str, Any]:
    use = point.marginal_use
    return {
        "width_mm": _figure(point.width_mm),
        "estimate": use if math.isfinite(use) else None,
        "sets_held": point.held_use,
        "core_mm": point.core_mm,
        "length_m": point.length_m,
        "ups": point.ups,
    }


def _figure(value: object) -> Any:
    """Fractions as numbers, whole where they are whole; words of a list as they are written."""
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else float(value)
    return value.value if isinstance(value, Enum) else value
