"""An answer to an enquiry as JSON: widths and trim mm, masses kg, lengths m, shares of one."""

from __future__ import annotations

import math
from dataclasses import asdict
from enum import Enum
from fractions import Fraction
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trimopt.fit import Answer, CurvePoint, Placement, When

__all__ = ["SCHEMA", "answer_fields"]

SCHEMA = 2


_ENQUIRY = (
    "name", "grade", "grammage_gsm", "width_mm", "chop_mm", "quantity", "unit",
    "min_diameter_mm", "max_diameter_mm", "core_mm", "under", "over", "tolerance_by_custom",
)  # fmt: skip


def answer_fields(answer: Answer) -> dict[str, Any]:
    """Give every figure of an answer in plain fields.

    `extra_paper` is kg of paper used more for a kg delivered: the range that is proven, and as the
    enquiry was placed. `estimate` of a width is not solved; null where it cannot be made.
    """
    enquiry = answer.enquiry
    curve, placement = answer.curve, answer.placement
    return {
        "schema": SCHEMA,
        "answer": answer.line,
        "verdict": answer.verdict.value,
        "can_be_made": not answer.stop,
        "stop": answer.stop,
        "enquiry": {name: _figure(getattr(enquiry, name)) for name in _ENQUIRY},
        "run": answer.run,
        "extra_paper": None
        if placement is None
        else {
            "proven_min": placement.min_marginal,
            "proven_max": placement.max_marginal,
            "as_placed": placement.marginal_use,
        },
        "lacking": None if answer.lacking is None else asdict(answer.lacking),
        "when": None if answer.when is None else _when(answer.when),
        "notes": list(answer.notes),
        "plan": answer.from_plan,
        "alone": [{k: _figure(v) for k, v in asdict(row).items()} for row in answer.alone],
        "with_the_book": None if placement is None else _placement(placement),
        "asked": None if curve is None or curve.asked is None else _point(curve.asked),
        "valleys": [] if curve is None else [_point(point) for point in curve.valleys],
        "curve": [] if curve is None else [_point(point) for point in curve.points],
        "alternatives": [
            {
                "change": alternative.change,
                "width_mm": _figure(alternative.order.width_mm),
                "saved_as_placed": alternative.saved,
                "with_the_book": _placement(alternative.placement),
            }
            for alternative in answer.alternatives
        ],
        "seconds": round(answer.seconds, 3),
    }


def _when(when: When) -> dict[str, Any]:
    fields = asdict(when)
    for name in ("earliest", "latest"):
        fields[name] = None if fields[name] is None else fields[name].isoformat()
    return fields


def _placement(placement: Placement) -> dict[str, Any]:
    fields = asdict(placement)
    for name, counted in (("before", placement.before), ("after", placement.after)):
        fields[name]["proven"] = counted.proven
    fields["reels"] = placement.reels
    fields["sets"] = [
        {
            "sets": row.sets,
            "core_mm": row.core_mm,
            "length_m": row.length_m,
            "diameter_mm": row.diameter_mm,
            "across": [
                {"order": order, "width_mm": _figure(width), "reels": count}
                for order, width, count in row.across
            ],
            "reels": row.reels,
            "trim_mm": _figure(row.trim_mm),
        }
        for row in placement.sets
    ]
    return fields


def _point(point: CurvePoint) -> dict[str, Any]:
    use = point.marginal_use
    return {
        "width_mm": _figure(point.width_mm),
        "estimate": use if math.isfinite(use) else None,
        "core_mm": point.core_mm,
        "length_m": point.length_m,
        "ups": point.ups,
    }


def _figure(value: object) -> Any:
    """Fractions as numbers, whole where they are whole; words of a list as they are written."""
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else float(value)
    return value.value if isinstance(value, Enum) else value
