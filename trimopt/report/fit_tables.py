"""Tables of an answer to an enquiry that the page and the terminal both draw."""

from __future__ import annotations

from trimopt.report.table_columns import TableColumn
from trimopt.report.words.units import percent

WIDTH = TableColumn("width", 0, "mm", lambda point: point.width_mm)
"""Of a point of the curve."""

ALONE = (
    TableColumn("core", 0, "core", lambda row: row.core_mm),
    TableColumn("set_up_to", 0, "m", lambda row: row.length_m),
    TableColumn("diameter", 0, "diameter", lambda row: row.diameter_mm),
    TableColumn("reel_mm", 0, "mm", lambda row: row.reel_mm),
    TableColumn("ups", 0, "count", lambda row: row.ups),
    TableColumn("across", 0, "count", lambda row: row.across),
    TableColumn("broke_reels", 0, "count", lambda row: row.broke_reels),
    TableColumn("trim_mm", 0, "mm", lambda row: row.trim_mm),
    TableColumn("trim_of_deckle", 0, "share", lambda row: percent(row.trim_share, 1)),
)
"""A row for each core, and each number of ups: the enquiry alone across the deckle."""
