"""What a case may have beside: defects and odd jumbos, reels in stock, stock widths, seconds.

Drawn apart from the rest, so that a number's mill and book are the same without them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from random import Random
from typing import Any

from tests.random_books.mill import Paper, RandomMill, as_figure

Row = Mapping[str, Any]

_DAY = date(2026, 11, 20)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """A case's mill, orders and jumbos with what is drawn beside, and the sheets for it."""

    mill: RandomMill
    orders: tuple[Row, ...]
    jumbos: tuple[Row, ...]
    defects: tuple[Row, ...]
    metres_from: str
    stock: tuple[Row, ...]
    run_days: tuple[Row, ...]
    traits: frozenset[str]


def random_extras(
    draw: Random, mill: RandomMill, orders: Sequence[Row], jumbos: Sequence[Row]
) -> Extras:
    """Draw what a case has beside its mill, orders and jumbos; each kind in a part of the cases."""
    traits: set[str] = set()
    defects: list[Row] = []
    metres_from = draw.choice(["outside", "spool"])
    if draw.random() < 0.5:
        jumbos = [*jumbos, *_odd_jumbos(draw, mill)]
        defects = [row for each in jumbos for row in _defects(draw, each)]
        traits |= {"odd jumbos", *(["defects"] if defects else [])}
    if draw.random() < 0.4:
        traits.add("seconds")
        orders = [{**row, "Takes seconds": "yes"} if draw.random() < 0.4 else row for row in orders]
    stock = _stock(draw, mill, orders) if draw.random() < 0.4 else []
    stock += _sheeter_stock(mill, orders) if draw.random() < 0.4 else []
    if stock:
        traits.add("stock reels")
    if draw.random() < 0.35:
        traits.add("stock widths")
        mill = _with_stock_widths(draw, mill)
    days = _run_days(draw, mill.papers) if draw.random() < 0.2 else []
    if days:
        traits.add("run days")
    return Extras(
        mill=mill,
        orders=tuple(orders),
        jumbos=tuple(jumbos),
        defects=tuple(defects),
        metres_from=metres_from,
        stock=tuple(stock),
        run_days=tuple(days),
        traits=frozenset(traits),
    )


def _odd_jumbos(draw: Random, mill: RandomMill) -> list[Row]:
    nominal = mill.sections["jumbo"]["width_mm"]
    found: list[Row] = []
    for number in range(1, draw.choice([1, 1, 2, 3]) + 1):
        paper = draw.choice(mill.papers)
        found.append(
            {
                "Jumbo": draw.choice([f"Odd {number}", f"R1-J {number}"]),
                "Grade": paper.grade,
                "Grammage [g/m²]": paper.grammage_gsm,
                "Width [mm]": nominal + draw.choice([0, -300, -20, -0.5, -150, 30]),
                "Length [m]": round(mill.usable_m * draw.choice([0.3, 0.8, 1, 1, 1.4])) + 220,
            }
        )
    return found


def _defects(draw: Random, jumbo: Row) -> list[Row]:
    """Streaks, bad edges, holes: none lies over another."""
    length, width = jumbo["Length [m]"], float(jumbo["Width [mm]"])
    found: list[Row] = []
    reached = 0
    for _ in range(draw.choice([0, 1, 1, 2, 3])):
        start = reached + draw.randint(0, max(1, (length - reached) // 2))
        end = min(length, start + draw.randint(1, max(2, length // 2)))
        kind = draw.choice(["streak", "front edge", "back edge", "hole", "hole, as a band"])
        at = round(draw.uniform(0, width - 60), 1)
        ways: dict[str, dict[str, Any]] = {
            "streak": {"From width [mm]": at, "To width [mm]": at + draw.choice([1, 25, 60])},
            "front edge": {"To width [mm]": draw.choice([8, 30, 90])},
            "back edge": {"From width [mm]": width - draw.choice([8, 30, 90])},
            "hole": {},
            "hole, as a band": {"From width [mm]": 0, "To width [mm]": width},
        }
        if kind.startswith("hole"):
            end = min(end, start + draw.choice([5, 300, 2_000]))
        if start < end:
            found.append(
                {
                    "Jumbo": jumbo["Jumbo"],
                    "From length [m]": start,
                    "To length [m]": end,
                    **ways[kind],
                    "What it is": draw.choice([kind, "", "=streak", "- <dirt> & holes"]),
                }
            )
            reached = end
    return found


def _stock(draw: Random, mill: RandomMill, orders: Sequence[Row]) -> list[Row]:
    """Reels as some orders have them, a few of a width that none has."""
    reels = [row for row in orders if row["Product"] == "reel"]
    found: list[Row] = []
    for number in range(draw.randint(1, 8)):
        if not reels:
            break
        row = draw.choice(reels)
        core = next(
            (row[key] for key in ("Core [mm]", "Core [in]") if key in row),
            mill.sections["winder.core"][0]["inside_mm"],
        )
        unit = "in" if mill.inches else "mm"
        reel: dict[str, Any] = {
            "Reel": f"S{number}",
            "Grade": row["Grade"],
            "Grammage [g/m²]": row["Grammage [g/m²]"],
            f"Core [{unit}]": as_figure(core),
            "Place": draw.choice(["", "Bay 4", "=B"]),
            "Joins": draw.choice([None, 0, 1]),
            "Reserved for": draw.choice(["", "", "", str(row["Order"]), "nobody known"]),
        }
        width = f"Width across [{unit}]"
        reel[f"Width [{unit}]"] = row[width]
        if draw.random() < 0.7:
            reel["Made on"] = _DAY - timedelta(days=draw.randint(0, 90))
        largest = row.get(f"Max. diameter [{unit}]")
        if largest is not None and draw.random() < 0.7:
            reel[f"Diameter [{unit}]"] = largest - draw.choice([0, 0, 1, 10 if unit == "mm" else 1])
        else:
            reel["Length [m]"] = round(mill.usable_m * draw.uniform(0.2, 1)) + 1
        found.append(reel)
    return found


def _sheeter_stock(mill: RandomMill, orders: Sequence[Row]) -> list[Row]:
    """Reels wide enough for some sheets across, drawn apart; an order may be too small for one."""
    draw = Random(f"sheeter reels in stock, {mill.text}")
    sheets = [row for row in orders if row["Product"] == "sheet"]
    sheeters = mill.sections["sheeter"]
    unit, a_mm = ("in", 1 / 25.4) if mill.inches else ("mm", 1.0)
    found: list[Row] = []
    for number in range(draw.randint(1, 6) if sheets and sheeters else 0):
        row, sheeter = draw.choice(sheets), draw.choice(sheeters)
        across = float(sum(map(Fraction, str(row[f"Width across [{unit}]"]).split())))
        core = sheeter["core_inside_mm"]
        ups, more_mm = draw.randint(1, sheeter["max_ups"]), draw.choice([-1, 0, 0, 20, 70, 300])
        found.append(
            {
                "Reel": f"F{number}",
                "Grade": row["Grade"],
                "Grammage [g/m²]": row["Grammage [g/m²]"],
                f"Core [{unit}]": as_figure(core),
                f"Width [{unit}]": round(
                    ups * across + (2 * sheeter["trim_per_side_mm"] + more_mm) * a_mm + 0.005, 2
                ),
                "Length [m]": round(mill.usable_m * draw.uniform(0.02, 0.4)) + 1,
                "Reserved for": draw.choice(["", "", str(row["Order"])]),
                "Made on": _DAY - timedelta(days=draw.randint(0, 9)),
            }
        )
    return found


def _with_stock_widths(draw: Random, mill: RandomMill) -> RandomMill:
    winder = mill.winder
    sections = []
    for number in range(draw.choice([1, 1, 2])):
        paper = draw.choice(mill.papers)
        largest = winder["max_reel_diameter_mm"]
        least = winder["min_reel_width_mm"]
        section: dict[str, Any] = {
            "name": f"STOCK-{number}",
            "grade": paper.grade,
            "grammage_gsm": paper.grammage_gsm,
            "width_mm": draw.randint(
                math.ceil(least), max(math.ceil(least), min(winder["max_reel_width_mm"], 900))
            ),
            "core_mm": draw.choice(mill.sections["winder.core"])["inside_mm"],
            "max_diameter_mm": largest - draw.choice([0, 50]),
            "max_t": draw.choice([0.5, 5, 40]),
            "value_share": draw.choice([0.3, 0.8, 0.99]),
        }
        if draw.random() < 0.5:
            section["min_diameter_mm"] = max(
                winder["min_reel_diameter_mm"], section["max_diameter_mm"] - 200
            )
        sections.append(section)
    return replace(mill, sections={**mill.sections, "stock_width": sections})


def _run_days(draw: Random, papers: Sequence[Paper]) -> list[Row]:
    found: list[Row] = []
    for paper in papers:
        first = date(2026, 11, 23) + timedelta(days=draw.randint(0, 9))
        found.append(
            {
                "Grade": paper.grade,
                "Grammage [g/m²]": paper.grammage_gsm,
                "From": first,
                "To": first + timedelta(days=draw.randint(0, 2)),
            }
        )
    return found
