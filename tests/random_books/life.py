"""The life of a random plan: run in part, its book and mill changed, planned again and again."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

from tests.random_books.case import RandomCase
from tests.random_books.made import Made, command

_TIMES = 3  # planned again

# What a replan rightly refuses: a fault of the book, a jumbo shorter than what was run off it, a
# run or a book of which no line is left.
_RIGHTLY = re.compile(
    r"faults?$|were run off jumbo|has no order of it any more|has none of the orders", re.MULTILINE
)
_COUNTS = {  # what a line may say instead
    "Joins allowed": (0, 1, 3),
    "Keep off edge": (None, "yes"),
    "Takes seconds": (None, "yes"),
    "Max. reel mass [kg]": (None, 300, 900),
    "Over tolerance [%]": (0, 5, 40),
    "Due": (None,),
}
_FIGURES = ("Max. diameter [mm]", "Min. diameter [mm]", "Width across [mm]", "Quantity")
_LIMITS = ("speed_m_min", "set_up_min", "max_set_mass_kg", "max_reel_mass_kg", "max_edge_trim_mm")


def lived(case: RandomCase, made: Made) -> Iterator[tuple[str, str]]:
    """What does not hold of a plan that goes on, by kind; its files lie beside the first plan."""
    draw = Random(f"the life of a random plan, {case.number}")
    plan = made.file(".json")
    inputs = ["--book", str(made.book), "--mill", str(made.mill)]
    for _ in range(_TIMES):
        yield from _revised(plan.with_suffix(".xlsx"), inputs)
        words = _that_ran(json.loads(plan.read_text(encoding="utf-8")), draw)
        if not words:
            return
        if draw.random() < 0.6:
            case = changed(case, draw)
            case.write(made.book.parent)
        code, said, crash = _said(
            ["replan", str(plan), *words, *inputs, "--quiet", "--time-limit", "2", "--out",
             str(made.folder), "--issue", "--by", "Vale", "--why", "what was run"]
        )  # fmt: skip
        if code or crash:
            if crash or not _RIGHTLY.search(said):
                yield "replan", said
            return
        plan = max(made.folder.glob("*.json"), key=lambda path: path.stat().st_mtime_ns)
        for path in (plan, plan.with_suffix(".xlsx")):
            code, said, crash = _said(["verify", str(path), *inputs])
            if code or crash:
                yield "plan of the rest", said


def changed(case: RandomCase, draw: Random) -> RandomCase:
    """The case with lines cancelled, new and changed, and at times another limit or jumbo."""
    rows = [dict(row) for row in case.orders]
    if len(rows) > 1 and draw.random() < 0.4:
        del rows[draw.randrange(len(rows))]
    if draw.random() < 0.5:
        rows.append({**draw.choice(rows), "Order": f"RUSH-{draw.randint(1, 99)}"})
    for _ in range(draw.choice([0, 1, 2])):
        row, heading = draw.choice(rows), draw.choice([*_FIGURES, *_COUNTS])
        if heading in _COUNTS:
            row[heading] = draw.choice(_COUNTS[heading])
        elif isinstance(row.get(heading), int | float):
            row[heading] = max(1, round(row[heading] * draw.choice([0.5, 0.8, 0.95, 1.05, 1.5])))
    sections = deepcopy(dict(case.mill.sections))
    limit = draw.choice(_LIMITS)
    if limit in sections["winder"][0] and draw.random() < 0.3:
        sections["winder"][0][limit] *= draw.choice([1.1, 1.25])
    gone = draw.random() < 0.15
    return replace(
        case,
        mill=replace(case.mill, sections=sections),
        orders=tuple(rows),
        jumbos=case.jumbos[1:] if gone else case.jumbos,
        defects=() if gone else case.defects,
        stock=() if draw.random() < 0.15 else case.stock,
    )


def _revised(workbook: Path, inputs: list[str]) -> Iterator[tuple[str, str]]:
    """A workbook that nobody touched revises to the same plan."""
    out = str(workbook.parent)
    code, said, crash = _said(["revise", str(workbook), *inputs, "--out", out, "--quiet", "--json"])
    if code or crash:
        yield "revise", said
        return
    answer = json.loads(said)
    difference = answer["difference"]
    other = [
        answer["changes"],
        answer["faults"],
        *(difference[k] for k in ("runs", "sets", "orders")),
    ]
    if any(other) or difference["figures_before"] != difference["figures_after"]:
        yield "revise", f"an untouched workbook changes something: {other}"


def _that_ran(plan: dict[str, Any], draw: Random) -> list[str]:
    """Options that say which sets have run: more of the first run that has any left, at times the
    last of them spoiled."""
    left = {
        run["name"]: [
            row["number"] for block in run["blocks"] for row in block["sets"] if not row.get("done")
        ]
        for run in sorted(plan["runs"], key=lambda run: run.get("start") or "")
    }
    on = next((name for name, numbers in left.items() if numbers), None)
    if on is None:
        return []
    last = left[on][draw.randint(0, (len(left[on]) - 1) // 2)]
    words = []
    for run in plan["runs"]:
        rows = [row for block in run["blocks"] for row in block["sets"]]
        ran = [row["number"] for row in rows
               if row.get("done") or (run["name"] == on and row["number"] <= last)]  # fmt: skip
        if ran:
            words += ["--done", f"{run['name']}: {min(ran)}-{max(ran)}"]
    if draw.random() < 0.3:
        words += ["--spoiled", f"{on}: {last}" if len(plan["runs"]) > 1 else str(last)]
    return words


def _said(words: list[str]) -> tuple[int, str, str]:
    code, stdout, stderr, crash = command(words)
    return code, (crash or stderr or stdout).strip() if code or crash else stdout, crash
