"""One plan of few patterns, built directly: many sets first, the fullest pattern that can repeat.

For a number of sets n from large to small, only so many pieces of an order may lie in a pattern
that n sets of it do not make too much. The fullest pattern under these caps is taken where its
trim is within an allowance, and repeated as often as the caps let it. What remains is built with
wider allowances until every demand is met.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf
from random import Random

from trimopt.cutting.model.cuts import Cut, Pattern, is_allowed
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.setups.bitset_fill import Item, fullest
from trimopt.cutting.setups.build_tables import BuildTables

_QUICK, _QUICK_TRIM = 6, 0.03  # quick builds, and their allowance at the most


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """What is drawn anew for each build.

    `caps` is the most that is made of each demand, in its yield; `allowance` the share of the
    width that may be trimmed in the first pass; `classes` those used, positions in the tables;
    `budget` the loss above the floor at which the build is given up; `max_patterns` the number of
    patterns at which it is given up; `greedy` the chance of taking as many as possible of a piece.
    """

    caps: tuple[int, ...]
    allowance: float
    classes: tuple[int, ...]
    budget: float = inf
    max_patterns: int = 10**9
    greedy: float = 0.7


def build(
    tables: BuildTables, base: Sequence[Cut], style: Style, rng: Random
) -> tuple[Cut, ...] | None:
    """A whole plan that holds `base`; None where the style's limits were passed."""
    return _Build(tables, style, rng).run(base)


def quick_builds(instance: Instance) -> Iterator[tuple[Cut, ...]]:
    """A few plans, or what could be built of them, in some hundredths of a second."""
    tables, rng = BuildTables.of(instance, None), Random(0)
    every = range(len(tables.classes))
    caps = tuple(
        low if high is None else high for low, high in zip(tables.low, tables.high, strict=True)
    )
    for _ in range(_QUICK):
        style = Style(
            caps=caps,
            allowance=_QUICK_TRIM * rng.random(),
            classes=tuple(rng.sample(every, len(every))),
        )
        one = _Build(tables, style, rng)
        one.run(())
        yield tuple(one.cuts)


class _Build:
    """What is still to be made, and what may be."""

    def __init__(self, tables: BuildTables, style: Style, rng: Random) -> None:
        self.tables = tables
        self.style = style
        self.rng = rng
        self.room = list(style.caps)
        self.need = list(tables.low)
        self.cuts: list[Cut] = []
        self.budget = style.budget
        self.allowance = style.allowance
        self.options = {c: self._drawn(c) for c in style.classes}
        self.order = {
            k: (0.3 + rng.random()) * tables.width[k]
            for options in self.options.values()
            for k in options
        }

    def _drawn(self, c: int) -> tuple[int, ...]:
        """The options of a class for this build: of many for one demand, two."""
        tables, rng = self.tables, self.rng
        by_demand = tables.classes[c].by_demand
        if len(by_demand) == len(tables.classes[c].options):
            return tables.classes[c].options
        most = tables.params.max_options
        chosen: list[int] = []
        for options in by_demand:
            chosen += options if len(options) <= most else rng.sample(options, most)
        return tuple(chosen)

    def run(self, base: Sequence[Cut]) -> tuple[Cut, ...] | None:
        for kept in base:
            self._take(kept)
        slack = 1e-6 * SCALE
        top = inf
        while any(q > 0 for q in self.need):
            if self._full() or self.budget < -slack:
                return None
            cut = self._closing() or self._next(top)
            if cut is None:
                if self.allowance >= 1.0:
                    return None
                self.allowance = min(1.0, 3.0 * self.allowance + 1e-3)
                top = inf
                continue
            top = cut.sets * self.tables.classes[cut.pattern.winding_class].cost
            self._take(cut)
        return tuple(self.cuts) if self.budget >= -slack else None

    def _full(self) -> bool:
        """Whether no further pattern may be begun; one more cut may still be one that there is."""
        if len(self.cuts) < self.style.max_patterns:
            return False
        return not self.tables.shared or self.tables.patterns(self.cuts) > self.style.max_patterns

    def _take(self, cut: Cut) -> None:
        tables = self.tables
        self.budget -= cut.sets * tables.reduced(cut.pattern)
        for k, count in cut.pattern.pieces:
            made = tables.gain[k] * count * cut.sets
            self.room[tables.demand[k]] -= made
            self.need[tables.demand[k]] -= made
        self.cuts.append(cut)

    def _affordable(self, cut: Cut) -> bool:
        return cut.sets * self.tables.reduced(cut.pattern) <= self.budget + 1e-3

    def _closing(self) -> Cut | None:
        """The one pattern that makes all that is still needed, where there is one within limits."""
        for c in self.style.classes:
            cut = self._closing_in(c)
            if cut is not None:
                return cut
        return None

    def _closing_in(self, c: int) -> Cut | None:
        tables, need = self.tables, self.need
        gain, width, demand = tables.gain, tables.width, tables.demand
        limits = tables.classes[c]
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
            cut = Cut(Pattern(c, tuple(sorted(counts.items()))), sets)
            if self._affordable(cut) and is_allowed(tables.instance, cut.pattern):
                return cut
        return None

    def _trials(self, top: float) -> list[tuple[float, int, int]]:
        """(paper, sets, class) to try, most paper first: only counts where a cap changes."""
        tables, room = self.tables, self.room
        trials: list[tuple[float, int, int]] = []
        for c in self.style.classes:
            limits = tables.classes[c]
            counts: set[int] = set()
            for k in self.options[c]:
                most = room[tables.demand[k]] // tables.gain[k]
                if most > 0:
                    counts.add(most)
                    for t in range(2, min(most, limits.width // tables.width[k]) + 1):
                        counts.add(most // t)
            trials += [(float(n * limits.cost), n, c) for n in counts if n * limits.cost <= top]
        trials.sort(reverse=True)
        most = tables.params.trials
        if len(trials) > most:
            chosen = sorted(self.rng.sample(range(len(trials)), most))
            trials = [trials[at] for at in chosen]
        return trials

    def _next(self, top: float) -> Cut | None:
        """The next pattern and its sets: the most paper first, within the allowance."""
        for _, sets, c in self._trials(top):
            min_width = self.tables.classes[c].width
            min_width -= int(min_width * self.allowance)
            items = self._items(c, sets, min_width)
            if items:
                cut = self._filled(c, items, min_width, sets)
                if cut is not None and self._affordable(cut):
                    return cut
        return None

    def _items(self, c: int, sets: int, min_width: int) -> list[Item]:
        """What may lie in a pattern of so many sets; nothing where it cannot fill `min_width`."""
        tables, room, need = self.tables, self.room, self.need
        demand, gain, width = tables.demand, tables.gain, tables.width
        deckle = tables.classes[c].width
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
        if not useful or total < min_width:
            return []
        order = self.order
        items.sort(key=lambda item: (need[demand[item[0]]] > 0, order[item[0]]))
        few = tables.params.max_items
        if len(items) > few:  # needed ones stand last and are kept twice as often
            chosen = self.rng.choices(range(len(items)), range(len(items), 2 * len(items)), k=few)
            items = [items[at] for at in sorted(set(chosen))]
        return items

    def _filled(self, c: int, items: list[Item], min_width: int, sets: int) -> Cut | None:
        """The fullest allowed pattern of the items, repeated as often as the caps let it."""
        tables, room, need = self.tables, self.room, self.need
        demand, gain = tables.demand, tables.gain
        found = fullest(tables.classes[c], items, min_width, self.rng, self.style.greedy)
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
        pattern = Pattern(c, tuple(sorted(found.items())))
        return Cut(pattern, sets) if is_allowed(tables.instance, pattern) else None
