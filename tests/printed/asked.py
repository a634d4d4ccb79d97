"""Whether what was asked of the plan is kept where the plan says so."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from tests.printed.facts import Facts, Json
from tests.printed.figures import Notes, exact


def check_asked(facts: Facts, notes: Notes) -> None:
    """Every instruction that is answered as kept is kept; every one that is asked is answered."""
    for run in facts.runs:
        for answer in run["instructions"]:
            asked = answer["instruction"]
            where = f"{run['name']}, {asked['what']} (row {asked['row']})"
            if answer["kept"] and not _KEPT[asked["what"]](run, asked):
                notes.add("instruction not kept", where, "is said to be kept")
            if not answer["kept"] and not answer["why"]:
                notes.add("instruction not kept", where, "no reason is said")
        for asked in facts.plan["request"]["instructions"]:
            if asked["grammage_gsm"] is None and not any(
                answer["instruction"] == asked for answer in run["instructions"]
            ):
                notes.add(
                    "instruction not answered", run["name"], f"{asked['what']} of the request"
                )


def _orders(block: Json) -> Counter[str]:
    return Counter(p["order"] for p in block["positions"] if p["kind"] != "broke")


def _set_ups(run: Json, asked: Json) -> bool:
    most: int = asked["number"]
    return bool(run["set_ups"] <= most)


def _together(run: Json, asked: Json) -> bool:
    names = set(asked["orders"])
    return all(len(names & set(_orders(block))) in (0, len(names)) for block in run["blocks"])


def _apart(run: Json, asked: Json) -> bool:
    names = set(asked["orders"])
    return all(len(names & set(_orders(block))) <= 1 for block in run["blocks"])


def _widths(run: Json, asked: Json) -> Counter[Fraction]:
    """Widths of a pattern that is asked for, those of orders as the plan has them."""
    known = {
        (position["order"], position["ups"]): exact(position["width_mm"])
        for block in run["blocks"]
        for position in block["positions"]
    }
    found: Counter[Fraction] = Counter()
    for piece in asked["pattern"]:
        width = piece["width_mm"] or known.get((piece["order"], piece["ups"]))
        if width is not None:
            found[exact(width)] += piece["count"]
    return found


def _forbid(run: Json, asked: Json) -> bool:
    wanted = _widths(run, asked)
    if sum(wanted.values()) < sum(piece["count"] for piece in asked["pattern"]):
        return True  # one of its orders is in no set at all
    return all(
        Counter(exact(p["width_mm"]) for p in block["positions"] if p["kind"] != "broke") != wanted
        for block in run["blocks"]
    )


def _pin(run: Json, asked: Json) -> bool:
    wanted = Counter({piece["order"]: piece["count"] for piece in asked["pattern"]})
    made = 0
    for block in run["blocks"]:
        if _orders(block) == wanted:
            lengths = [row["length_m"] for row in block["sets"]]
            made += sum(asked["length_m"] in (None, length) for length in lengths)
    return made >= (asked["number"] or 1)


_KEPT = {
    "set-ups": _set_ups,
    "together": _together,
    "apart": _apart,
    "forbid": _forbid,
    "pin": _pin,
}
