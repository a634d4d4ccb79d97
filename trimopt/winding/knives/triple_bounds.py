"""What a layout can share with both neighbours at once: moves that pair by pair do not show.

Pair by pair a lot may meet the one before in its best places and the one after in its best places;
one layout seldom does both. Here all layouts of a lot are gone through, up to mirroring. For each
of them the places where another lot can meet it are a chain: between two neighbouring ones that
other has strips of that width together, so too between the first and any, and some of its strips
are as wide as what lies in front of each, give or take the shift of both webs. Strips may be used
twice over, so the chain is no shorter than the longest that a layout of the other has. The most
that chains on both sides come to, over all layouts of the lot in the middle, is what the three can
share in that order.

Mirroring loses nothing: what the edge strips may be is the same from both sides.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from math import factorial, prod

import numpy as np
from numpy.typing import NDArray

from trimopt.budget import Budget
from trimopt.winding.knives.integer_lot import Shape

__all__ = ["extra_moves"]

_MAX_ROWS = 25_000  # layouts of a lot; of more, nothing is said
_CELLS = 100_000_000  # layouts × pairs of places × lots that are looked at, for a work of 1
_NEVER = -100

_Ints = NDArray[np.int64]
_Small = NDArray[np.int8]


def extra_moves(
    shapes: Sequence[Shape],
    meets: Sequence[Sequence[int]],
    budget: Budget,
    *,
    same_number: bool,
    work: float,
) -> dict[tuple[int, int, int], int]:
    """Moves from lot i by lot j to lot k, and back, beyond those of the two steps by themselves.

    Parameters
    ----------
    shapes
        One a lot.
    meets
        At least the most knives in which layouts of each two lots agree (`meets_most`).
    budget
        Where it is over, no more lots are looked at.
    same_number
        As in `meets_most`.
    work
        How much to look at, about seconds; the lots of few layouts come first.

    Returns
    -------
    dict
        By (i, j, k), both ways round; those without any are left out.
    """
    lots = [i for i, shape in enumerate(shapes) if shape.whole and not shape.broke]
    found: dict[tuple[int, int, int], int] = {}
    cells = work * _CELLS
    for j in sorted(lots, key=lambda j: (_layouts(shapes[j]), j)):
        shape = shapes[j]
        cells -= _layouts(shape) * shape.knives**2 * len(lots)
        if _layouts(shape) > _MAX_ROWS or cells < 0 or budget.over():
            break
        rows = _rows(shape)
        others = [i for i in lots if i != j]
        met = [
            np.minimum(_met(rows, shape, shapes[i], same_number=same_number), meets[i][j])
            for i in others
        ]
        for (i, first), (k, second) in combinations(zip(others, met, strict=True), 2):
            extra = meets[i][j] + meets[j][k] - int((first + second).max())
            if extra > 0:
                found[i, j, k] = found[k, j, i] = extra
    return found


def _layouts(shape: Shape) -> int:
    """Orders of the strips, mirrored ones too."""
    return factorial(shape.strips) // prod(map(factorial, shape.counts))


def _rows(shape: Shape) -> _Ints:
    """Places of the knives, from the first one, in every layout up to mirroring; one a column."""
    left = np.array([shape.counts], dtype=np.int8)
    one = np.eye(len(shape.counts), dtype=np.int8)
    kinds = np.empty((1, 0), dtype=np.int8)
    for _ in range(shape.strips):
        parts = [(k, np.flatnonzero(left[:, k])) for k in range(len(shape.counts))]
        kinds = np.concatenate(
            [np.insert(kinds[chosen], kinds.shape[1], k, axis=1) for k, chosen in parts]
        )
        left = np.concatenate([left[chosen] - one[k] for k, chosen in parts])
    unlike = kinds - kinds[:, ::-1]
    first = unlike[np.arange(len(unlike)), (unlike != 0).argmax(axis=1)]
    widths = np.array([kind[0] for kind in shape.kinds], dtype=np.int64)[kinds[first <= 0]]
    rows: _Ints = np.insert(widths.cumsum(axis=1), 0, 0, axis=1).T
    return np.ascontiguousarray(rows)


def _met(rows: _Ints, shape: Shape, other: Shape, *, same_number: bool) -> _Small:
    """At least the most knives in which a layout of `other` agrees with each row of `shape`."""
    sums = other.sums_any
    low, high = shape.least - other.greatest, shape.greatest - other.least
    near = np.searchsorted(sums, rows + high, "right") > np.searchsorted(sums, rows + low)
    strips = len(rows) - 1
    block = _blocks(other, strips, same_number=same_number)
    last = block.shape[1] - 1

    equal = {
        (a, b): block[(b - a) * same_number, np.minimum(rows[b] - rows[a], last)]
        for a in range(strips)
        for b in range(a + 1, strips + 1)
    }
    most = np.ones(rows.shape[1], dtype=np.int8)
    for first in range(strips):
        chain = {first: np.where(near[first], 1, _NEVER).astype(np.int8)}
        for b in range(first + 1, strips + 1):
            best = np.full(rows.shape[1], _NEVER, dtype=np.int8)
            for a, count in chain.items():
                np.maximum(best, count + 1, out=best, where=equal[a, b])
            best[~(near[b] & equal[first, b])] = _NEVER
            chain[b] = best
            np.maximum(most, best, out=most)
    return most


def _blocks(shape: Shape, most: int, *, same_number: bool) -> NDArray[np.bool_]:
    """Whether some strips are so wide together: by their number up to `most`, or all in row 0."""
    number, sums = shape.knife_sums
    made = np.zeros((max(shape.strips, most) + 1, shape.used + 2), dtype=bool)
    made[number if same_number else 0, sums] = True
    return made
