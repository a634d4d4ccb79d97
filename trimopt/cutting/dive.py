"""From fractions to whole sets: fix some, price again, go on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.generation import generate
from trimopt.cutting.instance import Instance
from trimopt.cutting.master import Master, Point
from trimopt.cutting.outcome import Pattern
from trimopt.cutting.pricing import Pricer
from trimopt.cutting.search import Search

__all__ = ["dive", "residual_limits"]

Ints = NDArray[np.int64]
NEARLY = 1e-6


def residual_limits(
    instance: Instance, pricers: Sequence[Pricer], sets: dict[Pattern, int]
) -> list[Ints]:
    """Count limits of the options, given sets that are already decided."""
    made = [0] * len(instance.demands)
    for pattern, count in sets.items():
        for k, pieces in pattern.pieces:
            option = instance.options[k]
            made[option.demand] += option.gain * pieces * count
    limits = []
    for pricer in pricers:
        offer = pricer.offer
        most = offer.most.copy()
        if offer.any_used and offer.plain:
            for j in range(offer.size):
                i = int(offer.demand[j])
                demand = instance.demands[i]
                top = (
                    demand.high
                    if demand.high is not None
                    else (demand.low if offer.worths[j] == 0 else None)
                )
                if top is not None:
                    left = max(0, max(top, demand.low) - made[i])
                    most[j] = min(int(most[j]), -(-left // int(offer.gains[j])))
        limits.append(most)
    return limits


def dive(
    master: Master,
    pricers: Sequence[Pricer],
    search: Search,
    point: Point,
    *,
    rounds: int = 2,
    share: float = 0.75,
) -> None:
    """Fix whole parts, then the largest fractions, price again, until a whole plan stands.

    Parameters
    ----------
    master, pricers, search
        The program, the pricers, and the state that takes the plan.
    point
        Optimum to start from; the program's limits are off again afterwards.
    rounds
        Rounds of pricing after each fixing.
    share
        Fractions at least this large are rounded up together.
    """
    fixed: dict[int, int] = {}
    try:
        while True:
            whole = np.floor(point.sets + NEARLY)
            part = point.sets - whole
            changed = {
                int(p): int(whole[p])
                for p in np.flatnonzero(whole > 0)
                if whole[p] > fixed.get(int(p), 0)
            }
            if not (part > NEARLY).any():
                fixed |= changed
                break
            if not changed:
                top = float(part.max())
                for p in np.flatnonzero(part >= min(top, max(share, 0.5))):
                    changed[int(p)] = int(whole[p]) + 1
            fixed |= changed
            master.bounds({p: (float(n), float("inf")) for p, n in changed.items()})
            sets = {master.patterns[p]: n for p, n in fixed.items()}
            point, _ = generate(
                master,
                pricers,
                search,
                rounds=rounds,
                most=residual_limits(master.instance, pricers, sets),
            )
        search.take({master.patterns[p]: n for p, n in fixed.items()}, "dive")
    finally:
        master.free(fixed)
