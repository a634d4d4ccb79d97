"""What prices prove where every demand is made of whole pieces.

The bound of a certificate (`trimopt.cutting.outcome`) adds up the least that each demand can come
to, floor_i, over all yields and worths between its ranges. A plan makes whole pieces. Where a
demand has few sums of them, each is tried, and the least of them takes the place of floor_i. Sums
beyond ``high`` by a whole piece or more need not be tried: by (B) a piece less is no dearer there.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.bound import floors, loss_part
from trimopt.cutting.demand_loss import demand_loss
from trimopt.cutting.instance import SCALE, Demand, Instance, Option
from trimopt.cutting.outcome import Certificate

__all__ = ["sums_of_pieces", "whole_price_bound"]

Ints = NDArray[np.int64]

_SUMS_MOST = 20_000
_ROUNDING = 1e-11  # of the greatest term: above what floats err by in a sum of five


def sums_of_pieces(demand: Demand, options: Sequence[Option]) -> Ints:
    """All sums (yield, worth) of whole pieces from `low` to less than a piece above `high`.

    Shape (sums, 2); none where there are too many, or no `high`.
    """
    sums = np.zeros((1, 2), dtype=np.int64)
    if demand.high is None or not options:
        return sums[:0]
    top = max(demand.low, demand.high) + max(option.gain for option in options)
    for gain, worth in sorted({(option.gain, option.worth) for option in options}):
        counts = (top - 1 - sums[:, 0]) // gain + 1
        if counts.sum() > _SUMS_MOST:
            return sums[:0]
        pieces = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        grown = np.repeat(sums, counts, axis=0) + pieces[:, None] * np.array([gain, worth])
        sums = np.unique(grown, axis=0)
    enough: Ints = sums[sums[:, 0] >= demand.low]
    return enough


def whole_price_bound(instance: Instance, proof: Certificate) -> int:
    """Give the bound of a certificate that satisfies (A) and (B), over plans of whole pieces."""
    options: list[list[Option]] = [[] for _ in instance.demands]
    for option in instance.options:
        options[option.demand].append(option)
    total = Fraction(0)
    for i, floor in enumerate(floors(instance, proof)):
        demand = instance.demands[i]
        sums = sums_of_pieces(demand, options[i])
        total += max(floor, _least(demand, sums, proof, i)) if len(sums) else floor
    return ceil(total)


def _least(demand: Demand, sums: Ints, proof: Certificate, i: int) -> Fraction:
    """Least of g · made + w · worth + F over the sums: floats tell which ones are near it."""
    gain, worth, scale = proof.gain_price[i], proof.worth_price[i], proof.scale
    made, value = sums[:, 0].astype(np.float64), sums[:, 1].astype(np.float64)
    terms = (gain / scale * made, worth / scale * value, demand_loss(demand, made, value))
    cost = terms[0] + terms[1] + terms[2]
    most = sum(float(np.abs(term).max()) for term in terms) + SCALE * float(value.max())
    near = np.flatnonzero(cost <= cost.min() + 2 * _ROUNDING * most)
    return min(
        Fraction(gain * int(sums[k, 0]) + worth * int(sums[k, 1]), scale)
        + loss_part(demand, Fraction(_net(demand, int(sums[k, 0]), int(sums[k, 1]))))
        for k in near
    )


def _net(demand: Demand, made: int, worth: int) -> int:
    assert demand.high is not None
    return worth - demand.surplus_worth * max(0, made - demand.high)
