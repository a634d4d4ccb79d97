"""All patterns along arcs, where there are few enough of them to be listed.

Arcs are shut out by several prices in turn. The prices of one optimum shut out few where many
optima have the same cost: of most arcs they say just that a set through them costs nothing more. So
the program is tilted: it is asked for less, by some of the patterns through arcs that are still
open. Its prices make those patterns dear, and shut out the arcs that no plan passes. Any prices are
safe; see `Arcs.worth_at_least`.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.bin_packing.arc_graph import Arcs
from trimopt.cutting.bin_packing.bin_master import PRICE_SCALE, BinMaster, whole
from trimopt.cutting.bin_packing.item_tables import Counts
from trimopt.cutting.search.search_state import Search


def ways_along(arcs: Arcs, item: Sequence[int]) -> float:
    """How many ways `patterns_along` would follow, ended or not; about so many where very many.

    Parameters
    ----------
    item
        Which item each piece is of: equal pieces follow one another.
    """
    ways = np.zeros(arcs.size + 1)
    ways[0] = 1.0
    for width, pieces, positions in _by_item(arcs, item):
        step = ways.copy()
        for _ in range(pieces):
            further = np.zeros_like(ways)
            further[positions + width] = step[positions]
            ways += further
            step = further
    return float(ways.sum())


def patterns_along(arcs: Arcs, item: Sequence[int]) -> list[Counts]:
    """Return all patterns, as pieces of each item, whose pieces stand where one like them may.

    More than the arcs allow, where equal pieces have different arcs; never less.
    """
    ahead: dict[int, list[tuple[int, int]]] = {}
    most = []
    for i, (width, pieces, positions) in enumerate(_by_item(arcs, item)):
        most.append(pieces)
        for used in positions.tolist():
            ahead.setdefault(used, []).append((i, used + width))
    found = []
    stack: list[tuple[int, list[int]]] = [(0, [])]
    while stack:
        used, pieces_of = stack.pop()
        if used >= arcs.min_used and pieces_of:
            found.append(pieces_of)
        last = pieces_of[-1] if pieces_of else -1
        for i, end in ahead.get(used, ()):
            if i > last or (i == last and pieces_of.count(i) < most[i]):
                stack.append((end, [*pieces_of, i]))
    return sorted(
        tuple((i, pieces_of.count(i)) for i in sorted(set(pieces_of))) for pieces_of in found
    )


def _by_item(
    arcs: Arcs, item: Sequence[int]
) -> list[tuple[int, int, np.ndarray[tuple[int], np.dtype[np.int64]]]]:
    """By item: width, pieces, positions of any of its pieces."""
    layers: dict[int, list[int]] = {}
    for layer, i in enumerate(item):
        layers.setdefault(i, []).append(layer)
    return [
        (
            arcs.widths[some[0]],
            len(some),
            np.unique(
                np.concatenate([arcs.position[arcs.start[k] : arcs.start[k + 1]] for k in some])
            ),
        )
        for _, some in sorted(layers.items())
    ]


Ints = NDArray[np.int64]


class ArcReducer:
    """Shuts out arcs on one master whose rows are pieces needed once.

    Parameters
    ----------
    master, search
        The program over the pieces, and the state that counts the work.
    item
        Which item each piece is of.
    """

    def __init__(self, master: BinMaster, search: Search, item: list[int]) -> None:
        self.master = master
        self.search = search
        self.item = item
        self.params = search.params.bin_packing
        self.rng = random.Random(len(item))

    def narrowed(self, arcs: Arcs, prices: Ints, target: int) -> tuple[Arcs, float] | None:
        """Return the arcs that plans of `target` sets may pass, and the ways along them.

        None is the proof that there is no such plan.

        Parameters
        ----------
        arcs
            Arcs that the open columns of the master keep to.
        prices
            Whole prices of an optimum along them.
        """
        params = self.params
        ways, idle = ways_along(arcs, self.item), 0
        for turn in range(params.tilt_rounds):
            if ways <= params.listed_at_once or idle == params.tilt_max_idle:
                break
            prices, most = self._tilted(
                arcs, prices, params.tilt_shares[turn % len(params.tilt_shares)]
            )
            total = int(prices.sum())
            if total > target * most:
                return None
            fewer = arcs.worth_at_least(prices, total - (target - 1) * most)
            self.search.budget.spend(12 * arcs.count)
            if not fewer.complete:
                return None
            before, ways = ways, ways_along(fewer, self.item)
            idle = 0 if ways < params.tilt_little * before else idle + 1
            arcs = fewer
        return arcs, ways

    def _tilted(self, arcs: Arcs, prices: Ints, share: float) -> tuple[Ints, int]:
        """Prices where less is asked for, and what no pattern along the arcs is worth more than."""
        master = self.master
        best = arcs.best_through(prices, self.rng, self.params.tilt_patterns)
        less = np.zeros(len(master.need))
        for counts in best:
            for i, n in counts:
                less[i] += n
        less *= share / max(1.0, less.max())
        master.tilt(less)
        try:
            for _ in range(self.params.tilt_columns):
                before = master.iterations
                prices = whole(master.solve().prices)
                spent = master.iterations - before
                found = arcs.price(prices, master.need, PRICE_SCALE + 16)
                self.search.budget.spend(found.work + 50 * (spent + 10) * len(master.need))
                if not sum([master.add(counts) for _, counts in found.patterns]):
                    break
        finally:
            master.tilt(np.zeros(len(master.need)))
        return prices, max(1, found.bound)
