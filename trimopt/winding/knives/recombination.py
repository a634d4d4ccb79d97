"""Search over running orders with the layouts of pools: for an order the best choice is exact.

For a given order the best choice of one layout a lot is a shortest path, layer by layer. Lots are
taken out and put back where that path becomes shortest, so that a change of order carries all
layouts with it. Steps that are a little worse are taken now and then (simulated annealing).

Knives that stay are counted rather than moves: over a running order the moves are then a constant
less the knives that stay, whatever the order, and that is the same read from either end.

References
----------
Kirkpatrick, Gelatt, Vecchi (1983), "Optimization by simulated annealing", Science 220.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import exp
from random import Random

import numpy as np
from numpy.typing import NDArray

from trimopt.winding.knives.layout_dp import Count, Laid
from trimopt.winding.knives.order_costs import Running

Stays = NDArray[np.int16]
_EMPTY = -1000  # an empty slot; far below any sum of stays that a choice could be made for
_NOWHERE = -7  # no knife stands there
# Layouts that a pool is thinned to, of few lots and of more, and slots for new ones beside them.
# Knives that stay are kept for each pair of slots of all lots: two bytes times slots squared.
_FEW_LOTS, _POOL_OF_FEW, _POOL, _SPARE = 16, 96, 48, 32
_MAX_SLOTS = 6_400


def pool_size(lots: int) -> int:
    """Layouts that a pool may have, so that the table of all pairs stays below 100 MB."""
    if lots <= _FEW_LOTS:
        return _POOL_OF_FEW
    return max(1, min(_POOL, _MAX_SLOTS // 2 // lots))


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
        slots = max_size + min(_SPARE, max_size)
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
        moved = min((self.count.moves(s, laid.places) for s in self._starts), default=0)
        self.opening[lot, slot] = len(places) - moved
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


class Recombine:
    """Takes an order from move to move over the pools as they are.

    Parameters
    ----------
    sizes
        Moves to each lot where no knife stays.
    """

    def __init__(
        self, pools: LayoutPools, running: Running, sizes: Sequence[int], draw: Random
    ) -> None:
        self.pools = pools
        self.running = running
        self.sizes = sizes
        self.draw = draw
        self.work = 0

    def _forward(self, order: Sequence[int]) -> list[Stays]:
        """Most knives that stay up to each layout of each lot, from the start."""
        stays = self.pools.stays
        ahead = [self.pools.opening[order[0]]] if order else []
        for a, b in pairwise(order):
            ahead.append((ahead[-1][:, None] + stays[a, :, b]).max(axis=0))
        self.work += len(order)
        return ahead

    def _backward(self, order: Sequence[int]) -> list[Stays]:
        """Most knives that stay from each layout of each lot to the end."""
        stays = self.pools.stays
        behind = [np.zeros(stays.shape[1], dtype=np.int16)] if order else []
        for b, a in pairwise(reversed(order)):
            behind.append((stays[a, :, b] + behind[-1]).max(axis=1))
        self.work += len(order)
        return behind[::-1]

    def cost(self, order: Sequence[int]) -> int:
        """Cost of an order with the best layouts of the pools."""
        return self._price(order, int(self._forward(order)[-1].max()))

    def _price(self, order: Sequence[int], stays: int) -> int:
        moves = sum(self.sizes[lot] for lot in order) - stays
        return moves * self.running.move + self.running.extra(order)

    def layouts(self, order: Sequence[int]) -> dict[int, Laid]:
        """The best layouts for an order; of equal ones any."""
        ahead = self._forward(order)
        found = {}
        value = ahead[-1]
        for t in range(len(order) - 1, -1, -1):
            best = np.flatnonzero(value == value.max())
            chosen = int(best[self.draw.randrange(len(best))])
            laid = self.pools.laid[order[t]][chosen]
            assert laid is not None  # empty slots are never best
            found[order[t]] = laid
            if t:
                value = ahead[t - 1] + self.pools.stays[order[t - 1], :, order[t], chosen]
        return found

    def _gaps(self, order: Sequence[int], level: int) -> range:
        """Gaps in which a lot of that precedence may stand."""
        precedence = self.running.precedence
        low = sum(precedence[lot] < level for lot in order)
        high = sum(precedence[lot] <= level for lot in order)
        return range(low, high + 1)

    def put(self, order: list[int], part: list[int]) -> None:
        """Put lots back together, in this order or turned, where it costs least."""
        if not order:
            order += part
            return
        lots = np.array(order)
        stays = self.pools.stays
        ahead = np.array(self._forward(order))
        behind = np.array(self._backward(order))
        base = sum(self.sizes[lot] for lot in (*order, *part))
        gaps = self._gaps(order, self.running.precedence[part[0]])
        best: tuple[int, float, int, list[int]] | None = None
        # Most knives that stay with the part in each gap: up to every layout of its first lot from
        # what runs before, through the part, and on to what runs after. All gaps in one sweep.
        for way in [part] if len(part) == 1 else [part, part[::-1]]:
            first, last = way[0], way[-1]
            value = np.empty((len(order) + 1, stays.shape[1]), dtype=np.int16)
            value[0] = self.pools.opening[first]
            value[1:] = (ahead[:, :, None] + stays[lots, :, first]).max(axis=1)
            for a, b in pairwise(way):
                value = (value[:, :, None] + stays[a, :, b]).max(axis=1)
            value[:-1] += (behind[:, :, None] + stays[lots, :, last]).max(axis=1)
            most = value.max(axis=1).tolist()
            self.work += 6 + value.size * stays.shape[1] * (1 + len(way)) // 8000
            for gap in gaps:
                cost = (base - most[gap]) * self.running.move
                if not self.running.plain:
                    cost += self.running.extra([*order[:gap], *way, *order[gap:]])
                key = (cost, self.draw.random(), gap, way)
                if best is None or key < best:
                    best = key
        assert best is not None
        order[best[2] : best[2]] = best[3]

    def step(self, order: list[int], cost: int, warmth: float) -> tuple[list[int], int]:
        """One change of order, `accepted` or not; `warmth` is in moves."""
        draw = self.draw
        n = len(order)
        self.work += 6
        new = list(order)
        precedence = self.running.precedence
        # A part of neighbours moved whole (Or 1976), or a few lots taken out and put back one by
        # one where each costs least; what comes out as it was is no step.
        if draw.random() < 0.4:
            size = draw.randint(1, max(1, min(5, n - 1)))
            first = draw.randrange(n - size + 1)
            part = new[first : first + size]
            if len({precedence[lot] for lot in part}) == 1:
                del new[first : first + size]
                self.put(new, part)
        else:
            count = draw.randint(1, max(1, min(4, n - 1)))
            if draw.random() < 0.5:
                out = draw.sample(new, count)
            else:
                first = draw.randrange(n - count + 1)
                out = new[first : first + count]
                draw.shuffle(out)
            for lot in out:
                new.remove(lot)
            for lot in out:
                self.put(new, [lot])
        if new == order:
            return order, cost
        price = self.cost(new)
        if accepted((price - cost) / self.running.move, warmth, draw):
            return new, price
        return order, cost


def accepted(worse: float, warmth: float, draw: Random) -> bool:
    """Whether a step is taken that is so much worse: one that costs `warmth`, once in e."""
    return worse <= 0 or (warmth > 0 and draw.random() < exp(-worse / warmth))
