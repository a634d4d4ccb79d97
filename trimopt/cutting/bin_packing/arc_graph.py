"""The positions at which a piece may stand, as arcs, and the best patterns along them.

Pieces of a set stand in order of falling width; the **position** of a piece is the width used
before it. Every piece is a layer of its own; an arc is a layer and a position. Only arcs that some
full enough pattern passes are kept: a plan of K sets wastes no more than K · width less all the
pieces, so no set of it wastes more. Prices shut out further arcs, and branching does.

References
----------
J. M. Valério de Carvalho (1999), "Exact solution of bin-packing problems using column generation
and branch-and-bound", Annals of Operations Research 86, 629-659 (arc flow).
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.bin_packing.item_tables import BestPatterns, Counts
from trimopt.cutting.lp.knapsack_tables import UNREACHED

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

_ROUNDING = 1 << 10  # of whole prices, by which patterns of one worth may differ


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arcs:
    """Arcs by layer: those of layer l are `start[l] : start[l + 1]`, positions rising."""

    size: int
    widths: tuple[int, ...]
    start: tuple[int, ...]
    position: Ints
    min_used: int

    @property
    def count(self) -> int:
        """Number of arcs."""
        return len(self.position)

    @property
    def complete(self) -> bool:
        """Whether every layer has an arc."""
        return all(a < b for a, b in pairwise(self.start))

    def price(self, prices: Ints, need: Sequence[int], cutoff: int) -> BestPatterns:
        """Return the best pattern, and for each piece the best that holds it.

        Parameters
        ----------
        prices
            Price of each piece, whole; may be negative.
        need
            Whether a pattern may hold a piece: 1 or 0.
        cutoff
            Patterns worth no more than this are left out.
        """
        worth, into, onto = self._through(prices, need)
        if not len(worth):
            return BestPatterns(bound=UNREACHED, patterns=(), work=1)
        most = int(worth.max())
        found: dict[Counts, int] = {}
        if most > cutoff:
            for layer, (low, high) in enumerate(pairwise(self.start)):
                if need[layer] and high > low:
                    arc = low + int(worth[low:high].argmax())
                    if int(worth[arc]) > cutoff:
                        found[self._read(arc, into, onto)] = int(worth[arc])
        patterns = tuple(sorted(((v, p) for p, v in found.items()), reverse=True))
        return BestPatterns(
            bound=most, patterns=patterns, work=12 * self.count + 40 * len(self.widths)
        )

    def best_through(self, prices: Ints, rng: random.Random, number: int) -> list[Counts]:
        """Best patterns through some of the arcs that one of the best patterns of all passes."""
        worth, into, onto = self._through(prices, (1,) * len(self.widths))
        near = np.flatnonzero(worth >= worth.max(initial=UNREACHED) - _ROUNDING).tolist()
        some = rng.sample(near, min(number, len(near)))
        return [self._read(arc, into, onto) for arc in some]

    def _through(self, prices: Ints, need: Sequence[int]) -> tuple[Ints, Ints, Ints]:
        """Best value of a pattern through each arc, and the arcs before and after it on the way.

        Forward, layer by layer, the best value with which each width is used so far: a whole layer
        in one sweep, as its arcs leave from different positions. Backward what the later pieces
        add at most, up to an end that wastes little enough. The two together price all arcs.
        """
        values = [int(price) for price in prices]
        worth = np.full(self.count, UNREACHED, dtype=np.int64)
        into = np.full(self.count, -1, dtype=np.int64)
        onto = np.full(self.count, -1, dtype=np.int64)
        best = np.full(self.size + 1, UNREACHED, dtype=np.int64)
        best[0] = 0
        came = np.full(self.size + 1, -1, dtype=np.int64)
        layers = range(len(self.widths))
        for layer in layers:
            low, high = self.start[layer], self.start[layer + 1]
            if low == high or not need[layer]:
                continue
            here = self.position[low:high]
            there = here + self.widths[layer]
            before = best[here]
            worth[low:high] = before + values[layer]
            into[low:high] = came[here]
            better = worth[low:high] > best[there]
            ends = there[better]
            best[ends] = worth[low:high][better]
            came[ends] = low + np.flatnonzero(better)
        best[:] = UNREACHED
        best[self.min_used :] = 0
        came[:] = -1
        for layer in reversed(layers):
            low, high = self.start[layer], self.start[layer + 1]
            if low == high or not need[layer]:
                continue
            here = self.position[low:high]
            there = here + self.widths[layer]
            after = best[there]
            worth[low:high] += after
            onto[low:high] = came[there]
            gain = after + values[layer]
            better = gain > best[here]
            starts = here[better]
            best[starts] = gain[better]
            came[starts] = low + np.flatnonzero(better)
        return worth, into, onto

    def _read(self, arc: int, into: Ints, onto: Ints) -> Counts:
        layers = [self._layer_of(arc)]
        for chain in (into, onto):
            at = int(chain[arc])
            while at >= 0:
                layers.append(self._layer_of(at))
                at = int(chain[at])
        return tuple((layer, 1) for layer in sorted(layers))

    def _layer_of(self, arc: int) -> int:
        return bisect_right(self.start, arc) - 1

    def kept(self, keep: Flags) -> Arcs:
        """Return the arcs that a mask keeps."""
        sums = np.concatenate(([0], np.cumsum(keep)))
        start = tuple(int(sums[s]) for s in self.start)
        return replace(self, start=start, position=self.position[keep])

    def worth_at_least(self, prices: Ints, least: int) -> Arcs:
        """Return the arcs through which a pattern worth at least `least` goes."""
        worth, _, _ = self._through(prices, (1,) * len(self.widths))
        return self.kept(worth >= least)

    def limited(self, layer: int, *, below: int | None = None, above: int | None = None) -> Arcs:
        """Return the arcs without those of one layer outside a range of positions."""
        keep = np.ones(self.count, dtype=bool)
        low, high = self.start[layer], self.start[layer + 1]
        here = self.position[low:high]
        if below is not None:
            keep[low:high] &= here < below
        if above is not None:
            keep[low:high] &= here >= above
        return self.kept(keep)

    def allowed(self) -> Flags:
        """Return by layer and position whether there is an arc."""
        flags = np.zeros((len(self.widths), self.size + 1), dtype=bool)
        for layer, (low, high) in enumerate(pairwise(self.start)):
            flags[layer, self.position[low:high]] = True
        return flags


def build_arcs(widths: Sequence[int], size: int, waste: int) -> Arcs:
    """Return the arcs of pieces by falling width, in sets that waste no more than `waste`.

    Parameters
    ----------
    widths
        Width of each piece, none above `size`.
    size, waste
        Room of a set, and the greatest part of it that may stay empty.
    """
    # An arc stands where its position is a sum of earlier pieces, and where later pieces reach an
    # end from behind it: both by one pass over bits of the width (Valério de Carvalho 1999).
    least = max(0, size - waste)
    reach = np.zeros((len(widths) + 1, size + 1), dtype=bool)
    reach[0, 0] = True
    for layer, width in enumerate(widths):
        reach[layer + 1] = reach[layer]
        reach[layer + 1, width:] |= reach[layer, : size + 1 - width]
    ends = np.zeros(size + 1, dtype=bool)
    ends[least:] = True
    parts = []
    for layer in range(len(widths) - 1, -1, -1):
        width = widths[layer]
        passed = reach[layer, : size + 1 - width] & ends[width:]
        parts.append(np.flatnonzero(passed))
        ends[: size + 1 - width] |= ends[width:].copy()
    parts.reverse()
    start = np.concatenate(([0], np.cumsum([len(part) for part in parts])))
    position = np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)
    return Arcs(
        size=size,
        widths=tuple(widths),
        start=tuple(int(s) for s in start),
        position=position.astype(np.int64),
        min_used=least,
    )
