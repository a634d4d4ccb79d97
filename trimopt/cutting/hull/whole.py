"""What a demand can be made of, in whole pieces.

A demand is seen by what is counted of it (its measures): the pieces of each of its options or,
where these have too many combinations, the sums of yield and worth. Of few combinations, every one
is known with its loss, and with these a demand is no longer a range but a list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.demand_loss import loss_where_made
from trimopt.cutting.instance import SCALE, Demand, Option

__all__ = ["Whole", "counts_of_pieces", "loss_of_one_too_many", "whole_of"]

Ints = NDArray[np.int64]

_WAYS_MOST = 30_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Whole:
    """One demand in whole pieces.

    `pieces` has what one piece of each option counts for, shape (options, measures). `ways` has
    all measures that give at least `low` and would give less than `high` without a piece, shape
    (ways, measures), none where there are too many; `loss` what each loses without its sets.
    """

    options: tuple[int, ...]
    by_counts: bool
    pieces: Ints
    ways: Ints
    loss: Ints


def whole_of(demand: Demand, places: Sequence[int], options: Sequence[Option]) -> Whole:
    """Give a demand by its measures; `places` are those of its options in the instance."""
    yields = np.array([(option.gain, option.worth) for option in options], dtype=np.int64)
    yields = yields.reshape(-1, 2)
    counts = counts_of_pieces(demand, yields[:, 0])
    if len(counts):
        sums = counts @ yields
        return Whole(
            options=tuple(places),
            by_counts=True,
            pieces=np.eye(len(yields), dtype=np.int64),
            ways=counts,
            loss=loss_where_made(demand, sums[:, 0], sums[:, 1]),
        )
    sums = _sums_of_pieces(demand, yields)
    return Whole(
        options=tuple(places),
        by_counts=False,
        pieces=yields,
        ways=sums,
        loss=loss_where_made(demand, sums[:, 0], sums[:, 1]),
    )


def loss_of_one_too_many(demand: Demand, option: Option) -> int:
    """Give the least loss of a piece of a surplus: it gives back no less than it brought."""
    over = demand.over_price if demand.ordered is not None else 0
    return (SCALE - over) * (demand.surplus_worth * option.gain - option.worth)


def counts_of_pieces(demand: Demand, gains: Ints) -> Ints:
    """All counts of pieces that give at least `low`, and less than a piece more than `high`.

    Shape (ways, options); none where there are too many, or no `high`.
    """
    counts = np.zeros((1, len(gains)), dtype=np.int64)
    if demand.high is None or not len(gains):
        return counts[:0]
    top = max(demand.low, demand.high) + int(gains.max())
    made = np.zeros(1, dtype=np.int64)
    for option, gain in enumerate(gains):
        repeats = (top - 1 - made) // gain + 1
        if repeats.sum() > _WAYS_MOST:
            return counts[:0]
        counts = np.repeat(counts, repeats, axis=0)
        counts[:, option] = _each(repeats)
        made = np.repeat(made, repeats) + counts[:, option] * gain
    enough: Ints = counts[made >= demand.low]
    return enough


def _sums_of_pieces(demand: Demand, yields: Ints) -> Ints:
    """All sums (yield, worth) of such counts; none where there are too many, or no `high`."""
    sums = np.zeros((1, 2), dtype=np.int64)
    if demand.high is None or not len(yields):
        return sums[:0]
    top = max(demand.low, demand.high) + int(yields[:, 0].max())
    for one in np.unique(yields, axis=0):
        repeats = (top - 1 - sums[:, 0]) // one[0] + 1
        if repeats.sum() > _WAYS_MOST:
            return sums[:0]
        sums = np.repeat(sums, repeats, axis=0) + _each(repeats)[:, None] * one
        sums = np.unique(sums, axis=0)
    enough: Ints = sums[sums[:, 0] >= demand.low]
    return enough


def _each(repeats: Ints) -> Ints:
    """Count from 0 within each group of repeats."""
    each: Ints = np.arange(repeats.sum()) - np.repeat(np.cumsum(repeats) - repeats, repeats)
    return each
