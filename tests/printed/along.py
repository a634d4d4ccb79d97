"""What lies along the web, reckoned again: metres on jumbos, joins, minutes, end of shift."""

from __future__ import annotations

import math
from collections import defaultdict
from datetime import datetime
from itertools import pairwise

from tests.printed.beside import cuts
from tests.printed.facts import Facts, Json
from tests.printed.figures import Notes, exact

_MINUTE = 0.02


def check_along(facts: Facts, notes: Notes) -> None:
    """Jumbos of every run, and the clock over all of them."""
    names = [jumbo["name"] for run in facts.runs for jumbo in run["jumbos"]]
    notes.same("jumbos", "a name stands twice", len(names), len(set(names)))
    for run in facts.runs:
        _stretches(facts, run, notes)
        for place, jumbo in enumerate(run["jumbos"], start=1):
            last = place == len(run["jumbos"])
            _jumbo(facts, run, jumbo, notes, last=last)
        _minutes(facts, run, notes)
    _named(facts, notes)
    _shift(facts, notes)


def _stretches(facts: Facts, run: Json, notes: Notes) -> None:
    wound: dict[str, int] = defaultdict(int)
    order: list[str] = []
    min_part = facts.inputs.winder.get("min_join_part_m", 1)
    cut = {j["name"]: cuts(facts.bands(j), j, facts.end_m(j)) for j in run["jumbos"]}
    reached: dict[str, int] = defaultdict(int)
    for block in run["blocks"]:
        for row in block["sets"]:
            where = f"{run['name']}, set {row['number']}"
            parts = row["stretches"]
            for one, other in pairwise(parts):
                if one["jumbo"] == other["jumbo"] and one["to_m"] == other["from_m"]:
                    notes.add("joins", where, f"at {one['to_m']} m, where nothing is cut out")
            metres = [part["to_m"] - part["from_m"] for part in parts]
            notes.same("metres on jumbos", where, sum(metres), row["length_m"])
            if len(parts) > 1 and min(metres) < min_part:
                notes.add("joins", where, f"a part of {min(metres)} m")
            for part in parts:
                name = part["jumbo"]
                begins = {reached[name], *(end for _, end in cut[name] if end >= reached[name])}
                if part["from_m"] not in begins:
                    notes.add("metres on jumbos", where, f"{part['from_m']}, not {begins}")
                if any(part["from_m"] < end and start < part["to_m"] for start, end in cut[name]):
                    notes.add("metres on jumbos", where, "lies over what is cut out")
                reached[name] = part["to_m"]
                wound[name] += part["to_m"] - part["from_m"]
                if not order or order[-1] != part["jumbo"]:
                    order.append(part["jumbo"])
    names = [jumbo["name"] for jumbo in run["jumbos"]]
    notes.same("jumbos", f"{run['name']}, in order of unwinding", order, names)
    for jumbo in run["jumbos"]:
        where = f"{run['name']}, jumbo {jumbo['name']}"
        notes.same("metres on jumbos", where, jumbo["wound_m"], wound[jumbo["name"]])
        out = sum(end - start for start, end in cut[jumbo["name"]])
        notes.same("metres cut out", where, jumbo["defect_m"], out)


def _jumbo(facts: Facts, run: Json, jumbo: Json, notes: Notes, *, last: bool) -> None:
    where = f"{run['name']}, jumbo {jumbo['name']}"
    keys = ("loss_start_m", "wound_m", "butt_m", "carried_forward_m", "loss_end_m", "defect_m")
    notes.same("metres of a jumbo", where, sum(jumbo[key] for key in keys), jumbo["length_m"])
    if min(jumbo[key] for key in keys) < 0:
        notes.add("metres of a jumbo", where, "a part is below 0")
    if jumbo["carried_forward_m"] and not last:
        notes.add("carried forward", where, "is not the run's last jumbo")
    listed = {each.name: each for each in facts.inputs.listed}
    if jumbo["nominal"]:
        width = exact(facts.inputs.mill["jumbo"]["width_mm"])
        notes.same("width of a jumbo", where, exact(jumbo["width_mm"]), width)
        if jumbo["name"] in {*listed, *facts.inputs.faulty} - facts.begun:
            notes.add("jumbos", where, "is nominal, and the book lists one of that name")
        return
    if jumbo["name"] not in listed:
        if jumbo["name"] not in facts.begun:
            notes.add("jumbos", where, "is not in the book")
        return
    own = listed[jumbo["name"]]
    apart = exact(facts.inputs.mill["jumbo"].get("max_grammage_difference_percent", "0.5")) / 100
    paper = exact(run["grammage_gsm"])
    if own.grade.casefold() != run["grade"].casefold() or abs(own.gsm - paper) > apart * paper:
        notes.add("jumbos", where, f"is of {own.grade} {float(own.gsm)} g/m²")
    said = exact(jumbo["width_mm"]), jumbo["length_m"]
    notes.same("jumbos", where, said, (own.width_mm, own.length_m))


def _named(facts: Facts, notes: Notes) -> None:
    """Every listed jumbo is wound by a run or named, with a reason, and not both."""
    used = {jumbo["name"] for run in facts.runs for jumbo in run["jumbos"]}
    named = {row["name"]: row["why"] for row in facts.plan["unused_jumbos"]}
    for jumbo in facts.inputs.listed:
        if (jumbo.name in used) == bool(named.get(jumbo.name)):
            notes.add("listed jumbo not named", jumbo.name, "neither or both of used and named")


def _winding_min(length_m: float, speed: float, rise: float) -> float:
    """Run-up, speed and run-down of so many metres; `rise` is m/min in a second."""
    if length_m >= speed * speed / (60 * rise):
        return length_m / speed + speed / (60 * rise)
    return 2 * math.sqrt(60 * length_m / rise) / 60


def _minutes(facts: Facts, run: Json, notes: Notes) -> None:
    """Sets follow one another, and each takes what the mill file's minutes come to."""
    winder = facts.inputs.winder
    before = None
    on = ""
    done, stood = False, 0.0
    for block in run["blocks"]:
        for place, row in enumerate(block["sets"]):
            where = f"{run['name']}, set {row['number']}"
            start, finish = (datetime.fromisoformat(row[key]) for key in ("start", "finish"))
            apart = 0.0 if before is None else (start - before).total_seconds()
            may_wait, done = done, row["done"]  # what ran may have been the last before a stop
            if may_wait and apart > 0:
                stood += apart / 60
            elif abs(apart) > 1:
                notes.add("times", where, f"starts {start}, the set before ends {before}")
            before = finish
            minutes = winder.get("set_change_min", 0)
            first = place == 0 and block["number"] == 1
            if place == 0:
                minutes += winder.get("set_up_min", 0) * block["set_up"]
                minutes += winder.get("knife_move_min", 0) * block["knife_moves"]
            for part in row["stretches"]:
                minutes += winder.get("jumbo_change_min", 0) * (part["jumbo"] != on)
                joined = part["jumbo"] == on and part is not row["stretches"][0]
                minutes += winder.get("join_min", 3) * joined
                on = part["jumbo"]
                length = part["to_m"] - part["from_m"]
                speed, rise = winder["speed_m_min"], winder["acceleration_m_min_s"]
                minutes += _winding_min(length, speed, rise)
            taken = (finish - start).total_seconds() / 60
            allowed = [minutes]
            if first:  # the winder may stand as it is needed
                ready = winder.get("set_up_min", 0), winder.get("jumbo_change_min", 0)
                allowed += [minutes - ready[0], minutes - ready[1], minutes - sum(ready)]
                allowed += [minutes + ready[0]]
            # What is done took its minutes on the mill as it was then.
            if not row["done"] and not any(abs(taken - each) <= _MINUTE for each in allowed):
                notes.add("times", where, f"takes {taken:.2f} min, reckoned {minutes:.2f}")
    if before is not None:
        finish = datetime.fromisoformat(run["finish"])
        begin = datetime.fromisoformat(run["start"])
        notes.same("times", f"{run['name']}, finish", finish, before)
        total = (finish - begin).total_seconds() / 60 - stood
        notes.near("times", f"{run['name']}, minutes", float(run["minutes"]), total, _MINUTE)


def _shift(facts: Facts, notes: Notes) -> None:
    """Runs follow one another; with an end of shift every set is finished by then."""
    timed = [run for run in facts.runs if run["start"] and run["blocks"]]
    if facts.plan["replaces"]:  # a run may be taken up again behind others
        rows = [row for run in timed for block in run["blocks"] for row in block["sets"]]
        rows.sort(key=lambda row: str(row["start"]))
        for one, other in pairwise(rows):
            if other["start"] < one["finish"]:
                where = f"sets from {one['start']} and {other['start']}"
                notes.add("times", where, f"the first ends {one['finish']}")
    else:
        for one, other in pairwise(timed):
            notes.same("times", f"{other['name']}, start", other["start"], one["finish"])
    until = facts.plan["settings"]["until"]
    if until is None:
        for run in facts.runs:
            for line in run["orders"]:
                if line["state"] == "carried over":
                    notes.add("state of an order", line["number"], "carried over, with no end")
        return
    for run in timed:
        if datetime.fromisoformat(run["finish"]) > datetime.fromisoformat(until):
            notes.add("times", run["name"], f"finished {run['finish']}, the shift ends {until}")
