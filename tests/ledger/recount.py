"""The trend counted a second time, straight from the plans' JSON and what the crew wrote.

Nothing of the package is used: plain dictionaries, loops and sums. The rules are written anew from
the words that the trend prints.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

Plain = dict[str, Any]
_CAUSES = (
    "delivered_kg", "surplus_kg", "edge_trim_kg", "pattern_trim_kg", "sheeter_kg", "butts_kg",
    "start_end_kg", "culled_kg",
)  # fmt: skip


@dataclass(kw_only=True)
class SetCount:
    """One set: where it belongs, and its figures as planned and as run."""

    at: datetime
    plan: str
    grade: str
    winder: str
    gsm: float
    planned: dict[str, float]
    run: dict[str, float]
    ran: bool
    bound: dict[str, float]
    pieces: list[tuple[str, str, float, int, float]]  # order, customer, width, reels, kg
    written: Plain | None


@dataclass(kw_only=True)
class Counted:
    """Sums over sets, planned, planned of run, and run."""

    sides: dict[str, dict[str, float]] = field(default_factory=dict)


def count_sets(history: Iterable[tuple[Plain, bool, list[Plain]]]) -> Iterator[SetCount]:
    """Give all sets that count, from plans as JSON, whether each was replaced, and its entries."""
    for plan, replaced, entries in history:
        for place, run in enumerate(plan["runs"], start=1):
            mine = {entry["number"]: entry for entry in entries if entry["place"] == place}
            for each in _run_sets(plan, run, mine):
                if each.ran or not replaced:
                    yield each


def _run_sets(plan: Plain, run: Plain, written: dict[int, Plain]) -> Iterator[SetCount]:
    gsm, web, deckle = run["grammage_gsm"], run["jumbo_width_mm"], run["deckle_mm"]

    def kg(width: float, metres: float) -> float:
        return width * metres * float(gsm) / 1_000_000

    flat = [(block, row) for block in run["blocks"] for row in block["sets"]]
    across = run["balance"]["wound_kg"] - run["balance"]["delivered_kg"]
    order_kg: dict[str, float] = defaultdict(float)
    for block, row in flat:
        for p in block["positions"]:
            order_kg[p["order"]] += kg(p["width_mm"], row["length_m"])
    lines = {line["number"]: line for line in run["orders"]}
    jumbos = {jumbo["name"]: jumbo for jumbo in run["jumbos"]}
    bound = _bound(run)
    before = datetime.fromisoformat(run["start"])
    changed: set[int] = set()
    span = (datetime.fromisoformat(flat[-1][1]["finish"]) - before).total_seconds()
    for block, row in flat:
        metres, jumbo = row["length_m"], jumbos[row["stretches"][0]["jumbo"]]
        reels = [p for p in block["positions"] if p["kind"] != "broke"]
        useful = sum(p["width_mm"] for p in reels)
        planned = dict.fromkeys((*_CAUSES, "used_kg", "wound_kg", "deckle_kg"), 0.0)
        for p in reels:
            share = kg(p["width_mm"], metres) / order_kg[p["order"]]
            line = lines[p["order"]]
            planned["delivered_kg"] += line["delivered_kg"] * share
            planned["surplus_kg"] += line["surplus_kg"] * share
            taken = order_kg[p["order"]] - line["delivered_kg"] - line["surplus_kg"]
            planned["sheeter_kg"] += taken * share
        planned["edge_trim_kg"] = kg(web - deckle, metres)
        planned["pattern_trim_kg"] = kg(deckle - useful, metres)
        ends = jumbo["loss_start_m"] + jumbo["loss_end_m"]
        planned["butts_kg"] = kg(web, jumbo["butt_m"] * metres / jumbo["wound_m"])
        planned["start_end_kg"] = kg(web, ends * metres / jumbo["wound_m"])
        planned["wound_kg"], planned["deckle_kg"] = kg(web, metres), kg(deckle, metres)
        planned["used_kg"] = sum(planned[name] for name in _CAUSES)
        first = row is block["sets"][0]
        planned["set_ups"] = float(first and block["number"] > 1)
        planned["knife_moves"] = float(block["knife_moves"] if first else 0)
        finish = datetime.fromisoformat(row["finish"])
        planned["minutes"] = run["minutes"] * (finish - before).total_seconds() / span
        before = finish
        planned["length_m"], planned["sets"], planned["minutes_stopped"] = metres, 1, 0
        lost = planned["wound_kg"] - planned["delivered_kg"]
        entry = written.get(row["number"])
        as_run = _as_run(run, block, row, planned, written, changed) if entry else {}
        yield SetCount(
            at=datetime.fromisoformat(row["start"]),
            plan=plan["number"],
            grade=run["grade"],
            winder=plan["winder"],
            gsm=gsm,
            planned=planned,
            run=as_run,
            ran=as_run.get("length_m", 0) > 0,
            bound={name: value * lost / across for name, value in bound.items()},
            pieces=[
                (p["order"], lines[p["order"]]["customer"], p["width_mm"], 1,
                 kg(p["width_mm"], metres))
                for p in reels
            ],
            written=entry,
        )  # fmt: skip


def _bound(run: Plain) -> dict[str, float]:
    proof, points = run["proof"], run["trade_off"]
    least = min(point["loss_kg"] for point in points)
    given = next(point["loss_kg"] for point in points if point["chosen"]) - least
    across = run["balance"]["wound_kg"] - run["balance"]["delivered_kg"]
    return {
        "unavoidable_kg": proof["bound_kg"],
        "unproven_kg": proof["loss_kg"] - proof["bound_kg"] - given,
        "for_set_ups_kg": given,
        "valued_kg": across - proof["loss_kg"],
    }


def _metres(row: Plain, entry: Plain) -> float:
    if entry["length_wound_m"] is not None:
        return float(entry["length_wound_m"])
    return float(row["length_m"]) if entry["done"] else 0.0


def _as_run(
    run: Plain, block: Plain, row: Plain, planned: dict[str, float], written: dict[int, Plain],
    changed: set[int],
) -> dict[str, float]:  # fmt: skip
    entry = written[row["number"]]
    metres = _metres(row, entry)
    stopped = float(entry["minutes_stopped"] or 0)
    if not metres:
        return {"minutes_stopped": stopped, "minutes": stopped}
    web: float = entry["jumbo_width_mm"] or run["jumbo_width_mm"]
    deckle: float = run["deckle_mm"]

    def kg(width: float, length: float = metres) -> float:
        return width * length * float(run["grammage_gsm"]) / 1_000_000

    reels = [p["width_mm"] for p in block["positions"]]
    culled = (entry["reels_rejected"] or 0) / len(reels) if entry["done"] else 1.0
    good = kg(sum(reels)) * (1 - culled)
    made = planned["delivered_kg"] + planned["surplus_kg"] + planned["sheeter_kg"]
    parts = {name: good * planned[name] / made
             for name in ("delivered_kg", "surplus_kg", "sheeter_kg")}  # fmt: skip
    parts["culled_kg"] = kg(sum(reels)) * culled
    parts["edge_trim_kg"], parts["pattern_trim_kg"] = kg(web - deckle), kg(deckle - sum(reels))
    parts["wound_kg"], parts["deckle_kg"] = kg(web), kg(deckle)
    parts["butts_kg"], parts["start_end_kg"] = planned["butts_kg"], planned["start_end_kg"]
    jumbo = next(j for j in run["jumbos"] if j["name"] == row["stretches"][0]["jumbo"])
    beside = [
        r for b in run["blocks"] for r in b["sets"] if r["stretches"][0]["jumbo"] == jumbo["name"]
    ]
    wound = [_metres(r, written[r["number"]]) for r in beside if r["number"] in written]
    if len(wound) == len(beside) and all(wound):
        left = jumbo["length_m"] - sum(wound)
        lost = min(left, jumbo["loss_start_m"] + jumbo["loss_end_m"])
        butt = 0 if jumbo["carried_forward_m"] else left - lost
        parts["butts_kg"] = kg(web, butt * metres / sum(wound))
        parts["start_end_kg"] = kg(web, lost * metres / sum(wound))
    first = block["number"] not in changed
    changed.add(block["number"])
    return parts | {
        "used_kg": sum(parts[name] for name in _CAUSES),
        "set_ups": float(first and block["number"] > 1),
        "knife_moves": float(block["knife_moves"] if first else 0),
        "minutes": planned["minutes"] + stopped,
        "minutes_stopped": stopped,
        "length_m": metres,
        "sets": 1,
    }


def total(
    sets: Iterable[SetCount], key: Callable[[SetCount], str]
) -> dict[str, dict[str, dict[str, float]]]:
    """Sum sets by a key: key, then side, then figure; areas beside the masses they come from."""
    sums: dict[str, dict[str, dict[str, float]]] = defaultdict(
        lambda: defaultdict(lambda: defaultdict(float))
    )
    for each in sets:
        sides = {"planned": each.planned, "run": each.run}
        if each.ran:
            sides["planned_of_run"] = each.planned
        for side, figures in sides.items():
            for name, value in figures.items():
                sums[key(each)][side][name] += value
            for name in ("wound", "deckle", "edge_trim", "pattern_trim", "surplus"):
                area = 1000 * figures.get(f"{name}_kg", 0.0) / each.gsm
                sums[key(each)][side][f"{name}_m2"] += area
    return sums
