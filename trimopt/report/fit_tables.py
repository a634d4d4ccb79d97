"""Tables of an answer to an enquiry that the page and the terminal both draw."""

from __future__ import annotations

from trimopt.report.table_columns import Column
from trimopt.report.words.figures import percent

__all__ = ["ALONE", "WIDTH"]

WIDTH = Column("width", 0, "mm", lambda point: point.width_mm)
"""Of a point of the curve."""

ALONE = (
    Column("core", 0, "core", lambda row: row.core_mm),
    Column("set_up_to", 0, "m", lambda row: row.length_m),
    Column("diameter", 0, "diameter", lambda row: row.diameter_mm),
    Column("reel_mm", 0, "mm", lambda row: row.reel_mm),
    Column("ups", 0, "count", lambda row: row.ups),
    Column("across", 0, "count", lambda row: row.across),
    Column("trim_mm", 0, "mm", lambda row: row.trim_mm),
    Column("trim_of_deckle", 0, "share", lambda row: percent(row.trim_share, 1)),
)
"""A row for each core, and each number of ups: the enquiry alone across the deckle."""
