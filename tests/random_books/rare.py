"""What a mill, a book or a desk has seldom: drawn apart, for numbers from `RARE_FROM` on.

The cases below that number are as they were before it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import replace
from datetime import datetime, timedelta
from random import Random
from typing import Any

from tests.random_books.mill import RandomMill

RARE_FROM = 4_000_000

Row = Mapping[str, Any]

_NUMBERS = (  # of orders, as other systems make them
    "2 × 30", "1-3", "12; 13", "A,B", "4801 / 2", "Ω-7:3", "1 + 1", "Å×2", "“7”", "0", "-1",
    "HELD-1", "STOCK-1", "row 5", "x" * 60, "B 1 × 9", "1e5", "=1+1", "a\tb", "set 1",
)  # fmt: skip
_ODD_CORES = ((70.5, 0.4), (76.2, 12.7), (150.4, 0), (508, 20))


def rare_mill(draw: Random, mill: RandomMill) -> RandomMill:
    """One or two stations, odd cores, jumbos of less than a reel or of dozens, no spare knife."""
    sections = deepcopy(dict(mill.sections))
    winder = sections["winder"][0]
    usable_m = mill.usable_m
    if draw.random() < 0.25:
        winder["max_reels"] = draw.choice([1, 1, 2])
        winder["knives"] = winder["max_reels"] + draw.choice([1, 1, 3])
        if "max_reels_per_side" in winder:
            winder["max_reels_per_side"] = 1
        if "knives_at_mm" in winder:
            winder["knives_at_mm"] = winder["knives_at_mm"][: winder["knives"]]
    if draw.random() < 0.3 and not mill.inches:
        inside, wall = draw.choice(_ODD_CORES)
        if inside + 2 * wall < winder["min_reel_diameter_mm"]:
            sections["winder.core"].append({"inside_mm": inside, "wall_mm": wall})
    if draw.random() < 0.3:
        usable_m = max(200, round(usable_m * draw.choice([0.2, 0.4, 8])))
        lost = {key: value for key, value in sections["jumbo"].items() if key.startswith("loss")}
        width_mm = sections["jumbo"]["width_mm"]
        sections["jumbo"] = {"width_mm": width_mm, **lost, "usable_length_m": usable_m}
    if draw.random() < 0.2:
        sections["tolerance"] = [{"under_percent": 0, "over_percent": 0}]
    if draw.random() < 0.2:
        winder["knives"] = winder["max_reels"] + 1
        winder.pop("knives_at_mm", None)
    if draw.random() < 0.15:
        winder["min_reel_width_mm"] = draw.choice([60, 20.5, 1000])
        winder["min_knife_spacing_mm"] = min(winder["min_knife_spacing_mm"],
                                             winder["min_reel_width_mm"])  # fmt: skip
        if "min_broke_width_mm" in winder:
            winder["min_broke_width_mm"] = winder["min_knife_spacing_mm"]
    return replace(mill, sections=sections, usable_m=usable_m)


def rare_rows(draw: Random, rows: Sequence[Row], begins: datetime) -> list[Row]:
    """Orders overdue, alike, nearly made or more than made, with odd numbers and tolerances."""
    found: list[Row] = [dict(row) for row in rows]
    numbers = draw.sample(_NUMBERS, len(_NUMBERS))
    for row in found:
        assert isinstance(row, dict)
        if draw.random() < 0.2 and numbers:
            row["Order"] = numbers.pop()
        if draw.random() < 0.2:
            row["Due"] = begins - timedelta(hours=draw.choice([1, 30, 9000]))
        for heading in [each for each in row if each.startswith("Max. diameter")]:
            if draw.random() < 0.7:  # however thin: jumbos are short here, and mass limits low
                row[heading.replace("Max.", "Min.")] = "free"
        if draw.random() < 0.15:
            row["Already made"] = draw.choice([row["Quantity"], row["Quantity"] - 1, 0])
            row["Already made"] = max(0, math.floor(row["Already made"]))
        if draw.random() < 0.2:
            row |= {"Under tolerance [%]": draw.choice([0, 50, 99]),
                    "Over tolerance [%]": draw.choice([0, 1.5, 99])}  # fmt: skip
    for number in range(draw.choice([0, 0, 1, 3])):  # alike but for the number
        found.append({**draw.choice(found), "Order": f"TWIN-{number}"})
    return found


def rare_words(draw: Random, begins: datetime) -> list[str]:
    """When the rest may start and what stays: long ago, far ahead, at midnight."""
    words: list[str] = []
    day = timedelta(days=1)
    if draw.random() < 0.35:
        now = draw.choice([begins - day, begins + 30 * day, begins + timedelta(hours=18)])
        words += ["--now", f"{now:%Y-%m-%dT%H:%M}"]
    if draw.random() < 0.4:
        until = draw.choice([begins - 2 * day, begins + 40 * day, begins + timedelta(hours=3)])
        words += ["--keep-until", f"{until:%Y-%m-%dT%H:%M}"]
    return words


def rare_changes(
    draw: Random, jumbos: Sequence[Row], stock: Sequence[Row], instructions: Sequence[Row],
    orders: Sequence[Row],
) -> tuple[tuple[Row, ...], tuple[Row, ...], tuple[Row, ...]]:  # fmt: skip
    """Jumbos renamed or come, stock that hands took, instructions anew, some for no order."""
    jumbos, stock, instructions = ([dict(row) for row in rows]
                                   for rows in (jumbos, stock, instructions))  # fmt: skip
    if jumbos and draw.random() < 0.3:
        draw.choice(jumbos)["Jumbo"] = f"N{draw.randint(1, 99)}"
    if jumbos and draw.random() < 0.2:
        jumbos.append({**draw.choice(jumbos), "Jumbo": f"New {draw.randint(1, 99)}"})
    if stock and draw.random() < 0.5:
        del stock[draw.randrange(len(stock))]
    if stock and draw.random() < 0.3:
        reel = draw.choice(stock)
        reel["Length [m]" if "Length [m]" in reel else "Joins"] = draw.choice([1, 2, 500])
    if draw.random() < 0.3:
        names = [str(row["Order"]) for row in orders] + ["CANCELLED-9"]
        one, other = (draw.choice(names) for _ in range(2))
        instructions.append(
            draw.choice(
                [
                    {"Instruction": "together", "Orders": f"{one}, {other}"},
                    {"Instruction": "forbid", "Pattern": f"2 × {one}"},
                    {"Instruction": "pin", "Pattern": f"1 × {one}", "Number": 1},
                    {"Instruction": "set-ups", "Number": draw.randint(0, 2)},
                ]
            )
        )
    return tuple(jumbos), tuple(stock), tuple(instructions)
