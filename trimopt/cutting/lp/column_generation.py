"""Column generation: patterns that the linear program lacks, until it lacks none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.lp.master import LPSolution, Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.search.search_state import Search

Ints = NDArray[np.int64]

RESOLUTION = 1 << 40
"""What the dearest set is worth in the whole numbers of the pricing."""


def _piece_values(pricer: Pricer, point: LPSolution, unit: float) -> Ints:
    """Value of one piece of each option of a class at the prices of a point, in whole numbers."""
    offer = pricer.offer
    value = point.gain_price[offer.demand] * offer.gains
    value = value + point.worth_price[offer.demand] * offer.worths
    return whole_numbers(value * unit)


def values_at(instance: Instance, point: LPSolution) -> NDArray[np.float64]:
    """Value of one piece of each option of the instance at the prices of a point, in loss."""
    demand = [option.demand for option in instance.options]
    gain, worth = np.array([(option.gain, option.worth) for option in instance.options]).T
    values: NDArray[np.float64] = (
        point.gain_price[demand] * gain + point.worth_price[demand] * worth
    )
    return values


def whole_numbers(values: NDArray[np.float64]) -> Ints:
    """Values of pieces, of which the dearest set has `RESOLUTION`, in whole numbers."""
    # Prices far above a set's cost come only from a poor program; cut off before int64 overflows.
    return np.clip(np.floor(values), -RESOLUTION * 64, RESOLUTION * 64).astype(np.int64)


def generate(
    master: Master,
    pricers: Sequence[Pricer],
    search: Search,
) -> tuple[LPSolution, bool]:
    """Add patterns until no pattern improves the program.

    Returns
    -------
    tuple of LPSolution and bool
        The last optimum, and whether no pattern improves it.
    """
    point = master.solve()
    while True:
        chosen = _improving(master, pricers, point, search)
        if not chosen:
            return point, True
        for pattern in sorted(chosen):
            master.add(pattern)
        before = master.iterations
        try:
            point = master.solve()
        except SolverFailedError:  # the last optimum still prices and bounds, with none of the new
            new = np.zeros(len(master.patterns) - len(point.sets))
            return replace(point, sets=np.concatenate([point.sets, new])), False
        search.budget.spend(50 * (master.iterations - before + 10) * len(search.instance.demands))


def _improving(
    master: Master, pricers: Sequence[Pricer], point: LPSolution, search: Search
) -> set[Pattern]:
    """New patterns that improve the program: the best of each class, and of each demand in any."""
    dearest = max(master.set_price(pricer.offer.winding_class) for pricer in pricers)
    unit = RESOLUTION / max(1, dearest)
    worths: dict[int, tuple[float, Pattern]] = {}  # of a set, by demand
    chosen: set[Pattern] = set()
    for pricer in pricers:
        values = _piece_values(pricer, point, unit)
        cost = int(master.set_price(pricer.offer.winding_class) * unit)
        # Worth above a set's cost by less than this share of it is rounding, not an improvement.
        priced = pricer.price(values, cutoff=cost + (cost >> 28) + 2)
        search.budget.spend(priced.work)
        for place, (value, counts) in enumerate(priced.patterns):
            pattern, worth = pricer.pattern(counts), value / max(1, cost)
            if pattern in master.index:
                continue
            if place == 0:
                chosen.add(pattern)
            for j, _ in counts:
                i = int(pricer.offer.demand[j])
                if i not in worths or worths[i][0] < worth:
                    worths[i] = worth, pattern
    return chosen | {pattern for _, pattern in worths.values()}
