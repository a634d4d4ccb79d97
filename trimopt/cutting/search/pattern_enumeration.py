"""All patterns of a run, or all of small reduced cost: those that a good plan can be made of.

At prices that prove a bound no pattern is worth more than its set, and what it costs beyond its
worth, its reduced cost, is lost with every set of it. So a plan whose loss is within D of the bound
holds no pattern whose reduced cost is above D. The patterns below a threshold are built option by
option, all partial patterns at once in arrays; a table of the best value that the later options can
still add cuts the rest. Where the patterns are few they are counted out, with no prices at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.column_generation import RESOLUTION, whole_numbers
from trimopt.cutting.lp.knapsack_tables import UNREACHED, steps
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern, is_allowed
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.search.search_state import Search

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(slots=True, kw_only=True, eq=False)
class _Class:
    """One class at fixed prices: the later options' tables, for any threshold."""

    pricer: Pricer
    values: Ints
    unit: float
    max_cost: float  # the greatest threshold to come
    must: int | None = None  # an option that every pattern holds
    order: list[int] = field(default_factory=list)
    later: Ints = field(default_factory=lambda: np.zeros((0, 0), dtype=np.int64))

    def __post_init__(self) -> None:
        offer = self.pricer.offer
        # A piece that is worth less than nothing makes a pattern dearer by as much. Where not every
        # used width is allowed, such a piece may be what fills the set.
        least = -int(self.max_cost * self.unit) - 1
        keep = [
            j
            for j in range(offer.size)
            if self.values[j] >= least or j == self.must or not offer.any_used
        ]
        self.order = sorted(
            keep, key=lambda j: (j != self.must, -int(offer.widths[j]), -int(self.values[j]))
        )
        self.later = np.full((len(keep) + 1, offer.width + 1), 0, dtype=np.int64)
        # later[t, r]: the most that options t, t + 1 … add in a room r; at the end, in a room that
        # the class allows to be left over.
        self.later[len(keep)] = np.where(offer.broke[::-1] >= 0, 0, UNREACHED)
        for t in range(len(keep) - 1, -1, -1):
            j = self.order[t]
            row = self.later[t]
            row[:] = self.later[t + 1]
            width, value = int(offer.widths[j]), int(self.values[j])
            for step in steps(min(int(offer.max_counts[j]), offer.width // width)):
                shift = step * width
                np.maximum(
                    row[shift:], row[: offer.width + 1 - shift] + step * value, out=row[shift:]
                )

    def below(self, threshold: float, cap: int) -> tuple[list[Pattern], list[float]] | None:
        """Patterns whose reduced cost is at most the threshold; None where too many are met."""
        offer = self.pricer.offer
        cost = int(SCALE * offer.cost * self.unit)
        need = cost - int(threshold * self.unit)
        room = np.array([offer.width], dtype=np.int64)
        value = np.zeros(1, dtype=np.int64)
        pieces = np.zeros(1, dtype=np.int64)
        counts = np.zeros((1, len(self.order)), dtype=np.int32)
        for t, j in enumerate(self.order):
            width, worth = int(offer.widths[j]), int(self.values[j])
            parts = []
            least = 1 if j == self.must else 0
            for n in range(least, min(int(offer.max_counts[j]), offer.width // width) + 1):
                left = room - n * width
                alive = np.flatnonzero((left >= 0) & (pieces + n <= offer.max_pieces))
                if not len(alive):
                    break
                # Kept where later options, by width alone, still bring it to the worth needed.
                reach = value[alive] + n * worth + self.later[t + 1][left[alive]]
                alive = alive[reach >= need]
                if len(alive):
                    parts.append((alive, n))
            if not parts:
                return [], []
            chosen = np.concatenate([alive for alive, _ in parts])
            if len(chosen) > cap:
                return None
            taken = np.concatenate([np.full(len(alive), n) for alive, n in parts])
            room, value = room[chosen] - taken * width, value[chosen] + taken * worth
            pieces, counts = pieces[chosen] + taken, counts[chosen]
            counts[:, t] = taken
        broke = offer.broke[offer.width - room]
        good = (value >= need) & (broke >= 0) & (pieces + broke <= offer.max_pieces) & (pieces > 0)
        patterns, costs = [], []
        for row in np.flatnonzero(good):
            held = np.flatnonzero(counts[row])
            pattern = self.pricer.pattern(tuple((self.order[t], int(counts[row, t])) for t in held))
            if offer.plain or is_allowed(self.pricer.instance, pattern):
                patterns.append(pattern)
                costs.append(float(cost - value[row]) / self.unit)
        return patterns, costs


@dataclass(frozen=True, slots=True, kw_only=True)
class NearPatterns:
    """Patterns with their reduced costs, in units of loss; all of them up to `complete`."""

    patterns: tuple[Pattern, ...]
    reduced: tuple[float, ...]
    complete: float


def near_patterns(
    pricers: Sequence[Pricer],
    values: Floats,
    search: Search,
    *,
    wanted: int,
    max_cost: float,
    holding: int | None = None,
    all_or_none: bool = False,
) -> NearPatterns:
    """Return the patterns of least reduced cost at the prices of a point.

    Parameters
    ----------
    wanted
        About how many patterns to give; the threshold is doubled until there are as many. No more
        than four times as many are given.
    max_cost
        Greatest threshold of interest, in units of loss: the gap.
    holding
        Only patterns with pieces of this demand.
    all_or_none
        All up to the greatest threshold, or none where they are too many.
    """
    dearest = max(SCALE * pricer.offer.cost for pricer in pricers)
    unit = RESOLUTION / max(1, dearest)
    classes = [
        _Class(
            pricer=pricer,
            values=whole_numbers(values[list(pricer.offer.options)] * unit),
            unit=unit,
            max_cost=max_cost,
            must=must,
        )
        for pricer in pricers
        for must in _musts(pricer, holding)
    ]
    found = NearPatterns(patterns=(), reduced=(), complete=0.0)
    threshold = max_cost if all_or_none else min(max_cost, dearest * 1e-5)
    while True:
        patterns: list[Pattern] = []
        reduced: list[float] = []
        for one in classes:
            # Too many at this threshold: those of the one before are all that is known.
            part = one.below(threshold, 20 * wanted)
            if part is None or len(patterns) + len(part[0]) > 4 * wanted:
                return found
            patterns += part[0]
            reduced += part[1]
            search.budget.spend(20 * len(part[0]) + one.later.size)
        found = NearPatterns(patterns=tuple(patterns), reduced=tuple(reduced), complete=threshold)
        if threshold >= max_cost or len(patterns) >= wanted:
            return found
        threshold = min(max_cost, threshold * 2)


def _musts(pricer: Pricer, holding: int | None) -> list[int | None]:
    """Options of a demand: a pattern that holds it holds one of them. None: any pattern will do."""
    if holding is None:
        return [None]
    return [int(j) for j in np.flatnonzero(pricer.offer.demand == holding)]


def all_patterns(
    instance: Instance,
    *,
    max_looked: int,
    max_found: int | None = None,
    classes: Sequence[int] | None = None,
) -> list[Pattern] | None:
    """Every allowed pattern, in a fixed order; None where there are more of them, or to look at.

    Of these classes alone where they are given.
    """
    found: list[Pattern] = []
    looked = 0
    for c in range(len(instance.classes)) if classes is None else classes:
        limits = instance.classes[c]
        for pieces in _fitting(instance, instance.options_of(c), limits.width, limits.max_pieces):
            looked += 1
            if looked > max_looked or (max_found is not None and len(found) > max_found):
                return None
            pattern = Pattern(c, pieces)
            if is_allowed(instance, pattern):
                found.append(pattern)
    return found


def _fitting(
    instance: Instance, options: tuple[int, ...], width: int, max_pieces: int
) -> Iterator[tuple[tuple[int, int], ...]]:
    """Every choice of at most so many pieces of the options that is no wider."""
    for place, k in enumerate(options):
        each = instance.options[k].width
        for count in range(1, min(max_pieces, width // each) + 1):
            yield ((k, count),)
            rest = _fitting(
                instance, options[place + 1 :], width - count * each, max_pieces - count
            )
            yield from (((k, count), *more) for more in rest)
