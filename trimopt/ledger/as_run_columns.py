"""What the crew is asked after a run: the sheet's name, its columns, the reasons, the limits."""

from __future__ import annotations

__all__ = ["FIELDS", "MAX_FIGURES", "NEEDED", "REASONS", "TITLE"]

TITLE = "As run"

FIELDS = {
    "Plan": "plan",
    "Run": "run",
    "Set": "number",
    "Jumbo": "jumbo",
    "Planned length m": "planned_m",
    "Done": "done",
    "Length wound m": "length_wound_m",
    "Reels rejected": "reels_rejected",
    "Reason": "reason",
    "Jumbo width mm": "jumbo_width_mm",
    "Jumbo length m": "jumbo_length_m",
    "Edge trim front mm": "edge_front_mm",
    "Edge trim back mm": "edge_back_mm",
    "Minutes stopped": "minutes_stopped",
    "Remark": "remark",
}
"""Heading of a column of the sheet, and the field that it fills."""

NEEDED = ("Plan", "Run", "Set", "Done")
"""Headings without which no row can be told apart."""

REASONS = (
    "web break",
    "wrinkles",
    "telescoped",
    "starred",
    "burst",
    "ragged slit edge",
    "core damaged",
    "holes or spots",
    "moisture streak",
    "off width",
    "off diameter",
    "handling damage",
    "other",
)
"""Why reels were rejected: words of the winder floor (common practice)."""

MAX_FIGURES = {
    "Length wound m": 200_000,
    "Reels rejected": 100,
    "Jumbo width mm": 20_000,
    "Jumbo length m": 500_000,
    "Edge trim front mm": 5_000,
    "Edge trim back mm": 5_000,
    "Minutes stopped": 10_000,
}
"""The largest figure that a column of the crew's can hold on any winder."""
