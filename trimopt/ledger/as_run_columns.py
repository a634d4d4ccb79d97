"""What the crew is asked after a run: the sheet's name, its columns, the reasons, the limits."""

from __future__ import annotations

from dataclasses import dataclass

TITLE = "As run"
JOIN_AT = "Join at"
"""A column of plans that have joins."""


@dataclass(frozen=True, slots=True)
class AsRunColumn:
    """A column of the sheet, and the field of a row that it fills.

    `kind` is that of a column of the workbook; "flag" is yes or no, "reason" one of `REASONS`. No
    winder has a figure above `most`; what is `given` stands in the sheet as it is handed out.
    """

    heading: str
    field: str
    kind: str
    width: float
    most: int | None = None
    given: bool = False

    @property
    def is_text(self) -> bool:
        """Whether any text may stand in it."""
        return self.kind in ("text", "reason")


AS_RUN_COLUMNS = (
    AsRunColumn("Plan", "plan", "text", 12, given=True),
    AsRunColumn("Run", "run", "text", 34, given=True),
    AsRunColumn("Set", "number", "count", 8, given=True),
    AsRunColumn("Jumbo", "jumbo", "text", 9, given=True),
    AsRunColumn("Planned length m", "planned_m", "m", 9, given=True),
    AsRunColumn(JOIN_AT, "join_at", "text", 12, given=True),
    AsRunColumn("Done", "done", "flag", 6),
    AsRunColumn("Length wound m", "length_wound_m", "m", 9, 200_000),
    AsRunColumn("Reels rejected", "reels_rejected", "count", 9, 100),
    AsRunColumn("Reason", "reason", "reason", 17),
    AsRunColumn("Jumbo width mm", "jumbo_width_mm", "mm", 9, 20_000),
    AsRunColumn("Jumbo length m", "jumbo_length_m", "m", 9, 500_000),
    AsRunColumn("Edge trim front mm", "edge_front_mm", "mm", 9, 5_000),
    AsRunColumn("Edge trim back mm", "edge_back_mm", "mm", 9, 5_000),
    AsRunColumn("Minutes stopped", "minutes_stopped", "min", 9, 10_000),
    AsRunColumn("Remark", "remark", "text", 26),
)
"""One row a set."""

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
