"""Forward and backward tables over the items: the best pattern that holds each of them.

The forward table has the most that the items before one are worth at a used width of just u, the
backward table the most that the items after it are worth in a room r. A pattern with at least one
piece of the item is best where the two and the piece meet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.knapsack_tables import UNREACHED, steps

Ints = NDArray[np.int64]
Counts = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BestPatterns:
    """The greatest value of a pattern, and for each item a best pattern that holds it."""

    bound: int
    patterns: tuple[tuple[int, Counts], ...]
    work: int


class _Stack:
    """Tables of one direction: a row for each item, and how to read a pattern out of them."""

    def __init__(
        self, widths: Sequence[int], values: Ints, max_counts: Sequence[int], size: int
    ) -> None:
        self.widths, self.max_counts = widths, max_counts
        self.values = [int(v) for v in values]
        self.rows = np.full((len(widths) + 1, size + 1), UNREACHED, dtype=np.int64)
        self.rows[0, 0] = 0

    def fill(self) -> None:
        size = self.rows.shape[1] - 1
        spare = np.empty(size + 1, dtype=np.int64)
        for i, width in enumerate(self.widths):
            row, value = self.rows[i + 1], self.values[i]
            row[:] = self.rows[i]
            if value <= 0:
                continue
            for step in steps(min(self.max_counts[i], size // width)):
                shift = step * width
                part = spare[: size + 1 - shift]
                np.add(row[: size + 1 - shift], step * value, out=part)
                np.maximum(row[shift:], part, out=row[shift:])

    def read(self, i: int, used: int, counts: dict[int, int]) -> None:
        """Add the pieces of items 0 … i - 1 behind `rows[i, used]`, a used width or a room."""
        while i > 0 and used > 0:
            i -= 1
            here = self.rows[i + 1, used]
            width, value = self.widths[i], self.values[i]
            n = 0
            while here != self.rows[i, used] + n * value:
                n += 1
                used -= width
            if n:
                counts[i] = counts.get(i, 0) + n


def price_items(
    widths: Sequence[int], values: Ints, max_counts: Sequence[int], size: int, cutoff: int
) -> BestPatterns:
    """Return the best pattern, and for each item the best with a piece of it.

    Parameters
    ----------
    widths, values, max_counts
        Of the items: width, value of a piece, greatest number of pieces.
    size
        Room of a set.
    cutoff
        Patterns worth no more than this are left out.
    """
    count = len(widths)
    forward = _Stack(widths, values, max_counts, size)
    forward.fill()
    top = forward.rows[count]
    best = int(top.max())
    work = 3 * count * size
    if best <= cutoff:
        return BestPatterns(bound=best, patterns=(), work=work)
    back = _Stack(widths[::-1], values[::-1], max_counts[::-1], size)
    back.rows[0] = 0
    back.fill()
    found: dict[Counts, int] = {}
    counts: dict[int, int] = {}
    forward.read(count, int(top.argmax()), counts)
    found[tuple(sorted(counts.items()))] = best
    for i in range(count):
        room = size - widths[i]
        if max_counts[i] < 1 or room < 0:
            continue
        row = i + 1 if max_counts[i] > 1 else i
        meet = forward.rows[row, : room + 1] + back.rows[count - i - 1, room::-1]
        used = int(meet.argmax())
        value = int(meet[used]) + int(values[i])
        if value <= cutoff:
            continue
        counts = {i: 1}
        forward.read(row, used, counts)
        if counts[i] > max_counts[i]:
            continue
        rest: dict[int, int] = {}
        back.read(count - i - 1, room - used, rest)
        for b, n in rest.items():
            counts[count - 1 - b] = counts.get(count - 1 - b, 0) + n
        found[tuple(sorted(counts.items()))] = value
    patterns = tuple(sorted(((v, p) for p, v in found.items()), reverse=True))
    return BestPatterns(bound=best, patterns=patterns, work=3 * work)
