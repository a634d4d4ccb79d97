"""Exact tables over width, and over width and pieces: the best worth of a set, and its pieces.

Two tables, both in int64 and both exact. The first runs over the used width alone and forgets how
many pieces there are; the second also runs over the pieces, and over how many of them may stand at
an edge. A count limit n of an option is taken in steps of 1, 2, 4 … and a rest, which reach every
count up to n.

References
----------
P. C. Gilmore, R. E. Gomory (1966), "The theory and computation of knapsack functions",
Operations Research 14, 1045-1074.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Counts = tuple[tuple[int, int], ...]

UNREACHED = -(1 << 61)
"""Value of a state that no pattern reaches; sums of values stay below half of its size."""

_READ = 64  # flags that are read at a time


@lru_cache(1 << 12)
def steps(limit: int) -> tuple[int, ...]:
    """Step sizes whose subsets give every count from 0 to `limit`.

    >>> steps(6)
    (1, 2, 3)
    """
    sizes = []
    step = 1
    while limit > 0:
        sizes.append(min(step, limit))
        limit -= sizes[-1]
        step *= 2
    return tuple(sizes)


def _flags(better: NDArray[np.bool_]) -> bytes:
    """Eight flags a byte, from the highest bit on; bytes are read three times as fast as arrays."""
    return np.packbits(better).tobytes()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WidthTable:
    """Best value of every used width, whatever the number of pieces.

    A row of `better` says for which used widths a move, so many pieces of an option, brought more.
    """

    best: Ints
    moves: tuple[tuple[int, int, int], ...]
    better: NDArray[np.bool_]

    def pieces(self, used: int) -> Counts:
        """Options and counts behind `best[used]`."""
        counts: dict[int, int] = {}
        end = len(self.moves)
        while used and end:  # the last move before `end` that brought more here
            begin = max(0, end - _READ)
            last = self.better[begin:end, used].tobytes().rfind(1)
            end = begin + max(0, last)
            if last >= 0:
                k, size, shift = self.moves[end]
                counts[k] = counts.get(k, 0) + size
                used -= shift
        return tuple(sorted(counts.items()))


def fill_widths(widths: Ints, values: Ints, max_counts: Ints, size: int) -> WidthTable:
    """Return the best value of every used width up to `size` for options with count limits."""
    best = np.full(size + 1, UNREACHED, dtype=np.int64)
    best[0] = 0
    options = zip(widths.tolist(), max_counts.tolist(), strict=True)
    moves = tuple(
        (k, step, step * width)
        for k, (width, most) in enumerate(options)
        for step in steps(min(most, size // width))
    )
    better = np.zeros((len(moves), size + 1), dtype=np.bool_)
    room = np.empty_like(best)
    for row, (k, step, shift) in zip(better, moves, strict=True):
        target, candidate = best[shift:], room[shift:]
        np.add(best[: size + 1 - shift], step * int(values[k]), out=candidate)
        np.greater(candidate, target, out=row[shift:])
        np.maximum(target, candidate, out=target)
    return WidthTable(best=best, moves=moves, better=better)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceTable:
    """Best value by pieces that may stand at an edge (0, 1, 2 or more), pieces, used width."""

    best: Ints
    taken: tuple[tuple[int, int, int, int, int, bytes], ...]

    def pieces(self, edge: int, count: int, used: int) -> Counts:
        """Options and counts behind `best[edge, count, used]`, beyond what it started from."""
        counts: dict[int, int] = {}
        width = self.best.shape[2]
        for k, size, shift, came, went, better in reversed(self.taken):
            if edge != went or count < size or used < shift:
                continue
            place = (count - size) * (width - shift) + used - shift
            if better[place >> 3] << (place & 7) & 128:
                counts[k] = counts.get(k, 0) + size
                edge, count, used = came, count - size, used - shift
        return tuple(sorted(counts.items()))


def fill_pieces(
    widths: Ints,
    values: Ints,
    max_counts: Ints,
    no_edge: NDArray[np.bool_],
    size: tuple[int, int],
    *,
    start: tuple[int, int, int] = (0, 0, 0),
    guarded: bool = False,
) -> PieceTable:
    """Return the best value of every (edge pieces, pieces, used width).

    Parameters
    ----------
    widths, values, max_counts, no_edge
        One entry an option; values may be negative.
    size
        Greatest number of pieces and greatest used width.
    start
        Edge pieces, pieces and width already in the pattern.
    guarded
        Keep count of the pieces that may stand at an edge: three layers instead of one.
    """
    greatest, width = size
    layers = 3 if guarded else 1
    best = np.full((layers, greatest + 1, width + 1), UNREACHED, dtype=np.int64)
    best[min(start[0], layers - 1), start[1], start[2]] = 0
    taken = []
    for k in range(len(widths)):
        piece, value = int(widths[k]), int(values[k])
        for step in steps(min(int(max_counts[k]), width // piece, greatest)):
            shift = step * piece
            # Layers from the top: one that is reached in this step is not gone on from in it.
            for went in range(layers - 1, -1, -1):
                for came in range(went, -1, -1):
                    if min(layers - 1, came + (0 if no_edge[k] else step)) != went:
                        continue
                    candidate = (
                        best[came, : greatest + 1 - step, : width + 1 - shift] + step * value
                    )
                    target = best[went, step:, shift:]
                    better = _flags(candidate > target)
                    taken.append((k, step, shift, came, went, better))
                    np.maximum(target, candidate, out=target)
    return PieceTable(best=best, taken=tuple(taken))
