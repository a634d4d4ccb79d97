"""The lines of the book in inches and pounds, as a mill might export them."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

INCH_HEADINGS = (
    "Order", "Customer", "Grade", "Basis weight", "Product", "Width [in]", "Cut-off [in]",
    "Max. diameter [in]", "Core [in]", "Quantity", "Unit", "Sheets per ream", "Under [%]",
    "Over [%]", "Due", "Ship to",
)  # fmt: skip
INCH_CUSTOMERS = (
    ("Bellwick Corrugated", "Harrow Bend"),
    ("Osterly Box", "Cane Junction"),
    ("Pinecrest Sack", "Larkspur"),
    ("Torrin Press", "Halden Springs"),
)
# grade, basis weight as the line has it, width or across and cut-off, diameter, core, quantity,
# unit, sheets a ream, tolerances, days until due
INCH_LINES: tuple[tuple[Any, ...], ...] = (
    ("Kraft linerboard", "42 lb/1000 ft2", "87 1/2", "", 58, 4, 40, "rolls", "", "", "", 1),
    ("Kraft linerboard", "42 lb/1000 ft2", "65 7/8", "", 58, 4, 30, "rolls", "", 5, 5, 1),
    ("Kraft linerboard", "42 lb/1000 ft2", "54 11/16", "", 58, 4, 60, "short tons", "", "", "", 2),
    ("Kraft linerboard", "42 lb/1000 ft2", "29 1/16", "", 58, 4, 120000, "lb", "", "", "", 2),
    ("Kraft linerboard", "42 lb/1000 ft2", "43 5/8", "", 58, 4, 2400, "MSF", "", 5, 10, 3),
    ("Natural kraft", "50 lb", "36", "", 50, 3, 44, "rolls", "", "", "", 2),
    ("Natural kraft", "50 lb", "40 1/4", "", 50, 3, 52000, "lb", "", "", "", 3),
    ("Natural kraft", "50 lb", "21 3/4", "", 50, 3, 400, "cwt", "", "", "", 3),
    ("Natural kraft", "50 lb", "58 7/8", "", 50, 3, 240000, "lf", "", 5, 5, 4),
    ("Smooth offset", 60, "17 1/2", "", 50, 3, 36, "ea", "", "", "", 4),
    ("Smooth offset", 60, "35", "", 50, 3, 30, "rolls", "", "", "", 4),
    ("Smooth offset", 60, "25", "38", "", "", 640, "reams", 500, 5, 5, 4),
    ("Smooth offset", 60, "23", "35", "", "", 450, "M sheets", "", 5, 5, 5),
)


def inch_table(as_of: date) -> list[list[object]]:
    """A mill's export: settings, headings with their units, lines of three basis weights."""
    lines: list[list[object]] = [["As of", as_of.isoformat()], list(INCH_HEADINGS)]
    for index, line in enumerate(INCH_LINES):
        grade, basis, across, chop, diameter, core, quantity, unit, ream, under, over, days = line
        customer, town = INCH_CUSTOMERS[index % len(INCH_CUSTOMERS)]
        due = (as_of + timedelta(days=days)).isoformat()
        lines.append(
            [f"7{index + 101}", customer, grade, basis, "sheet" if chop else "roll", across, chop,
             diameter, core, quantity, unit, ream, under, over, due, town]
        )  # fmt: skip
    return lines
