"""The workbook's lists to work from, reckoned again: cores, sheeters, loads, timetable, sets."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any, NamedTuple

from tests.printed.amounts import stock_reels
from tests.printed.facts import Facts, Reel
from tests.printed.figures import Notes, exact, figures_in
from tests.printed.inputs import Asked
from tests.printed.records import Output
from tests.printed.workbook import Sheets, rows_under


def check_lists(facts: Facts, sheets: Sheets, notes: Notes) -> None:
    """Every list of the workbook."""
    _cores(facts, rows_under(sheets["Cores to cut"], "Run"), notes)
    _sheeters(facts, rows_under(sheets.get("Sheeters", []), "Sheeter"), notes)
    _timetable(facts, rows_under(sheets.get("Timetable", []), "Run"), notes)
    _sets(facts, rows_under(sheets["Sets"], "Run"), notes)
    _as_run(facts, rows_under(sheets["As run"], "Plan"), notes)


def _cores(facts: Facts, rows: list[dict[str, Any]], notes: Notes) -> None:
    true: Counter[tuple[Any, ...]] = Counter()
    broke: Counter[tuple[Any, ...]] = Counter()
    for run in facts.runs:
        for reel in facts.reels(run):
            if reel.row["done"]:
                continue
            key = (run["name"], reel.core_mm, reel.width_mm)
            true[key] += 1
            broke[key] += reel.position["kind"] == "broke"
    said = {
        (
            row["Run"],
            row["Core inside mm"] and float(row["Core inside mm"]),
            exact(row["Cut to mm"]),
        ): (
            row["Pieces"],
            row["of them for broke reels"] or 0,
        )
        for row in rows
    }
    notes.same("cores to cut", "workbook", said, {key: (true[key], broke[key]) for key in true})
    if any(core is None for _, core, _ in said):
        notes.add("cores to cut", "workbook", "a core without its diameter")


class SheeterReel(NamedTuple):
    """A reel that a sheeter cuts, wound by the plan or from stock."""

    asked: Asked
    length_m: int
    kg: Fraction
    sheets: int
    ready: datetime | None = None  # wound; None: it was there


def _sheeters(facts: Facts, rows: list[dict[str, Any]], notes: Notes) -> None:
    groups: dict[tuple[Any, ...], list[SheeterReel]] = defaultdict(list)
    for run in facts.runs:
        for reel in facts.reels(run):
            if reel.position["kind"] == "sheeter" and reel.good and reel.asked is not None:
                position, asked = reel.position, reel.asked
                kind = position["sheeter"], run["name"], position["order"]
                groups[*kind, reel.width_mm, position["ups"]].append(
                    SheeterReel(asked, reel.length_m, reel.mass_kg, facts.sheets_of(reel))
                )
        for line in run["orders"]:
            for one in facts.served.get(line["number"], ()):
                if one.cut is not None:
                    kind = one.cut["sheeter"], run["name"], line["number"]
                    groups[*kind, one.reel.width_mm, one.cut["ups"]].append(
                        SheeterReel(
                            facts.inputs.asked[line["number"]],
                            one.length_m,
                            one.kg,
                            one.cut["sheets"],
                        )
                    )
    said = {
        (
            row["Sheeter"],
            row["Run"],
            str(row["Order"]),
            exact(row["Reel width mm"]),
            row["Ups"],
        ): row
        for row in rows
    }
    notes.same("sheeters", "workbook, rows", sorted(map(str, said)), sorted(map(str, groups)))
    for key, row in said.items():
        reels = groups.get(key, [])
        if not reels:
            continue
        asked, where = reels[0].asked, f"workbook, Sheeters, {key}"
        sheets = sum(reel.sheets for reel in reels)
        notes.same("sheeters", where, row["Reels"], len(reels))
        notes.same("sheeters", where, row["Sheets"], sheets)
        notes.near("sheeters", where, row["In kg"], float(sum(r.kg for r in reels)), 1e-3)
        notes.near("sheeters", where, row["Out kg"], float(sheets * asked.sheet_kg), 1e-3)
        lengths = sorted({float(reel.length_m) for reel in reels}, reverse=True)
        notes.same("sheeters", where, figures_in(str(row["Reel length m"])), lengths)
        trim = float(key[3] - key[4] * asked.width_mm) / 2
        notes.near("sheeters", where, row["Edge trim per side mm"], trim, 1e-9)


def _timetable(facts: Facts, rows: list[dict[str, Any]], notes: Notes) -> None:
    true = [
        (run["name"], row["number"], block["number"], row["start"], row["finish"])
        for run in facts.runs
        for block in run["blocks"]
        for row in block["sets"]
    ]
    notes.same("timetable", "rows", len(rows), len(true))
    for row, (run, number, block, start, finish) in zip(rows, true, strict=False):
        where = f"timetable, {run}, set {number}"
        notes.same("timetable", where, (row["Run"], row["Set"], row["Block"]), (run, number, block))
        begin, end = map(datetime.fromisoformat, (start, finish))
        for said, moment in ((row["Start"], begin), (row["Finish"], end)):
            if abs(said - moment) > timedelta(seconds=1):
                notes.add("timetable", where, f"says {said}, is {moment}")
        notes.near("timetable", where, row["Minutes"], (end - begin).total_seconds() / 60, 1e-3)
    ends = defaultdict(list)
    for run in facts.runs:
        for line in run["orders"]:
            if not exact(line["lacking"]) and line["last_set"] is not None:
                ends[run["name"], line["last_set"]].append(line["number"])
    for row in rows:
        said = [part.removesuffix(" LATE") for part in str(row["Finishes order"] or "").split(", ")]
        true_ends = ends.get((row["Run"], row["Set"]), [""])
        notes.same("timetable", f"set {row['Set']}, orders finished", said, true_ends)


def _sets(facts: Facts, rows: list[dict[str, Any]], notes: Notes) -> None:
    true = [
        (
            run["name"],
            row["number"],
            block["number"],
            row["length_m"],
            exact(block["edge_front_mm"]),
        )
        for run in facts.runs
        for block in run["blocks"]
        for row in block["sets"]
    ]
    said = [
        (row["Run"], row["Issued as"], row["Block"], row["Length m"], exact(row["Edge front mm"]))
        for row in rows
    ]
    notes.same("sheet Sets", "workbook", said, true)


def _as_run(facts: Facts, rows: list[dict[str, Any]], notes: Notes) -> None:
    true = [
        (facts.plan["number"], run["name"], row["number"], row["length_m"])
        for run in facts.runs
        for block in run["blocks"]
        for row in block["sets"]
        if not row["done"]
    ]
    said = [(row["Plan"], row["Run"], row["Set"], row["Planned length m"]) for row in rows]
    notes.same("sheet As run", "workbook", said, true)


def check_loads(facts: Facts, outputs: list[Output], notes: Notes) -> None:
    """The sheeters' loads: each sheeter reel in one, of one kind, after it was wound."""
    reels: dict[tuple[Any, ...], SheeterReel] = {
        (run["name"], reel.row["number"], reel.position["number"], ""): SheeterReel(
            reel.asked,
            reel.length_m,
            reel.mass_kg,
            facts.sheets_of(reel),
            datetime.fromisoformat(reel.row["finish"]),
        )
        for run in facts.runs
        for reel in facts.reels(run)
        if reel.position["kind"] == "sheeter" and reel.good and reel.asked is not None
    }
    reels |= {
        (run["name"], 0, 0, one.reel.name): SheeterReel(
            facts.inputs.asked[line["number"]], one.length_m, one.kg, one.cut["sheets"]
        )
        for run in facts.runs
        for line in run["orders"]
        for one in facts.served.get(line["number"], ())
        if one.cut is not None
    }
    loaded: Counter[tuple[Any, ...]] = Counter()
    free: dict[str, datetime] = {}
    for load in facts.plan["loads"]:
        where = f"{load['sheeter']}, load {load['number']}"
        sheeter = facts.inputs.sheeter(load["sheeter"])
        keys = [
            (load["run"], each["set_number"], each["position"], each["stock"])
            for each in load["reels"]
        ]
        loaded.update(keys)
        own = [reels[key] for key in keys if key in reels]
        if not own:
            notes.add("loads", where, "no such reels")
            continue
        notes.same("loads", where, load["sheets"], sum(reel.sheets for reel in own))
        notes.same("loads", where, load["length_m"], min(reel.length_m for reel in own))
        longest = max(reel.length_m for reel in own)
        if longest - load["length_m"] > sheeter.get("max_length_difference_m", 0):
            notes.add("loads", where, "reels differ too much in length")
        if len(own) > sheeter.get("unwinds", 1):
            notes.add("loads", where, f"{len(own)} reels on {sheeter.get('unwinds', 1)} stands")
        start, finish = map(datetime.fromisoformat, (load["start"], load["finish"]))
        begins = [datetime.fromisoformat(run["start"]) for run in facts.runs if run["start"]]
        ready = max((reel.ready for reel in own if reel.ready is not None), default=min(begins))
        if start < max(ready, free.get(load["sheeter"], ready)) - timedelta(seconds=2):
            notes.add("loads", where, f"starts {start}, not ready before {ready}")
        free[load["sheeter"]] = finish
        speed, asked = exact(sheeter["speed_m_min"]), own[0].asked
        if "max_cuts_per_min" in sheeter and asked.chop_mm is not None:
            speed = min(speed, sheeter["max_cuts_per_min"] * asked.chop_mm / 1000)
        minutes = float(sheeter["load_change_min"] + load["length_m"] / speed)
        taken = (finish - start).total_seconds() / 60
        notes.near("loads", f"{where}, minutes", taken, minutes, 0.05)
    wrong = [key for key in reels if loaded[key] != 1]
    if wrong:
        notes.add("loads", "reels", f"not in one load: {wrong[:5]}")
    for said in outputs:
        _loads_said(facts, said, notes)


def _loads_said(facts: Facts, said: Output, notes: Notes) -> None:
    true: dict[str, list[Any]] = defaultdict(list)
    for load in facts.plan["loads"]:
        stands = f"{len(load['reels'])} of {load['stands']}"
        true[load["sheeter"]].append(
            (load["number"], load["order"], stands, facts.printed(exact(load["width_mm"])),
             Fraction(load["length_m"]), load["ups"], load["sheets"])
        )  # fmt: skip
    for sheeter, loads in true.items():
        shown = [rows for name, rows in said.loads.items() if name.startswith(sheeter)]
        rows = [
            (
                load["number"], load["order"], " ".join(load["reels"].replace(",", "").split()[:3]),
                facts.printed(load["width"]), load["length"], load["ups"], load["sheets"],
            )
            for load in (shown[0] if shown else [])
        ]  # fmt: skip
        notes.same("loads", f"{said.name}, {sheeter}", rows, loads)


def check_stock(facts: Facts, outputs: list[Output], notes: Notes) -> None:
    """Reels marked for stock are whole ones too many, and "goes to stock" is said only of such."""
    for run in facts.runs:
        reels: dict[str, list[Reel]] = defaultdict(list)
        for reel in facts.reels(run):
            if reel.good:
                reels[reel.position["order"]].append(reel)
        for line in run["orders"]:
            asked = facts.inputs.asked.get(line["number"])
            if asked is None or asked.share is not None:
                continue
            stock = stock_reels(facts, asked, reels[asked.number])
            where = f"{run['name']}, order {asked.number}"
            for said in outputs:
                marked = {
                    (row.set_number, row.place) for row in said.reels
                    if (row.run, row.order, row.use) == (run["name"], asked.number, "stock")
                }  # fmt: skip
                true = {
                    (reel.row["number"], reel.position["number"]) for reel in stock
                    if not (said.name == "labels" and reel.row["done"])
                }  # fmt: skip
                notes.same("reels for stock", f"{said.name}, {where}", sorted(marked), sorted(true))
            above = re.search(r" and ([\d,.]+) \S+ \(.*planned is the one above", line["text"])
            if above and not facts.inches:
                planned = float(exact(line["planned"]))
                notes.near("count above", where, float(above[1].replace(",", "")), planned, 0.0051)
            said_of = re.search(r"(\d+) reels?[^;]* to stock", line["text"])
            if ("stock" in line["text"]) != bool(said_of) or (
                int(said_of[1]) if said_of else 0
            ) != len(stock) * (line["state"] != "needs sales"):
                text = f"{line['text']}: {len(stock)} whole reels too many"
                notes.add("goes to stock", where, text)
