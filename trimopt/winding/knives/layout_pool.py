"""Layouts that were found good, a pool for each lot, and in how many knives any two agree.

Knives that stay are counted rather than moves: over a running order the moves are then a constant
less the knives that stay, whatever the order, and that is the same read from either end.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from random import Random

import numpy as np
from numpy.typing import NDArray

from trimopt.winding.knives.layout_dp import Count, Laid

Stays = NDArray[np.int16]
_EMPTY = -1000  # an empty slot; far below any sum of stays that a choice could be made for
_NOWHERE = -7  # no knife stands there


class LayoutPools:
    """A pool of layouts for each lot, in numbered slots.

    `stays[i, p, j, q]` are the knives that stay from layout p of lot i to layout q of lot j, and
    `opening[i, p]` those that stay when it is the first block's.

    Parameters
    ----------
    knives
        Most places of a layout.
    starts
        Places of the knives before the first block: of several, the one that suits. Empty: unknown.
    max_size
        Layouts that `thin` leaves in a pool.
    """

    def __init__(
        self,
        lots: int,
        count: Count,
        *,
        knives: int,
        starts: Sequence[tuple[int, ...]],
        max_size: int,
    ) -> None:
        self.count = count
        self.max_size = max_size
        slots = max_size + 32
        self.laid: list[list[Laid | None]] = [[None] * slots for _ in range(lots)]
        self.stays: Stays = np.full((lots, slots, lots, slots), _EMPTY, dtype=np.int16)
        self.opening: Stays = np.full((lots, slots), _EMPTY, dtype=np.int16)
        self._slot: list[dict[tuple[int, ...], int]] = [{} for _ in range(lots)]
        self._places = np.full((lots, slots, knives), _NOWHERE, dtype=np.int64)
        self._starts = tuple(starts)

    def add(self, lot: int, laid: Laid) -> bool:
        """Put a layout into a lot's pool; whether it is new there and found room."""
        known = self._slot[lot]
        if laid.places in known or None not in self.laid[lot]:
            return False
        slot = self.laid[lot].index(None)
        self.laid[lot][slot] = laid
        known[laid.places] = slot
        places = np.array(laid.places, dtype=np.int64)
        met = self.count.meet(self._places, places)
        met[self.opening == _EMPTY] = _EMPTY
        self.stays[lot, slot] = met
        self.stays[:, :, lot, slot] = met
        self._places[lot, slot, : len(places)] = places
        size = self.count.size(laid)
        moved = min((self.count.moves(s, laid.places) for s in self._starts), default=0)
        self.opening[lot, slot] = size - moved
        return True

    def thin(self, used: Sequence[Iterable[Laid]], draw: Random) -> None:
        """Cut pools that are too large to two thirds: layouts in `used` stay, others by lot."""
        for lot, known in enumerate(self._slot):
            if len(known) <= self.max_size:
                continue
            kept = {laid.places for laid in used[lot]}
            rest = [places for places in known if places not in kept]
            for places in draw.sample(rest, min(len(rest), len(known) - self.max_size * 2 // 3)):
                slot = known.pop(places)
                self.laid[lot][slot] = None
                self.stays[lot, slot] = _EMPTY
                self.stays[:, :, lot, slot] = _EMPTY
                self.opening[lot, slot] = _EMPTY
                self._places[lot, slot] = _NOWHERE
