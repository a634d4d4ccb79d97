"""The trend as JSON: every figure of the report, for a program to read."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from trimopt.ledger.trend_model import Against, Carrier, Figures, Trend, TrendLine

SCHEMA = 1


def trend_json(trend: Trend) -> str:
    """Give the trend as JSON text: masses kg, areas m², shares of one, moments ISO 8601."""
    target = trend.target_percent
    whole: dict[str, Any] = {
        "schema": SCHEMA,
        "ledger": trend.ledger,
        "mills": list(trend.mills),
        "from": trend.begins.isoformat() if trend.begins else None,
        "to": trend.ends.isoformat() if trend.ends else None,
        "first_set": trend.first.isoformat() if trend.first else None,
        "last_set": trend.last.isoformat() if trend.last else None,
        "by": trend.by,
        "grade": trend.grade or None,
        "winder": trend.winder or None,
        "target_percent": target,
        "plans": trend.plans,
        "replaced_plans": trend.replaced_plans,
        "replaced_sets": trend.replaced_sets,
        "whole": _line(trend.whole),
        "periods": [_line(line) for line in trend.lines],
        "months": [_line(line) for line in trend.months],
        "grades": [_line(line) for line in trend.grades],
        "winders": [_line(line) for line in trend.winders],
        "periods_missed": {
            "planned": [line.label for line in trend.lines if line.planned_missed],
            "run": [line.label for line in trend.lines if line.run_missed],
        },
        "against_bound": {
            "planned": _against(trend.against_planned),
            "run": _against(trend.against_run),
        },
        "widths": _carriers(trend.widths, ("width_mm",)),
        "orders": _carriers(trend.orders, ("order", "customer")),
        "culled": [asdict(each) for each in trend.culled],
        "measured": asdict(trend.measured),
        "rules": list(trend.rules),
    }
    return json.dumps(whole, ensure_ascii=False, indent=1)


def _line(line: TrendLine) -> dict[str, Any]:
    return {
        "label": line.label,
        "planned": _figures(line.planned),
        "planned_of_run": _figures(line.planned_of_run),
        "run": _figures(line.run),
        "unavoidable_kg": line.unavoidable_kg,
        "planned_missed": line.planned_missed,
        "run_missed": line.run_missed,
    }


def _figures(figures: Figures) -> dict[str, Any]:
    ratios = {
        name: {
            "share": ratio.share,
            "numerator": ratio.numerator,
            "denominator": ratio.denominator,
            "unit": ratio.unit,
            "what": ratio.words,
        }
        for name, ratio in zip(
            ("trim_loss", "trim_loss_deckle", "trim_loss_net", "total_loss"),
            figures.ratios,
            strict=True,
        )
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


def _carriers(carriers: Iterable[Carrier], keys: tuple[str, ...]) -> list[dict[str, Any]]:
    kept = (
        *keys, "reels", "reels_kg", "planned_kg", "planned_of_run_kg", "run_kg", "share",
        "cumulative",
    )  # fmt: skip
    return [{name: getattr(each, name) for name in kept} for each in carriers]
