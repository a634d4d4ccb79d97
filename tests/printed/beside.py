"""What lies beside the orders, read and reckoned again: defects of jumbos, reels from stock."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from tests.printed.figures import Notes, exact
from tests.printed.inputs import Asked, Band, Inputs, InStock, mm

if TYPE_CHECKING:
    from tests.printed.facts import Facts, Json

_LOST = Fraction(1, 5)  # of a reel that is cut into sheets, where it is reserved for nobody


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """A reel from stock with what it gives its order."""

    reel: InStock
    length_m: int
    kg: Fraction  # of paper
    given_kg: Fraction  # of it to the customer
    gives: Fraction  # in the order's unit
    cut: Mapping[str, Any] | None  # sheeter, ups and sheets
    said: tuple[object, object] | None  # sheets and kg, as the plan has them


def served(inputs: Inputs, plan: Json) -> dict[str, list[Served]]:
    """The reels from stock by order, as the plan names them and the book has them."""
    found: dict[str, list[Served]] = {}
    lines = [(line["number"], line["stock"]) for run in plan["runs"] for line in run["orders"]]
    for number, rows in (*lines, *((row["order"], row["stock"]) for row in plan["left_out"])):
        asked = inputs.asked.get(number)
        for row in rows:
            reel = inputs.stock.get(row["name"]) or (_picked(row) if plan["replaces"] else None)
            if asked is not None and reel is not None:
                found.setdefault(number, []).append(_served(inputs, reel, asked, row))
    return found


def _picked(row: Json) -> InStock:
    """A reel that was fetched for the plan before, and is in stock no more."""
    return InStock(
        name=row["name"],
        grade=row["grade"],
        gsm=exact(row["grammage_gsm"]),
        width_mm=exact(row["width_mm"]),
        core_mm=float(row["core_mm"]),
        length_m=row["length_m"],
        diameter_mm=None,
        joins=row["joins"],
        reserved=row["reserved_for"],
    )


def _length_m(inputs: Inputs, reel: InStock) -> int:
    """As told, else the whole metres that its ring of paper holds."""
    if reel.length_m is not None:
        return reel.length_m
    assert reel.diameter_mm is not None
    ring = reel.diameter_mm**2 - inputs.core_outside_mm(reel.core_mm) ** 2
    caliper = inputs.caliper_um(reel.grade, reel.gsm)
    return math.floor(math.pi * ring / (4 * caliper) + 1e-9)


def _size_mm(inputs: Inputs, reel: InStock) -> float:
    if reel.diameter_mm is not None:
        return reel.diameter_mm
    caliper = inputs.caliper_um(reel.grade, reel.gsm)
    return inputs.diameter_mm(_length_m(inputs, reel), reel.core_mm, caliper)


def _served(inputs: Inputs, reel: InStock, asked: Asked, row: Json) -> Served:
    metres = _length_m(inputs, reel)
    kg = reel.width_mm * metres * reel.gsm / 1_000_000
    cut = row["at_sheeter"]
    if asked.sheet:
        sheeter = inputs.sheeter(cut["sheeter"])
        assert asked.chop_mm is not None
        whole = cut["ups"] * math.floor(1000 * metres / asked.chop_mm)
        sheets = math.floor(whole * (1 - exact(sheeter.get("waste_percent", 0)) / 100))
        given_kg = sheets * asked.sheet_kg
        gives = given_kg if asked.unit == "kg" else Fraction(sheets)
        return Served(
            reel=reel,
            length_m=metres,
            kg=kg,
            given_kg=given_kg,
            gives=gives,
            cut={**cut, "sheets": sheets},
            said=(cut.get("sheets"), cut.get("mass_kg")),
        )
    gives = {"reels": Fraction(1), "m": Fraction(metres), "kg": kg}[asked.unit]
    return Served(reel=reel, length_m=metres, kg=kg, given_kg=kg, gives=gives, cut=None, said=None)


def check_served(facts: Facts, notes: Notes) -> None:
    """Every reel from stock: in the book, once, of its order's paper and size, meant for it."""
    lines = [line for run in facts.runs for line in run["orders"]]
    names = [row["name"] for line in (*lines, *facts.plan["left_out"]) for row in line["stock"]]
    twice = [name for name, times in Counter(names).items() if times > 1]
    notes.same("stock", "reels that are used twice", twice, [])
    unknown = sorted(set(names) - set(facts.inputs.stock)) if not facts.plan["replaces"] else []
    notes.same("stock", "reels that are not in the book", unknown, [])
    for number, reels in facts.served.items():
        asked = facts.inputs.asked[number]
        for one in reels:
            where = f"reel {one.reel.name}, order {number}"
            for why in _against(facts.inputs, asked, one):
                notes.add("stock", where, why)
            if one.cut is not None and one.said is not None:
                sheets, kg = one.said
                notes.same("sheets of a stock reel", where, sheets, one.cut["sheets"])
                notes.near("sheets of a stock reel", where, _kg(kg), float(one.given_kg), 1e-6)
    if not facts.plan["replaces"]:  # what sets have made leaves no room then
        at_fault = {x["order"] for x in facts.plan["left_out"] if "has faults" in x["why"]}
        left = (reel for name, reel in facts.inputs.stock.items() if name not in names)
        for reel in left:
            for number in sorted(set(_could_serve(facts.inputs, reel)) - at_fault):
                notes.add("stock", f"reel {reel.name}", f"is left though order {number} takes it")


def _could_serve(inputs: Inputs, reel: InStock) -> Iterator[str]:
    """Orders that have room for all that a reel gives."""
    for number, asked in inputs.asked.items():
        paper = (reel.grade.casefold(), reel.gsm) == (asked.grade.casefold(), asked.gsm)
        if asked.share is not None or not paper:
            continue
        most = asked.quantity * (1 + inputs.tolerance(asked)[1])
        if asked.ream is not None:
            most = math.floor(most / asked.ream) * asked.ream
        for cut in _cuts_of(inputs, reel, asked):
            one = _served(inputs, reel, asked, {"at_sheeter": cut})
            fits = 0 < one.gives <= most - asked.made - asked.in_stock
            if fits and not any(_against(inputs, asked, one)):
                yield number


def _cuts_of(inputs: Inputs, reel: InStock, asked: Asked) -> Iterator[Json | None]:
    """The sheeters that may cut it, each as many across as there are; no sheeter for a reel."""
    if not asked.sheet:
        yield None
        return
    assert asked.chop_mm is not None
    for sheeter in inputs.mill.get("sheeter", ()):
        trim = 2 * mm(sheeter.get("trim_per_side_mm", 0))
        ups = min(math.floor((reel.width_mm - trim) / asked.width_mm), sheeter["max_ups"])
        chops = mm(sheeter["min_chop_mm"]) <= asked.chop_mm <= mm(sheeter["max_chop_mm"])
        size = _size_mm(inputs, reel)
        if ups > 0 and chops and size <= float(mm(sheeter["max_reel_diameter_mm"])) + 0.49:
            yield {"sheeter": sheeter["name"], "ups": ups}


def _kg(value: object) -> float:
    return float(exact(value))


def _against(inputs: Inputs, asked: Asked, one: Served) -> Iterator[str]:
    reel = one.reel
    if (reel.grade.casefold(), reel.gsm) != (asked.grade.casefold(), asked.gsm):
        yield f"is {reel.grade} {float(reel.gsm):g} g/m²"
    own = {asked.number.casefold(), asked.customer.casefold()}
    if reel.reserved and reel.reserved.casefold() not in own:
        yield f"is reserved for {reel.reserved}"
    if reel.joins > asked.joins:
        yield f"has {reel.joins} joins, {asked.joins} are taken"
    if asked.reel_kg is not None and one.kg > asked.reel_kg:
        yield f"weighs {float(one.kg):.1f} kg"
    core = asked.core_mm
    if one.cut is None:
        if reel.width_mm != asked.width_mm:
            yield f"is {float(reel.width_mm):g} mm wide"
        largest = math.inf if asked.max_mm is None else float(asked.max_mm) + 0.5
        size = _size_mm(inputs, reel)
        # The winder's own least is none of a reel that is there.
        stated = asked.min_mm is not None or asked.min_free
        asked_mm = float(asked.min_mm or 0)
        least = asked_mm if stated else inputs.min_diameter_mm(asked, reel.core_mm)
        if not least - 0.5 <= size <= largest + 0.01:
            yield f"has a diameter of {size:.1f} mm"
    else:
        sheeter = inputs.sheeter(one.cut["sheeter"])
        core = float(mm(sheeter["core_inside_mm"]))
        needs = one.cut["ups"] * asked.width_mm + 2 * mm(sheeter.get("trim_per_side_mm", 0))
        if not needs <= reel.width_mm <= mm(sheeter["max_web_mm"]):
            yield f"is {float(reel.width_mm):g} mm wide, {float(needs):g} are cut"
        if one.cut["ups"] > sheeter["max_ups"]:
            yield f"is cut {one.cut['ups']} up"
        if not reel.reserved and one.kg - one.given_kg > _LOST * one.kg:
            yield f"loses {float(one.kg - one.given_kg):.1f} of {float(one.kg):.1f} kg"
    if core is not None and abs(core - reel.core_mm) > 0.05:
        yield f"is on a core of {reel.core_mm:g} mm"


def cuts(bands: Sequence[Band], jumbo: Json, end_m: int) -> list[tuple[int, int]]:
    """Metres, from where winding begins, that have a defect from side to side."""
    last = jumbo["length_m"] - jumbo["loss_start_m"] - end_m
    found = []
    for band in bands:
        start = max(0, band.from_m - jumbo["loss_start_m"])
        end = min(last, band.to_m - jumbo["loss_start_m"])
        if band.from_mm <= 0 and band.to_mm >= exact(jumbo["width_mm"]) and start < end:
            found.append((start, end))
    return sorted(found)


def check_defects(facts: Facts, notes: Notes) -> None:
    """Jumbos have the defects of the book; a reel with a band is lost, or goes as seconds."""
    for run in facts.runs:
        jumbos = {jumbo["name"]: jumbo for jumbo in run["jumbos"]}
        for name, jumbo in jumbos.items():
            said = sorted(
                (each["from_m"], each["to_m"], exact(each["from_mm"]), exact(each["to_mm"]))
                for each in jumbo["defects"]
            )
            if facts.listed(name) is not None:
                true = sorted(_figures(band) for band in facts.bands(jumbo))
                notes.same("defects of a jumbo", f"{run['name']}, jumbo {name}", said, true)
        for block in run["blocks"]:
            for row in block["sets"]:
                if not row["done"]:
                    _bands(facts, run["name"], block, row, jumbos, notes)


def _figures(band: Band) -> tuple[int, int, Fraction, Fraction]:
    return band.from_m, band.to_m, band.from_mm, band.to_mm


def _bands(
    facts: Facts, run: str, block: Json, row: Json, jumbos: Mapping[str, Json], notes: Notes
) -> None:
    """Which places of a set have a band of a defect in them, and what becomes of their reels."""
    lost: set[int] = set()
    seconds: set[int] = set()
    for part in row["stretches"]:
        jumbo = jumbos[part["jumbo"]]
        for band in facts.bands(jumbo):
            along = (band.from_m - jumbo["loss_start_m"], band.to_m - jumbo["loss_start_m"])
            if not (along[0] < part["to_m"] and part["from_m"] < along[1]):
                continue
            at = exact(block["edge_front_mm"])
            for position in block["positions"]:
                start, at = at, at + exact(position["width_mm"])
                if position["kind"] == "broke" or not (band.from_mm < at and start < band.to_mm):
                    continue
                asked = facts.inputs.asked.get(position["order"])
                takes = asked is not None and asked.seconds
                (seconds if takes else lost).add(position["number"])
    where = f"{run}, set {row['number']}"
    notes.same("reels with a defect, lost", where, sorted(row["spoiled"]), sorted(lost))
    notes.same("reels with a defect, as seconds", where, sorted(row["seconds"]), sorted(seconds))


def with_stock(inputs: Inputs, found: Mapping[str, Sequence[Served]]) -> Inputs:
    """The orders with what comes from stock."""
    asked = {
        number: replace(
            each, in_stock=sum((one.gives for one in found.get(number, ())), Fraction(0))
        )
        for number, each in inputs.asked.items()
    }
    return replace(inputs, asked=asked)
