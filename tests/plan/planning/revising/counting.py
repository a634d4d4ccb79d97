"""Figures of a plan added up again from its sets, with nothing of the package's arithmetic."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import pairwise
from math import floor

from trimopt import Mill, Plan, RunPlan


def made_of(run: RunPlan, mill: Mill) -> dict[str, tuple[Fraction, Fraction]]:
    """What each order gets, in its unit and in kg."""
    lines = {line.number: line for line in run.orders}
    waste = {sheeter.name: Fraction(str(sheeter.waste_share)) for sheeter in mill.sheeters}
    gsm = Fraction(str(run.grammage_gsm))
    found = {number: (Fraction(0), Fraction(0)) for number in lines}
    for block in run.blocks:
        for each in block.sets:
            for place in block.positions:
                if not place.order:
                    continue
                line = lines[place.order]
                kg, count = place.width_mm * each.length_m * gsm / 1_000_000, Fraction(1)
                if line.product == "sheet":
                    assert line.chop_mm is not None
                    assert place.ups is not None
                    chops = floor(1000 * each.length_m / line.chop_mm)
                    count = Fraction(floor(place.ups * chops * (1 - waste[place.sheeter])))
                    kg = count * line.width_mm * line.chop_mm * gsm / 1_000_000_000
                given = {"kg": kg, "m": Fraction(each.length_m)}.get(line.unit, count)
                had = found[place.order]
                found[place.order] = had[0] + given, had[1] + kg
    return found


def out_of_range(run: RunPlan, mill: Mill) -> set[str]:
    """Orders that get less than their least, or more than their most."""
    made = made_of(run, mill)
    return {
        line.number
        for line in run.orders
        if not line.min_quantity <= made[line.number][0] <= line.max_quantity
    }


def added_up(plan: Plan, mill: Mill) -> Counter[str]:
    """Paper used and lost (kg), set-ups, sets, minutes, of a plan without surplus."""
    total: Counter[str] = Counter()
    for run in plan.runs:
        gsm = Fraction(str(run.grammage_gsm))
        metres = sum(jumbo.length_m - jumbo.carried_forward_m for jumbo in run.jumbos)
        used = float(run.jumbo_width_mm * metres * gsm / 1_000_000)
        total["used_kg"] += used  # type: ignore[assignment]
        total["lost_kg"] += used - float(sum(kg for _, kg in made_of(run, mill).values()))  # type: ignore[assignment]
        widths = [Counter(p.width_mm for p in block.positions) for block in run.blocks]
        total["set_ups"] += sum(one != other for one, other in pairwise(widths))
        total["knife_moves"] += sum(block.knife_moves for block in run.blocks)
        for block in run.blocks:
            total["sets"] += len(block.sets)
            for each in block.sets:
                assert each.start is not None
                assert each.finish is not None
                total["minutes"] += (each.finish - each.start).total_seconds() / 60  # type: ignore[assignment]
    return total
