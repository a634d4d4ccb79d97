"""Changes of some orders taken together in two halves, and the pairs that fill classes to the brim.

All ways to change five orders are some thousands; all ways to change ten are the pairs of two such
halves. Sorted by the sets that a half needs in one class, for each left half those right halves are
found at once with which the class comes out just below a whole number of sets.

References
----------
E. Horowitz, S. Sahni (1974), "Computing partitions with applications to the knapsack problem",
Journal of the ACM 21, 277-292.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.amounts.changes import Changes

__all__ = ["Half", "Pairs", "meet"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_NEARLY = 1e-6  # of a set
_SHUFFLE = 0.003  # of a set: by how much the order of what is kept is shuffled
_PAIRS_MOST = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Half:
    """Some orders and ways to change them together.

    `needs` has the sets that a way needs more of each class, shape (ways, classes); `loss` what it
    adds to the loss, `picks` the change of each order.
    """

    changes: tuple[Changes, ...]
    needs: Floats
    loss: Floats
    picks: Ints

    @classmethod
    def of(
        cls,
        changes: Sequence[tuple[Changes, Floats]],
        costs: Floats,
        most: int,
        rng: np.random.Generator,
    ) -> Half:
        """Combine changes, each with its needs, keeping the ways that lose least.

        Parameters
        ----------
        changes
            Of each order, with the sets needed by each, shape (ways, classes).
        costs
            What a set of each class costs.
        most
            How many ways to keep.
        rng
            Draws among those that lose nearly the same.
        """
        needs, loss = np.zeros((1, len(costs))), np.zeros(1)
        picks = np.zeros((1, 0), dtype=np.int64)
        for change, need in changes:
            needs = (needs[:, None] + need[None]).reshape(-1, len(costs))
            loss = (loss[:, None] + change.loss[None]).ravel()
            size = len(change.loss)
            column = np.tile(np.arange(size), len(picks))[:, None]
            picks = np.concatenate([np.repeat(picks, size, axis=0), column], axis=1)
            if len(loss) > most:
                drawn = loss + needs @ costs + _SHUFFLE * rng.exponential(size=len(loss))
                keep = np.argpartition(drawn, most)[:most]
                needs, loss, picks = needs[keep], loss[keep], picks[keep]
        return cls(
            changes=tuple(change for change, _ in changes),
            needs=needs,
            loss=loss,
            picks=picks,
        )

    def rows(self, ways: Ints, prices: Sequence[Floats]) -> Floats:
        """What chosen ways need at rows of prices, a matrix (options, rows) an order."""
        total = np.zeros((len(ways), prices[0].shape[1] if prices else 0))
        for place, (change, price) in enumerate(zip(self.changes, prices, strict=True)):
            total += (change.pieces @ price)[self.picks[ways, place]]
        return total


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairs:
    """Ways of the left and the right half, the sets more of each class, and the change of loss."""

    left: Ints
    right: Ints
    sets: Ints
    loss: Floats


def meet(left: Half, right: Half, room: Floats, costs: Floats, waste: float) -> Pairs:
    """Give the pairs that leave little of every class unused.

    Parameters
    ----------
    left, right
        The halves.
    room
        Sets of each class that are not needed now, a fraction.
    costs
        What a set of each class costs.
    waste
        Of the first class at most so much of a set may be left unused, of the others three times
        as much.
    """
    part = right.needs[:, 0] - np.floor(right.needs[:, 0])
    order = np.argsort(part, kind="stable")
    part = part[order]
    circle = np.concatenate([part - 1, part])
    wanted = room[0] - left.needs[:, 0]
    wanted = wanted - np.floor(wanted)
    last = np.searchsorted(circle, wanted + _NEARLY)
    first = np.searchsorted(circle, wanted - waste)
    counts = last - first
    total = int(counts.sum())
    if total > _PAIRS_MOST:
        counts = np.maximum(1, counts * _PAIRS_MOST // total)
        first = last - counts
    a = np.repeat(np.arange(len(counts)), counts)
    offset = first - np.concatenate([[0], np.cumsum(counts)[:-1]])
    b = order[(np.repeat(offset, counts) + np.arange(len(a))) % len(order)]
    sets = np.zeros((len(a), len(costs)), dtype=np.int64)
    for c in range(len(costs)):
        left_over = room[c] - left.needs[a, c] - right.needs[b, c]
        fewer = np.floor(left_over + _NEARLY)
        kept = left_over - fewer <= 3 * waste
        a, b, sets = a[kept], b[kept], sets[kept]
        sets[:, c] = -fewer[kept].astype(np.int64)
    loss = left.loss[a] + right.loss[b] + sets @ costs
    return Pairs(left=a, right=b, sets=sets, loss=loss)
