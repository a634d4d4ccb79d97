"""Whether an order that is said to be impossible could be made: all sets of it alone, counted out.

An order may lie beside others too, so what is found here is surely makeable, and what is not found
may be. So a finding is a false refusal beyond doubt.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from tests.printed.figures import Found, exact
from tests.printed.inputs import Asked, Inputs, mm


def false_refusals(inputs: Inputs, refused: dict[str, str]) -> list[Found]:
    """Orders, with the reasons that were given, of which a set can be made all the same."""
    found = []
    for number, why in refused.items():
        asked = inputs.asked.get(number)
        if asked is None or "jumbo of its grade" in why:
            continue
        made = set_of_its_own(inputs, asked)
        if made:
            found.append(Found(kind="refused though makeable", where=number, text=f"{made}: {why}"))
    return found


def set_of_its_own(inputs: Inputs, asked: Asked) -> str:
    """A set of the order's reels alone, with broke reels where edges need them; nothing if none."""
    widths = [
        Fraction(str(inputs.mill["jumbo"]["width_mm"])),
        *(jumbo.width_mm for jumbo in inputs.listed if inputs.only_listed),
    ]
    for width, core, shortest in _ways(inputs, asked):
        if shortest > inputs.usable_m(asked):
            continue
        for jumbo in widths[1:] or widths:
            for reels in range(1, _stations(inputs) + 1):
                broke = _broke(inputs, asked, jumbo, reels * width, reels)
                if broke is None:
                    continue
                kg = (reels * width + broke[1]) * shortest * asked.gsm / 1_000_000
                limit = inputs.winder.get("max_set_mass_kg")
                if limit is None or kg <= limit:
                    return (
                        f"{reels} × {float(width):g} mm on {core:g} mm, {shortest} m, {broke[0]} "
                        f"broke reels of {float(broke[1]):g} mm"
                    )
    return ""


def _stations(inputs: Inputs) -> int:
    winder = inputs.winder
    most = min(int(winder.get("max_reels", 199)), int(winder["knives"]) - 1)
    return min(most, 2 * int(winder.get("max_reels_per_side", most)))


def _ways(inputs: Inputs, asked: Asked) -> Iterator[tuple[Fraction, float, int]]:
    """Widths and cores that the order may be wound on, with the shortest reel that is allowed."""
    winder = inputs.winder
    narrowest, widest = mm(winder["min_reel_width_mm"]), mm(winder["max_reel_width_mm"])
    largest = float(mm(winder["max_reel_diameter_mm"]))
    ways: list[tuple[Fraction, float, float, float, list[object]]] = []
    if asked.sheet:
        assert asked.chop_mm is not None
        for sheeter in inputs.mill.get("sheeter", ()):
            if not mm(sheeter["min_chop_mm"]) <= asked.chop_mm <= mm(sheeter["max_chop_mm"]):
                continue
            core = float(mm(sheeter["core_inside_mm"]))
            greatest = min(largest, float(mm(sheeter["max_reel_diameter_mm"])))
            least = float(mm(winder["min_reel_diameter_mm"]))
            for ups in range(1, sheeter["max_ups"] + 1):
                width = ups * asked.width_mm + 2 * mm(sheeter.get("trim_per_side_mm", 0))
                if width <= mm(sheeter["max_web_mm"]):
                    ways.append((width, core, least, greatest, []))
    else:
        for each in winder["core"]:
            core = float(mm(each["inside_mm"]))
            if asked.core_mm is None or abs(asked.core_mm - core) < 0.05:
                least = inputs.min_diameter_mm(asked, core)
                greatest = min(largest, float(asked.max_mm or largest))
                ways.append((asked.width_mm, core, least, greatest, [asked.reel_kg]))
    caliper = inputs.caliper_um(asked.grade, asked.gsm)
    for width, core, least, greatest, limits in ways:
        outside = inputs.core_outside_mm(core)
        metres = math.pi * ((least - 0.5) ** 2 - outside**2) / (4 * caliper)
        shortest = max(1, math.ceil(metres - 1e-9))
        kg = width * shortest * asked.gsm / 1_000_000
        heaviest = [*limits, winder.get("max_reel_mass_kg")]
        if (
            narrowest <= width <= widest
            and inputs.diameter_mm(shortest, core, caliper) <= greatest + 0.5
            and all(limit is None or kg <= exact(limit) for limit in heaviest)
        ):
            yield width, core, shortest


def _broke(
    inputs: Inputs, asked: Asked, jumbo: Fraction, wound: Fraction, reels: int
) -> tuple[int, Fraction] | None:
    """Fewest broke reels, and their width in all, beside so much of reels; None: it cannot be."""
    winder = inputs.winder
    edge = inputs.winder_mm("min_edge_trim_mm")
    widest_edge = inputs.winder_mm("max_edge_trim_mm")
    web, widest = inputs.winder_mm("max_web_mm"), inputs.winder_mm("max_reel_width_mm")
    narrowest = inputs.winder_mm("min_broke_width_mm", winder["min_reel_width_mm"])
    assert edge is not None
    assert web is not None
    assert widest is not None
    assert narrowest is not None
    room = min(web, jumbo - 2 * edge) - wound
    needed = (
        Fraction(0) if widest_edge is None else max(Fraction(0), jumbo - wound - 2 * widest_edge)
    )
    for count in range(_stations(inputs) - reels + 1):
        least = max(needed, count * narrowest)
        if (count or not needed) and least <= min(room, count * widest if count else room):
            # A winder takes as few as its edges call for; between two a no-edge order may lie.
            return None if asked.no_edge and count < 2 else (count, least if count else Fraction(0))
    return None
