"""Layouts that were found good, a pool for each lot, and in how many knives any two agree.

Knives that stay are counted rather than moves: over a running order the moves are then a constant
less the knives that stay, whatever the order, and that is the same read from either end.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import numpy as np
from numpy.typing import NDArray

from trimopt.winding.between import Count, Laid

__all__ = ["Pools"]

Stays = NDArray[np.int16]


class Pools:
    """A pool of layouts for each lot.

    Parameters
    ----------
    lots
        How many.
    count
        How moves are counted.
    starts
        Places of the knives before the first block: of several, the one that suits. None: unknown.
    most
        Layouts kept in a pool.
    """

    def __init__(
        self, lots: int, count: Count, *, starts: Sequence[tuple[int, ...]], most: int
    ) -> None:
        self.count = count
        self.most = most
        self.laid: list[list[Laid]] = [[] for _ in range(lots)]
        self._place: list[dict[tuple[int, ...], int]] = [{} for _ in range(lots)]
        self._rows: list[NDArray[np.int64] | None] = [None] * lots
        self._stays: dict[tuple[int, int], Stays] = {}
        self._starts = [count.rows([start]) for start in starts]

    def add(self, lot: int, laid: Laid) -> bool:
        """Put a layout into a lot's pool; whether it is new there."""
        place = self._place[lot]
        if laid.places in place:
            return False
        place[laid.places] = len(self.laid[lot])
        self.laid[lot].append(laid)
        self._rows[lot] = None
        return True

    def thin(self, used: Sequence[set[tuple[int, ...]]], draw: Random) -> None:
        """Cut pools that are too large to two thirds: layouts in `used` stay, others by lot."""
        for lot, laid in enumerate(self.laid):
            if len(laid) <= self.most:
                continue
            kept = [one for one in laid if one.places in used[lot]]
            rest = [one for one in laid if one.places not in used[lot]]
            room = max(0, self.most * 2 // 3 - len(kept))
            kept += draw.sample(rest, min(room, len(rest)))
            self.laid[lot] = kept
            self._place[lot] = {one.places: p for p, one in enumerate(kept)}
            self._rows[lot] = None

    def _row(self, lot: int) -> NDArray[np.int64]:
        rows = self._rows[lot]
        if rows is None:
            rows = self._rows[lot] = self.count.rows([one.places for one in self.laid[lot]])
            for pair in [pair for pair in self._stays if lot in pair]:
                del self._stays[pair]
        return rows

    def stays(self, first: int, second: int) -> Stays:
        """Knives that stay from each layout of `first` (row) to each of `second` (column)."""
        one, two = self._row(first), self._row(second)
        found = self._stays.get((first, second))
        if found is None:
            found = self.count.meet(one, two)
            self._stays[first, second] = found
            self._stays[second, first] = found.T
        return found

    def opening(self, lot: int) -> Stays:
        """Knives that stay when each layout of `lot` is the first block's."""
        rows = self._row(lot)
        if not self._starts:
            return np.full(len(rows), self.count.size(self.laid[lot][0]), dtype=np.int16)
        stays: Stays = np.max([self.count.meet(s, rows)[0] for s in self._starts], axis=0)
        return stays
