"""A random mill: winder, cores, sheeters, jumbo, grades and prices, as the sections of its file."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

_GRADES = (("Folding boxboard", 1.5), ("White-top liner", 1.25), ("Kraft & <sack>", 1.4))
_GRAMMAGES = (60, 80, 115, 142.5, 170, 225, 250, 330)
_CORES = ((76, 10), (100, 12), (152, 13), (305, 15))
_INCH_CORES = ((3, 10), (4, 12), (6, 13), (12, 15))


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """What is made in one run: a grade and grammage, with its caliper on the reel."""

    grade: str
    grammage_gsm: float
    caliper_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RandomMill:
    """The sections of a mill file, and what the drawing of a book needs of them."""

    sections: Mapping[str, Any]
    papers: tuple[Paper, ...]
    deckle_mm: int  # rounded down
    usable_m: int  # of the nominal jumbo, of the first paper
    inches: bool
    traits: frozenset[str]

    @property
    def winder(self) -> Mapping[str, Any]:
        """The section of that name."""
        section: Mapping[str, Any] = self.sections["winder"][0]
        return section

    @property
    def text(self) -> str:
        """The mill file."""
        lines: list[str] = []
        for name, section in self.sections.items():
            for one in section if isinstance(section, list) else [section]:
                lines.append(f"[[{name}]]" if isinstance(section, list) else f"[{name}]")
                lines += [f"{key} = {_toml(value)}" for key, value in one.items()]
        return "\n".join(lines) + "\n"


def as_figure(inside: float | str) -> float:
    """A core's inside diameter as a book writes it: whole where it is."""
    figure = float(str(inside).removesuffix(" in"))
    return int(figure) if figure.is_integer() else figure


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return f"{value:.10g}"


def random_mill(draw: Random) -> RandomMill:
    """Draw a mill. Nearly every one of its limits binds in some of them."""
    traits: set[str] = set()
    inches = draw.random() < 0.12
    single = draw.random() < 0.4
    traits.add("single-drum" if single else "two-drum")
    if inches:
        traits.add("inches")
    cores = sorted(draw.sample(_INCH_CORES if inches else _CORES, draw.randint(1, 4)))
    core_tables = [
        {"inside_mm": f"{inside} in" if inches else inside, "wall_mm": wall}
        for inside, wall in cores
    ]
    max_mm = draw.choice([1000, 1200, 1500, 1800])
    papers = _papers(draw)
    jumbo_mm = draw.choice([1800, 2400, 3215, 4687, 5610, 7000]) + draw.choice([0, 0, 0.5, 0.1])
    winder = _winder(draw, single=single, jumbo_mm=jumbo_mm, traits=traits)
    winder |= {
        "min_reel_diameter_mm": draw.choice([350, 450, 600]),
        "max_reel_diameter_mm": max_mm,
    }
    # A full reel of the first paper, so that the jumbo is some of them long.
    core_mm = cores[-1][0] * (25.4 if inches else 1) + 2 * cores[-1][1]
    full_m = math.pi * (max_mm**2 - core_mm**2) / (4 * papers[0].caliper_um)
    jumbo, usable_m = _jumbo(draw, jumbo_mm, full_m * draw.uniform(0.7, 4), papers[0], traits)
    if draw.random() < 0.4:
        full_kg = full_m * winder["max_reel_width_mm"] * papers[0].grammage_gsm / 1e6
        winder["max_reel_mass_kg"] = round(full_kg * draw.uniform(0.3, 1.1))
        traits.add("reel mass")
    if draw.random() < 0.3:
        full_kg = full_m * jumbo_mm * papers[0].grammage_gsm / 1e6
        winder["max_set_mass_kg"] = round(full_kg * draw.uniform(0.5, 1.1))
        traits.add("set mass")
    sections = {
        "mill": {
            "name": draw.choice(["Marlhaven Mill", "Mill “É” & Söhne", "- the mill <b>"]),
            **({"width_step_mm": draw.choice([1, 5])} if draw.random() < 0.5 else {}),
            **draw.choice(
                [{}, {}, {"diameter_tolerance_mm": 30}, {"diameter_tolerance_percent": 8}]
            ),
        },
        "winder": [winder],
        "winder.core": core_tables,
        "sheeter": _sheeters(draw, core_tables, winder, traits),
        "jumbo": jumbo,
        "grade": _grades(draw, papers),
        "values": _values(draw, traits),
        "tolerance": _tolerances(draw),
    }
    web = float(winder["max_web_mm"])
    return RandomMill(
        sections=sections,
        papers=papers,
        deckle_mm=math.floor(min(web, jumbo_mm - 2 * winder["min_edge_trim_mm"])),
        usable_m=usable_m,
        inches=inches,
        traits=frozenset(traits),
    )


def _papers(draw: Random) -> tuple[Paper, ...]:
    found: list[Paper] = []
    for _ in range(draw.choice([1, 1, 1, 2, 3])):
        grade, bulk = draw.choice(_GRADES)
        gsm = draw.choice(_GRAMMAGES)
        if all((paper.grade, paper.grammage_gsm) != (grade, gsm) for paper in found):
            found.append(Paper(grade=grade, grammage_gsm=gsm, caliper_um=bulk * gsm))
    return tuple(found)


def _grades(draw: Random, papers: Sequence[Paper]) -> list[dict[str, Any]]:
    """Each grade by bulk, density or (where it has one grammage) caliper."""
    found = []
    for name in dict.fromkeys(paper.grade for paper in papers):
        own = [paper for paper in papers if paper.grade == name]
        bulk = own[0].caliper_um / own[0].grammage_gsm
        how: dict[str, Any] = {"bulk_cm3_g": bulk}
        which = draw.random()
        if which < 0.3:
            how = {"density_kg_m3": 1000 / bulk}
        elif which < 0.6 and len(own) == 1:
            how = {"caliper_um": own[0].caliper_um}
        if draw.random() < 0.5:
            how["wound_factor"] = draw.choice([0.95, 0.98, 1.02])
        found.append({"name": name, **how})
    return found


def _winder(draw: Random, *, single: bool, jumbo_mm: float, traits: set[str]) -> dict[str, Any]:
    edge = draw.choice([5, 10, 20, 12.5])
    web = jumbo_mm - 2 * edge
    if draw.random() < 0.4:
        web -= draw.choice([0.5, 20, 57, 150])
        traits.add("web limit")
    elif draw.random() < 0.5:
        web += draw.choice([10, 500])
    max_reels = draw.randint(3, 12)
    least = draw.choice([150, 200, 300])
    winder: dict[str, Any] = {
        "name": draw.choice(["Winder 1", "W", "=Winder"]),
        "kind": "single-drum" if single else "two-drum",
        "max_web_mm": web,
        "min_edge_trim_mm": edge,
        "web_shift": draw.random() < 0.7,
        "min_reel_width_mm": least,
        "max_reel_width_mm": draw.choice([1400, 2200, 2600]),
        "max_reels": max_reels,
        "knives": max_reels + 1 + draw.choice([0, 0, 2]),
        "min_knife_spacing_mm": draw.choice([60, 110, 150]),
        "idle_knives": draw.choice(["lifted", "parked"]),
        "joins_allowed": draw.random() < 0.3,
        "speed_m_min": draw.choice([700, 1100, 1800]),
        "acceleration_m_min_s": draw.choice([12, 18]),
        "set_change_min": draw.choice([0, 2.5, 4]),
        "set_up_min": draw.choice([0, 8]),
        "knife_move_min": draw.choice([0, 0.5]),
        "jumbo_change_min": draw.choice([0, 6]),
    }
    if single and draw.random() < 0.6:
        winder["max_reels_per_side"] = -(-max_reels // 2)
    if winder["joins_allowed"]:
        winder["min_join_part_m"] = draw.choice([1, 200])
        traits.add("joins")
    if draw.random() < 0.5:
        needed = max(edge, (jumbo_mm - web) / 2)
        winder["max_edge_trim_mm"] = needed + draw.choice([0, 5, 30, 120])
        traits.add("greatest edge")
        if draw.random() < 0.4:
            winder["min_broke_width_mm"] = max(
                draw.choice([60, 110, least]), winder["min_knife_spacing_mm"]
            )
        if draw.random() < 0.3:
            winder["broke_position"] = "anywhere"
            traits.add("broke reels anywhere")
    for key in ("core_change_is_set_up", "length_change_is_set_up"):
        if draw.random() < 0.2:
            winder[key] = True
            traits.add(key)
    if draw.random() < 0.2:
        winder["knives_at_mm"] = [edge + 400 * place for place in range(3)]
    return winder


def _jumbo(
    draw: Random, width_mm: float, about_m: float, paper: Paper, traits: set[str]
) -> tuple[dict[str, Any], int]:
    lost = {"loss_start_m": draw.choice([0, 50, 120]), "loss_end_m": draw.choice([0, 80])}
    length_m = round(about_m) + sum(lost.values())
    how = draw.choice(["usable", "length", "length", "diameter", "mass"])
    stated: dict[str, Any] = {"length_m": length_m}
    if how == "usable":
        stated = {"usable_length_m": round(about_m)}
    elif how == "mass":
        stated = {"mass_t": width_mm * length_m * paper.grammage_gsm / 1e9}
    elif how == "diameter":
        spool = 600
        outer = math.sqrt(spool**2 + 4 * length_m * paper.caliper_um / math.pi)
        stated = {"diameter_mm": round(outer), "spool_mm": spool}
    traits.add(f"jumbo by {how}")
    return {"width_mm": width_mm, **lost, **stated}, round(about_m)


def _sheeters(
    draw: Random,
    cores: Sequence[Mapping[str, Any]],
    winder: Mapping[str, Any],
    traits: set[str],
) -> list[dict[str, Any]]:
    found = []
    smallest, largest = winder["min_reel_diameter_mm"], winder["max_reel_diameter_mm"]
    for number in range(draw.choice([0, 1, 1, 2])):
        traits.add("sheeters")
        sheeter: dict[str, Any] = {
            "name": f"Sheeter {number + 1}",
            "max_web_mm": draw.choice([1450, 2150]),
            "max_ups": draw.choice([2, 5]),
            "trim_per_side_mm": draw.choice([0, 8, 10.5]),
            "min_chop_mm": 400,
            "max_chop_mm": draw.choice([1100, 1600]),
            "max_reel_diameter_mm": max(largest - draw.choice([0, 200]), smallest),
            "core_inside_mm": draw.choice(cores)["inside_mm"],
            "waste_percent": draw.choice([0, 1, 2.5]),
            "unwinds": draw.choice([1, 2, 4]),
            "speed_m_min": draw.choice([180, 240]),
            "load_change_min": draw.choice([0, 14]),
            "max_length_difference_m": draw.choice([0, 10]),
        }
        if draw.random() < 0.3:
            sheeter["max_cuts_per_min"] = 320
        found.append(sheeter)
    return found


def _values(draw: Random, traits: set[str]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    if draw.random() < 0.4:
        values["under_delivery_penalty"] = draw.choice([0, 0.3, 1])
        values["over_delivery_penalty"] = draw.choice([0, 0.2])
    if draw.random() < 0.45:
        traits.add("money")
        values |= {
            "trim_cost_per_t": draw.choice([120, 420]),
            "set_up": draw.choice([5, 35, 300]),
            "knife_move": draw.choice([0, 2]),
            "currency": draw.choice(["EUR", "kr"]),
        }
        if draw.random() < 0.4:
            values["split_blocks"] = True
            traits.add("split blocks")
    return values


def _tolerances(draw: Random) -> list[dict[str, Any]]:
    if draw.random() < 0.4:
        return [
            {"below_t": 5, "under_percent": 10, "over_percent": 10},
            {"under_percent": 5, "over_percent": 3.5},
        ]
    return [{"under_percent": 5, "over_percent": 5}]
