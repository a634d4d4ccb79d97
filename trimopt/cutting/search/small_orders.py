"""Small orders in whole pieces before any set is whole.

In the linear program an order of two or three reels is made of any fraction of a piece that has
the best price; a plan that follows it then makes a piece too many of each. So which whole pieces
make such an order is chosen first, at the prices of the program, and the order is put in the
program anew as one order for each kind of piece, of just so many. Among the pieces that one order
can be made of there is nearly always a choice that costs the program next to nothing.

The choice only steers a search: it is made in floats and proves nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations_with_replacement, product
from math import ceil, comb, floor

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.master import Point
from trimopt.cutting.model.instance import Demand, Instance
from trimopt.cutting.model.loss import LossTable
from trimopt.cutting.model.outcome import Pattern

__all__ = ["in_whole_pieces"]

Ints = NDArray[np.int64]
_MAX_CHOICES = 20_000  # of one order; beyond that only those around what the program makes
_AROUND = 0.75  # pieces more or fewer than the program makes
_MAX_KINDS = 6


def in_whole_pieces(
    instance: Instance, point: Point, sets: Mapping[Pattern, float], *, most: int
) -> Instance:
    """The instance with its small orders made of whole pieces that are chosen.

    Parameters
    ----------
    instance
        The run; its options keep their places, so its patterns are the answer's too.
    point, sets
        An optimum of its linear program, and the sets of each pattern there.
    most
        An order is small where this many of its greatest pieces make the least of it.
    """
    tied = {demand for pair in (*instance.apart, *instance.together) for demand in pair}
    kinds: list[list[int]] = [[] for _ in instance.demands]
    for k, option in enumerate(instance.options):
        if option.width <= instance.classes[option.winding_class].width:
            kinds[option.demand].append(k)
    pieces = np.zeros(len(instance.options))
    for pattern, number in sets.items():
        for k, count in pattern.pieces:
            pieces[k] += count * number
    demands, options = list(instance.demands), list(instance.options)
    for i, some in enumerate(kinds):
        low = instance.demands[i].low
        if i in tied or not some or low <= 0:
            continue
        fewest = -(-low // max(options[k].gain for k in some))
        if fewest > most or _counted(instance, i, some):
            continue
        counts = _chosen(instance, i, point, {k: float(pieces[k]) for k in some}, fewest)
        if counts is None:
            continue
        demands[i] = replace(demands[i], low=0, high=0, ordered=None)
        for k, count in counts.items():
            options[k] = replace(options[k], demand=len(demands), gain=1)
            demands.append(Demand(low=count, high=count, surplus_worth=options[k].worth))
    return replace(instance, demands=tuple(demands), options=tuple(options))


def _counted(instance: Instance, i: int, kinds: Sequence[int]) -> bool:
    """Whether demand i can only be made of just so many pieces of one kind."""
    demand = instance.demands[i]
    return (
        len(kinds) == 1
        and demand.high is not None
        and (demand.high < demand.low + instance.options[kinds[0]].gain)
    )


def _chosen(
    instance: Instance, i: int, point: Point, made: Mapping[int, float], fewest: int
) -> dict[int, int] | None:
    """Pieces of each option that make demand i at least cost; None where none of those tried do.

    `made` has the pieces that the program makes, of every option of the demand.
    """
    demand, kinds = instance.demands[i], [*made]
    if comb(len(kinds) + fewest, fewest + 1) <= _MAX_CHOICES:
        choices = _multisets(len(kinds), fewest, fewest + 1)
    else:
        kinds = sorted(kinds, key=lambda k: -made[k])[:_MAX_KINDS]
        choices = _around([made[k] for k in kinds])
    pieces = choices.astype(np.float64)
    gain = pieces @ np.array([instance.options[k].gain for k in kinds], dtype=np.float64)
    worth = pieces @ np.array([instance.options[k].worth for k in kinds], dtype=np.float64)
    cost = point.gain_price[i] * gain + point.worth_price[i] * worth
    cost += LossTable.one(demand, np.float64).loss_or_short(gain, worth)
    best = int(cost.argmin())
    if not np.isfinite(cost[best]):
        return None
    return {k: int(n) for k, n in zip(kinds, choices[best], strict=True) if n}


def _multisets(kinds: int, least: int, most: int) -> Ints:
    """Counts of every choice of `least` to `most` pieces, a row each."""
    rows = []
    for size in range(least, most + 1):
        drawn = np.array(list(combinations_with_replacement(range(kinds), size)), dtype=np.int64)
        counts = np.zeros((len(drawn), kinds), dtype=np.int64)
        for column in drawn.T:
            counts[np.arange(len(drawn)), column] += 1
        rows.append(counts)
    return np.concatenate(rows)


def _around(pieces: Sequence[float]) -> Ints:
    """Counts of every choice close to what the program makes, a row each."""
    spans = [range(max(0, floor(x - _AROUND)), ceil(x + _AROUND) + 1) for x in pieces]
    return np.array(list(product(*spans)), dtype=np.int64)
