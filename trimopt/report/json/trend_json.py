"""The trend as JSON: every figure of the report, for a program to read."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from trimopt.errors import types_checked
from trimopt.ledger.trend_model import Against, Carrier, Figures, Trend, TrendLine
from trimopt.report.words.texts import text
from trimopt.report.words.trend_words import rules

SCHEMA = 1


_AS_THEY_ARE = (
    "ledger", "mills", "by", "target_percent", "plans", "replaced_plans", "replaced_sets",
)  # fmt: skip


@types_checked
def trend_json(trend: Trend) -> str:
    """Give the trend as JSON text: masses kg, areas m², shares of one, moments ISO 8601."""
    asked = trend.asked
    moments = {
        "from": asked.begins, "to": asked.ends, "first_set": trend.first, "last_set": trend.last,
    }  # fmt: skip
    lines = {
        "periods": trend.lines, "months": trend.months, "grades": trend.grades,
        "winders": trend.winders,
    }  # fmt: skip
    whole: dict[str, Any] = {
        "schema": SCHEMA,
        **{name: getattr(trend, name) for name in _AS_THEY_ARE},
        "rules": rules(),
        **{name: when.isoformat() if when else None for name, when in moments.items()},
        "grade": asked.grade or None,
        "winder": asked.winder or None,
        "whole": _line(trend.whole),
        **{name: [_line(line) for line in some] for name, some in lines.items()},
        "periods_missed": {
            "planned": [line.label for line in trend.lines if line.planned_missed],
            "run": [line.label for line in trend.lines if line.run_missed],
        },
        "against_bound": {
            "planned": _against(trend.against_planned),
            "run": _against(trend.against_run),
        },
        "widths": _carriers(trend.widths, without=("order", "customer")),
        "orders": _carriers(trend.orders, without=("width_mm",)),
        "culled": [asdict(each) for each in trend.culled],
        "measured": asdict(trend.measured),
    }
    return json.dumps(whole, ensure_ascii=False, indent=1)


def _line(line: TrendLine) -> dict[str, Any]:
    sides = ("planned", "planned_of_run", "run")
    return {**asdict(line), **{side: _figures(getattr(line, side)) for side in sides}}


def _figures(figures: Figures) -> dict[str, Any]:
    ratios = {
        ratio.key: {
            "share": ratio.share,
            "numerator": ratio.numerator,
            "denominator": ratio.denominator,
            "unit": ratio.unit,
            "what": text(f"loss.{ratio.key}_of"),
        }
        for ratio in figures.ratios
    }
    return {
        **asdict(figures),
        **ratios,
        "set_ups_100_t": figures.set_ups_100_t,
        "knife_moves_100_t": figures.knife_moves_100_t,
    }


def _against(against: Against) -> dict[str, Any]:
    return {
        **{key: value for key, value in asdict(against).items() if key != "running_kg"},
        "lost_in_running_kg": against.lost_in_running_kg,
        "lost_in_running_parts_kg": dict(against.running_kg),
    }


def _carriers(carriers: Iterable[Carrier], without: tuple[str, ...]) -> list[dict[str, Any]]:
    return [
        {name: value for name, value in asdict(each).items() if name not in without}
        for each in carriers
    ]
