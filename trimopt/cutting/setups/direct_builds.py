"""One plan of few patterns, built directly: many sets first, the fullest pattern that can repeat.

For a number of sets n from large to small, only so many pieces of an order may lie in a pattern
that n sets of it do not make too much. The fullest pattern under these caps is taken where its
trim is within an allowance, and repeated as often as the caps let it. What remains is built with
wider allowances until every demand is met.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from random import Random

from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.setups.bitset_fill import Item, fullest
from trimopt.cutting.setups.build_tables import Case, Plan, Row

__all__ = ["Style", "build"]

#: Numbers of sets tried in one pass, over all classes, at the most.
TRIALS = 40
#: Options among which one pattern is looked for, at the most.
ITEMS = 40
#: Options of one demand in a class that a build may use, at the most.
OPTIONS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """What is drawn anew for each build.

    `caps` is the most that is made of each demand, in its yield; `allowance` the share of the
    width that may be trimmed in the first pass; `classes` those used, positions in the case;
    `budget` the loss above the case's floor at which the build is given up; `most` the number of
    patterns at which it is given up; `greedy` the chance of taking as many as possible of a piece.
    """

    caps: tuple[int, ...]
    allowance: float
    classes: tuple[int, ...]
    budget: float = inf
    most: int = 10**9
    greedy: float = 0.7


def build(case: Case, base: Sequence[Row], style: Style, rng: Random) -> Plan | None:
    """A whole plan that holds `base`; None where the style's limits were passed.

    Parameters
    ----------
    case
        The instance, made ready.
    base
        Patterns that stay.
    style
        Caps, allowance, limits.
    rng
        The only source of chance.
    """
    return _Build(case, style, rng).run(base)


class _Build:
    """What is still to be made, and what may be."""

    def __init__(self, case: Case, style: Style, rng: Random) -> None:
        self.case = case
        self.style = style
        self.rng = rng
        self.room = list(style.caps)
        self.need = list(case.low)
        self.rows: list[Row] = []
        self.budget = style.budget
        self.allowance = style.allowance
        self.options = {c: self._drawn(c) for c in style.classes}
        self.order = {
            k: (0.3 + rng.random()) * case.width[k]
            for options in self.options.values()
            for k in options
        }

    def _drawn(self, c: int) -> tuple[int, ...]:
        """The options of a class for this build: of many for one demand, two."""
        case, rng = self.case, self.rng
        by_demand = case.classes[c].by_demand
        if len(by_demand) == len(case.classes[c].options):
            return case.classes[c].options
        chosen: list[int] = []
        for options in by_demand:
            chosen += options if len(options) <= OPTIONS else rng.sample(options, OPTIONS)
        return tuple(chosen)

    def run(self, base: Sequence[Row]) -> Plan | None:
        for kept in base:
            self._take(kept)
        slack = 1e-6 * SCALE
        top = inf
        while any(q > 0 for q in self.need):
            if self._full() or self.budget < -slack:
                return None
            row = self._closing() or self._next(top)
            if row is None:
                if self.allowance >= 1.0:
                    return None
                self.allowance = min(1.0, 3.0 * self.allowance + 1e-3)
                top = inf
                continue
            top = row[2] * self.case.classes[row[0]].cost
            self._take(row)
        return tuple(self.rows) if self.budget >= -slack else None

    def _full(self) -> bool:
        """Whether no further pattern may be begun; one more row may still be one that there is."""
        if len(self.rows) < self.style.most:
            return False
        return not self.case.shared or self.case.patterns(self.rows) > self.style.most

    def _take(self, row: Row) -> None:
        case = self.case
        winding_class, pieces, sets = row
        self.budget -= sets * case.reduced(winding_class, pieces)
        for k, count in pieces:
            made = case.gain[k] * count * sets
            self.room[case.demand[k]] -= made
            self.need[case.demand[k]] -= made
        self.rows.append(row)

    def _affordable(self, row: Row) -> bool:
        return row[2] * self.case.reduced(row[0], row[1]) <= self.budget + 1e-3

    def _closing(self) -> Row | None:
        """The one pattern that makes all that is still needed, where there is one within limits."""
        for c in self.style.classes:
            row = self._closing_in(c)
            if row is not None:
                return row
        return None

    def _closing_in(self, c: int) -> Row | None:
        case, need = self.case, self.need
        gain, width, demand = case.gain, case.width, case.demand
        limits = case.classes[c]
        best: dict[int, int] = {}
        for k in self.options[c]:
            i = demand[k]
            if need[i] > 0:
                held = best.get(i)
                if held is None or width[k] * gain[held] < width[held] * gain[k]:
                    best[i] = k
        if len(best) < sum(q > 0 for q in need):
            return None
        # so many sets are needed even when the pattern is full; a few more may also do
        units = sum(-(-need[i] // gain[k]) * width[k] for i, k in best.items())
        fewest = max(1, -(-units // limits.width))
        most = max(-(-need[i] // gain[k]) for i, k in best.items())
        thin = limits.width * (1.0 - max(self.allowance, 0.02))
        for sets in range(fewest, min(most, fewest + 6) + 1):
            counts = {k: -(-need[i] // (gain[k] * sets)) for i, k in best.items()}
            used = sum(width[k] * count for k, count in counts.items())
            if used > limits.width or sum(counts.values()) > limits.max_pieces:
                continue
            if used < thin and self.budget == inf:
                continue
            if any(counts[k] * sets * gain[k] > self.room[demand[k]] for k in counts):
                continue
            row = (c, tuple(sorted(counts.items())), sets)
            if self._affordable(row) and case.allows(c, row[1]):
                return row
        return None

    def _trials(self, top: float) -> list[tuple[float, int, int]]:
        """(paper, sets, class) to try, most paper first: only counts where a cap changes."""
        case, room = self.case, self.room
        trials: list[tuple[float, int, int]] = []
        for c in self.style.classes:
            limits = case.classes[c]
            counts: set[int] = set()
            for k in self.options[c]:
                most = room[case.demand[k]] // case.gain[k]
                if most > 0:
                    counts.add(most)
                    for t in range(2, min(most, limits.width // case.width[k]) + 1):
                        counts.add(most // t)
            trials += [(float(n * limits.cost), n, c) for n in counts if n * limits.cost <= top]
        trials.sort(reverse=True)
        if len(trials) > TRIALS:
            chosen = sorted(self.rng.sample(range(len(trials)), TRIALS))
            trials = [trials[at] for at in chosen]
        return trials

    def _next(self, top: float) -> Row | None:
        """The next pattern and its sets: the most paper first, within the allowance."""
        case = self.case
        for _, sets, c in self._trials(top):
            least = case.classes[c].width
            least -= int(least * self.allowance)
            items = self._items(c, sets, least)
            if items:
                row = self._filled(c, items, least, sets)
                if row is not None and self._affordable(row):
                    return row
        return None

    def _items(self, c: int, sets: int, least: int) -> list[Item]:
        """What may lie in a pattern of so many sets; nothing where it cannot fill `least`."""
        case, room, need = self.case, self.room, self.need
        demand, gain, width = case.demand, case.gain, case.width
        deckle = case.classes[c].width
        items: list[Item] = []
        total = 0
        useful = False
        for k in self.options[c]:
            i = demand[k]
            cap = room[i] // (gain[k] * sets)
            if cap > 0:
                wide = width[k]
                cap = min(cap, deckle // wide)
                if cap:
                    items.append((k, wide, cap))
                    total += wide * cap
                    useful = useful or need[i] > 0
        if not useful or total < least:
            return []
        order = self.order
        items.sort(key=lambda item: (need[demand[item[0]]] > 0, order[item[0]]))
        if len(items) > ITEMS:  # needed ones stand last and are kept twice as often
            chosen = self.rng.choices(range(len(items)), range(len(items), 2 * len(items)), k=ITEMS)
            items = [items[at] for at in sorted(set(chosen))]
        return items

    def _filled(self, c: int, items: list[Item], least: int, sets: int) -> Row | None:
        """The fullest allowed pattern of the items, repeated as often as the caps let it."""
        case, room, need = self.case, self.room, self.need
        demand, gain = case.demand, case.gain
        found = fullest(case.classes[c], items, least, self.rng, self.style.greedy)
        if found is None:
            return None
        made: dict[int, int] = {}
        for k, count in found.items():
            made[demand[k]] = made.get(demand[k], 0) + gain[k] * count
        needed = [-(-need[i] // each) for i, each in made.items() if need[i] > 0]
        repeat = min(room[i] // each for i, each in made.items())
        if not needed or repeat < 1:
            return None
        # two options of one demand may have taken its room twice; no more than the needs ask for
        sets = min(repeat, max(sets, *needed))
        pieces = tuple(sorted(found.items()))
        return (c, pieces, sets) if case.allows(c, pieces) else None
