"""Ranges drawn in to what whole pieces can make: a linear program that knows it proves more.

What a demand gets is a sum of whole yields. `low` may be raised to the least such sum that is no
less: no plan is lost and no loss changes. Where no sum lies inside the range, every plan makes at
least the least sum above it, m: then ``low = high = m`` with the surplus m - high counted once and
for all. With N' = worth less what surplus above m takes back, N = N' - surplus_worth (m - high), so
the loss is that of the demand with ``ordered`` raised by as much, plus
SCALE · surplus_worth (m - high).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trimopt.cutting.model.instance import SCALE, Demand, Instance
from trimopt.cutting.params import PARAMS, EngineParams


def min_sum(gains: Sequence[int], low: int, max_sums: int = PARAMS.stages.max_sums) -> int:
    """The least sum of whole numbers of the gains that is at least `low`; `low` where unknown.

    Examples
    --------
    >>> min_sum((5, 7), 11)
    12
    >>> min_sum((5, 7), 12)
    12
    """
    pieces = np.unique(np.array(gains, dtype=np.int64))
    if low <= 0 or int(pieces[0]) <= 1:
        return low
    sums = np.zeros(1, dtype=np.int64)
    best = -(-low // int(pieces[0])) * int(pieces[0])
    while len(sums):
        grown = (sums[:, None] + pieces[None, :]).ravel()
        enough = grown >= low
        best = int(grown.min(where=enough, initial=best))
        sums = np.unique(grown[~enough])
        if len(sums) > max_sums:
            return low
    return best


def tightened(instance: Instance, params: EngineParams = PARAMS) -> tuple[Instance, int]:
    """The instance with its ranges drawn in, and the loss to be added to its losses."""
    demands, more = [], 0
    for demand, places in zip(instance.demands, instance.by_demand(), strict=True):
        some = {instance.options[k].gain for k in places}
        if not some or demand.low <= 0:
            demands.append(demand)
            continue
        low = min_sum(tuple(some), demand.low, params.stages.max_sums)
        if demand.high is None or low <= demand.high:
            demands.append(replace(demand, low=low))
            continue
        beyond, fixed = _beyond(demand, low)
        demands.append(beyond)
        more += fixed
    return replace(instance, demands=tuple(demands)), more


def _beyond(demand: Demand, low: int) -> tuple[Demand, int]:
    assert demand.high is not None
    back = demand.surplus_worth * (low - demand.high)
    ordered = None if demand.ordered is None else demand.ordered + back
    return replace(demand, low=low, high=low, ordered=ordered), SCALE * back
