"""The plan's rows, as its JSON prints them, with what follows from them and the mill file alone."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from tests.printed.beside import Served, served, with_stock
from tests.printed.figures import exact
from tests.printed.inputs import Asked, Band, Inputs, Listed

Json = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reel:
    """A strip of a set, broke reels among them."""

    run: Json
    block: Json
    row: Json
    position: Json
    asked: Asked | None  # None: a broke reel
    length_m: int
    width_mm: Fraction
    core_mm: float | None
    mass_kg: Fraction
    diameter_mm: float | None  # None: on no core

    @property
    def good(self) -> bool:
        """Whether it serves an order: neither broke, nor said to be no good."""
        spoiled = self.position["number"] in self.row["spoiled"]
        return self.position["kind"] != "broke" and not spoiled

    @property
    def for_stock(self) -> bool:
        """Whether it is of a stock width, and serves no order."""
        return self.asked is not None and self.asked.share is not None

    @property
    def where(self) -> str:
        """Its place, in words."""
        return f"{self.run['name']}, set {self.row['number']}, place {self.position['number']}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """The JSON and the inputs."""

    plan: Json
    inputs: Inputs
    served: Mapping[str, Sequence[Served]]  # reels from stock by order

    @property
    def inches(self) -> bool:
        """Whether outputs are to be in inches and pounds: as the mill file says, or the book."""
        return bool(self.plan["written"]["system"] == "inch-pound")

    @property
    def near_diameter_mm(self) -> float:
        """By how much a printed diameter may be off: of whole millimetres, or sixteenths."""
        return 25.4 / 32 + 0.001 if self.inches else 0.501

    @property
    def near_width_mm(self) -> float:
        """By how much a width of four printed decimals may be off."""
        return 0.0000501 * (25.4 if self.inches else 1)

    def printed(self, width_mm: Fraction) -> float:
        """A width to the four decimals that are printed of it, half up."""
        unit = Fraction(254, 10) if self.inches else 1
        return math.floor(width_mm / unit * 10_000 + Fraction(1, 2)) / 10_000

    @property
    def runs(self) -> list[Json]:
        """The runs."""
        runs: list[Json] = self.plan["runs"]
        return runs

    @property
    def begun(self) -> set[str]:
        """Jumbos that sets were run off: they may have left the book."""
        return {
            part["jumbo"]
            for run in self.runs
            for block in run["blocks"]
            for row in block["sets"]
            if row["done"]
            for part in row["stretches"]
        }

    def listed(self, name: str) -> Listed | None:
        """The jumbo of that name, where the book lists one."""
        return next((each for each in self.inputs.listed if each.name == name), None)

    def bands(self, jumbo: Json) -> tuple[Band, ...]:
        """The defects of a jumbo: as listed, else, of one that has left the book, as planned."""
        listed = self.listed(jumbo["name"])
        if listed is not None:
            return listed.bands
        return tuple(
            Band(
                from_m=each["from_m"],
                to_m=each["to_m"],
                from_mm=exact(each["from_mm"]),
                to_mm=exact(each["to_mm"]),
            )
            for each in jumbo["defects"]
        )

    def end_m(self, jumbo: Json) -> int:
        """End loss of a jumbo, that of one carried forward too."""
        listed = self.listed(jumbo["name"])
        if listed is not None:
            return listed.end_m
        nominal = int(self.inputs.mill["jumbo"].get("loss_end_m", 0))
        return int(jumbo["loss_end_m"] or nominal)

    def reels(self, run: Json, block: Json | None = None) -> Iterator[Reel]:
        """All strips of a run, or of a block, in the order of making."""
        gsm = exact(run["grammage_gsm"])
        caliper = self.inputs.caliper_um(run["grade"], gsm)
        for each in run["blocks"] if block is None else [block]:
            for row in each["sets"]:
                for position in each["positions"]:
                    core = position["core_mm"] or each["core_mm"]
                    width = exact(position["width_mm"])
                    yield Reel(
                        run=run,
                        block=each,
                        row=row,
                        position=position,
                        asked=self.inputs.asked.get(position["order"]),
                        length_m=row["length_m"],
                        width_mm=width,
                        core_mm=None if core is None else float(core),
                        mass_kg=width * row["length_m"] * gsm / 1_000_000,
                        diameter_mm=None
                        if core is None
                        else self.inputs.diameter_mm(row["length_m"], float(core), caliper),
                    )

    def identity(self, reel: Reel, *, label: bool = False) -> str:
        """Plan, jumbo, set and place; on its label the plan that the set was issued in."""
        jumbo = "_".join(reel.row["stretches"][0]["jumbo"].split())
        number, place = reel.row["number"], reel.position["number"]
        plan = (label and reel.row["issued"]) or self.plan["number"]
        return f"{plan}-{jumbo}-{number:03d}-{place}"

    def blocks(self, run: Json, *, waiting: bool) -> list[Json]:
        """The blocks of a run; `waiting`: what is still to run of them."""
        if not waiting:
            return [*run["blocks"]]
        blocks = []
        for block in run["blocks"]:
            left = [row for row in block["sets"] if not row["done"]]
            if not left:
                continue
            rest = {**block, "sets": left}
            if len(left) < len(block["sets"]):  # the winder stands as it needs
                still = [False] * len(block["knives_moved"])
                rest |= {"set_up": False, "knife_moves": 0, "knives_moved": still}
            blocks.append(rest)
        return blocks

    def sheets_of(self, reel: Reel) -> int:
        """Sheets that the sheeter cuts from a reel, its waste taken off."""
        assert reel.asked is not None
        assert reel.asked.chop_mm is not None
        sheeter = self.inputs.sheeter(reel.position["sheeter"])
        whole = reel.position["ups"] * (1000 * reel.length_m // reel.asked.chop_mm)
        return int(whole * (1 - exact(sheeter.get("waste_percent", 0)) / 100))


def read_facts(path: Path, inputs: Inputs) -> Facts:
    """Read a plan's JSON, figures exactly."""
    text = path.read_text(encoding="utf-8")
    plan = json.loads(text, parse_float=Fraction)
    inputs = _without_left_out(inputs, plan)
    found = served(inputs, plan)
    return Facts(plan=plan, inputs=with_stock(inputs, found), served=found)


def _without_left_out(inputs: Inputs, plan: Json) -> Inputs:
    """Jumbos and reels of rows with faults are none: the plan names those that it leaves out."""
    out = {row["order"] for row in plan["left_out"]}
    return replace(
        inputs,
        listed=tuple(each for each in inputs.listed if f"jumbo {each.name}" not in out),
        stock={n: each for n, each in inputs.stock.items() if f"stock reel {n}" not in out},
        faulty=frozenset(each.name for each in inputs.listed if f"jumbo {each.name}" in out),
    )
