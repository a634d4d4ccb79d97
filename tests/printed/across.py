"""What lies across the web, reckoned again: widths, knives, cores, diameters, masses."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from tests.printed.facts import Facts, Json, Reel
from tests.printed.figures import Notes, exact
from tests.printed.inputs import Inputs, mm

_HALF = 0.5 + 1e-6  # diameters are judged to the nearest millimetre


def check_across(facts: Facts, notes: Notes) -> None:
    """Every block, and every reel of every set."""
    for run in facts.runs:
        for place, block in enumerate(run["blocks"], start=1):
            where = f"{run['name']}, block {block['number']}"
            notes.same("blocks", where, block["number"], place)
            _widths(facts, where, run, block, notes)
            _cores(facts, where, run, block, notes)
        for reel in facts.reels(run):
            if not reel.row["done"]:  # that was as the book was then
                _reel(facts, reel, notes)
        _sets(facts, run, notes)
        _set_ups(facts, run, notes)


def _widths(facts: Facts, where: str, run: Json, block: Json, notes: Notes) -> None:
    inputs, winder = facts.inputs, facts.inputs.winder
    front, back = exact(block["edge_front_mm"]), exact(block["edge_back_mm"])
    widths = [exact(position["width_mm"]) for position in block["positions"]]
    used = {part["jumbo"] for row in block["sets"] for part in row["stretches"]}
    for jumbo in run["jumbos"]:
        if jumbo["name"] in used:
            notes.same(
                "widths", f"{where}, jumbo {jumbo['name']}",
                front + sum(widths) + back, exact(jumbo["width_mm"]),
            )  # fmt: skip
    knives = [front]
    for width in widths:
        knives.append(knives[-1] + width)
    notes.same("knife positions", where, [*map(exact, block["knives_mm"])], knives)
    spacing = inputs.winder_mm("min_knife_spacing_mm", 0)
    assert spacing is not None
    if any(b - a < spacing for a, b in pairwise(knives)):
        notes.add("knife positions", where, f"knives {[*map(float, knives)]} are too close")
    most = winder.get("max_reels", winder["knives"] - 1)
    if len(widths) > min(most, winder["knives"] - 1, 2 * winder.get("max_reels_per_side", 99)):
        notes.add("strips", where, f"{len(widths)} strips are too many")
    least, greatest = (
        inputs.winder_mm("min_edge_trim_mm"),
        inputs.winder_mm("max_edge_trim_mm"),
    )
    assert least is not None
    for edge in (front, back):
        if edge < least or (greatest is not None and edge > greatest):
            notes.add("edge trim", where, f"{float(edge)} mm")
    web = inputs.winder_mm("max_web_mm")
    assert web is not None
    if sum(widths) > web:
        notes.add("widths", where, f"a web of {float(sum(widths))} mm is more than {float(web)}")
    if not winder.get("web_shift", True):
        notes.same("edge trim", where, front, back)
    if [position["number"] for position in block["positions"]] != [*range(1, len(widths) + 1)]:
        notes.add("places", where, "are not numbered from 1")


def _cores(facts: Facts, where: str, run: Json, block: Json, notes: Notes) -> None:
    cores = {reel.core_mm for reel in facts.reels(run, block)}
    if None in cores:
        notes.add("core", where, "a strip is wound on no stated core")
    if facts.inputs.winder.get("kind", "two-drum") == "two-drum" and len(cores) > 1:
        notes.add("core", where, f"cores {cores} in a set of a two-drum winder")


def _reel(facts: Facts, reel: Reel, notes: Notes) -> None:
    inputs, kind = facts.inputs, reel.position["kind"]
    widest = inputs.winder_mm("max_reel_width_mm")
    narrowest = inputs.winder_mm("min_reel_width_mm")
    assert widest is not None
    assert narrowest is not None
    if reel.width_mm > widest or (kind != "broke" and reel.width_mm < narrowest):
        notes.add("width of a reel", reel.where, f"{float(reel.width_mm)} mm")
    if kind == "broke":
        _broke(inputs, reel, notes)
        return
    asked = reel.asked
    if asked is None:
        notes.add("orders", reel.where, f"{reel.position['order']} is not in the book")
        return
    least, greatest = (
        mm(inputs.winder["min_reel_diameter_mm"]),
        mm(inputs.winder["max_reel_diameter_mm"]),
    )
    limits = [inputs.winder.get("max_reel_mass_kg")]
    if kind == "sheeter":
        sheeter = inputs.sheeter(reel.position["sheeter"])
        greatest = min(greatest, mm(sheeter["max_reel_diameter_mm"]))
        width = reel.position["ups"] * asked.width_mm + 2 * mm(sheeter.get("trim_per_side_mm", 0))
        core: float | None = float(mm(sheeter["core_inside_mm"]))
        if reel.position["ups"] > sheeter["max_ups"] or width > mm(sheeter["max_web_mm"]):
            notes.add("sheeters", reel.where, f"{reel.position['ups']} ups, {float(width)} mm")
    else:
        width, core = asked.width_mm, asked.core_mm
        cores = [asked.core_mm or float(mm(each["inside_mm"])) for each in inputs.winder["core"]]
        least = exact(min(inputs.min_diameter_mm(asked, core) for core in cores))
        greatest = min(greatest, asked.max_mm or greatest)
        limits.append(asked.reel_kg)
    notes.same("width of a reel", reel.where, reel.width_mm, width)
    if core is not None and (reel.core_mm is None or abs(reel.core_mm - core) > 0.05):
        notes.add("core", reel.where, f"{reel.core_mm} mm, ordered {core} mm")
    size = reel.diameter_mm
    if size is not None and not float(least) - _HALF <= size <= float(greatest) + _HALF:
        notes.add("diameter out of range", reel.where, f"{size:.1f}, {least} to {greatest} mm")
    for limit in limits:
        if limit is not None and reel.mass_kg > exact(limit) + Fraction(1, 10**6):
            notes.add("mass of a reel", reel.where, f"{float(reel.mass_kg):.1f} above {limit} kg")
    last = len(reel.block["positions"])
    if asked.no_edge and reel.position["number"] in (1, last):
        notes.add("no edge", reel.where, f"order {asked.number} lies at the edge")
    joins = len(reel.row["stretches"]) - 1
    if joins > (asked.joins if inputs.winder.get("joins_allowed") else 0):
        notes.add("joins", reel.where, f"{joins} joins, order {asked.number} takes {asked.joins}")


def _broke(inputs: Inputs, reel: Reel, notes: Notes) -> None:
    """No narrower than the mill says, and outside all others unless it may lie anywhere."""
    narrowest = inputs.winder_mm("min_broke_width_mm", inputs.winder["min_reel_width_mm"])
    assert narrowest is not None
    if reel.width_mm < narrowest:
        notes.add("broke reels", reel.where, f"{float(reel.width_mm)} mm wide")
    kinds = [position["kind"] for position in reel.block["positions"]]
    place = reel.position["number"] - 1
    outside = {"broke"} in (set(kinds[: place + 1]), set(kinds[place:]))
    if inputs.winder.get("broke_position", "edge") == "edge" and not outside:
        notes.add("broke reels", reel.where, "lies between others")


def _sets(facts: Facts, run: Json, notes: Notes) -> None:
    numbers = [row["number"] for block in run["blocks"] for row in block["sets"]]
    if facts.plan["replaces"]:  # numbers run on, and none comes twice
        notes.same("set numbers", run["name"], len(numbers), len(set(numbers)))
    else:
        notes.same("set numbers", run["name"], numbers, [*range(1, len(numbers) + 1)])
    limit = facts.inputs.winder.get("max_set_mass_kg")
    masses: dict[int, Fraction] = {}
    for reel in facts.reels(run):
        number = reel.row["number"]
        masses[number] = masses.get(number, Fraction(0)) + reel.mass_kg
    for number, mass in masses.items():
        if limit is not None and mass > limit + Fraction(1, 10**6):
            notes.add("mass of a set", f"{run['name']}, set {number}", f"{float(mass):.1f} kg")


def _set_ups(facts: Facts, run: Json, notes: Notes) -> None:
    """Set-ups and knife moves are those of the blocks; a change of widths across is a set-up."""
    winder = facts.inputs.winder
    count = 0
    for before, block in pairwise(run["blocks"]):

        def widths(of: Json) -> list[Fraction]:
            return sorted(exact(position["width_mm"]) for position in of["positions"])

        change = widths(before) != widths(block)
        if winder.get("core_change_is_set_up") and before["core_mm"] != block["core_mm"]:
            change = True
        if winder.get("length_change_is_set_up") and before["length_m"] != block["length_m"]:
            change = True
        where = f"{run['name']}, block {block['number']}"
        notes.same("set-up of a block", where, block["set_up"], change)
        count += change
    notes.same("set-ups", run["name"], run["set_ups"], count)
    moves = sum(block["knife_moves"] for block in run["blocks"])
    notes.same("knife moves", run["name"], run["knife_moves"], moves)
    for block in run["blocks"]:
        if sum(block["knives_moved"]) > block["knife_moves"]:
            notes.add(
                "knife moves", run["name"], f"block {block['number']} marks more than it says"
            )
