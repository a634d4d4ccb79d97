"""Whether K sets of a list of patterns are enough: rows over three items, branches on pairs.

Where prices have shut out nearly every pattern, the rest can be listed, and rows over patterns,
which a table along the width could not price, cost a sum each. Rows that every plan keeps: half of
three items' rows, rounded down; so, of the patterns with two of three items that are needed once
each, a plan has no more than one. Branches: at most so many or at least so many sets hold both of
two items. A node's bound comes from whole prices of items and rows over all listed patterns.

References
----------
M. Jepsen, B. Petersen, S. Spoorendonk, D. Pisinger (2008), "Subset-row inequalities applied to the
vehicle-routing problem with time windows", Operations Research 56, 497-511.
D. M. Ryan, B. A. Foster (1981), "An integer programming approach to scheduling", in A. Wren (ed.),
Computer Scheduling of Public Transport, North-Holland, 269-280.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil, floor, inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.bin_packing.bin_master import ARTIFICIAL, PRICE_SCALE
from trimopt.cutting.bin_packing.bin_problem import Sets
from trimopt.cutting.bin_packing.item_tables import Counts
from trimopt.cutting.lp.linear_program import LinearProgram, Optimum
from trimopt.cutting.model.products import whole_product
from trimopt.cutting.search.search_state import Search

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Triple = tuple[int, int, int]

_NEARLY = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    """A row: Σ `weights` · sets of `patterns` ≤ `limit`; its place in the program."""

    patterns: Ints
    weights: Ints
    limit: int
    place: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Branch:
    """Patterns that may be used, rows of the branches taken, and rows that every plan keeps."""

    keep: Ints
    taken: tuple[_Row, ...]
    common: tuple[_Row, ...]


class PatternListSearch:
    """Decides whether `target` sets of listed patterns make the pieces needed, no more, no less."""

    def __init__(
        self, search: Search, need: Sequence[int], patterns: Sequence[Counts], target: int
    ) -> None:
        self.search = search
        self.params = search.params.bin_packing
        self.need = np.array(need, dtype=np.int64)
        self.patterns = patterns
        self.target = target
        self.nodes = 0
        longest = max((sum(n for _, n in counts) for counts in patterns), default=0)
        # Items of each pattern, one place a piece; places left over hold an item that is no item.
        self.pieces = np.full((len(patterns), longest), len(need), dtype=np.int64)
        for p, counts in enumerate(patterns):
            row = [i for i, n in counts for _ in range(n)]
            self.pieces[p, : len(row)] = row
        self.worth = np.zeros(len(patterns), dtype=np.int64)
        self.rows: list[_Row] = []
        self._begin()

    def _begin(self) -> None:
        """A program without columns."""
        self.program = LinearProgram()
        self.artificial = ARTIFICIAL
        self.missing = []
        for i, n in enumerate(self.need.tolist()):
            self.program.row(float(n), float(n))
            self.missing.append(self.program.column(self.artificial, [(i, 1.0)]))
        self.columns: list[int] = []
        self.place: dict[int, int] = {}
        self.inside = np.zeros(len(self.patterns), dtype=bool)
        self.shut = np.zeros(len(self.patterns), dtype=bool)

    def run(self) -> Sets | None:
        """Return a plan; None is the proof that there is none."""
        everything = np.arange(len(self.patterns))
        stack = [_Branch(keep=everything, taken=(), common=())]
        while stack:
            self.nodes += 1
            found = self._settle(stack.pop())
            if isinstance(found, dict):
                return found
            stack += found
        return None

    def _settle(self, branch: _Branch) -> Sets | list[_Branch]:
        """Price a node, add rows; a plan, or the branches that are left."""
        keep, common = branch.keep, list(branch.common)
        self._enter(branch)
        rounds = 0
        while True:
            optimum = self._solved(len(keep))
            rows = [*branch.taken, *common]
            # A node is dead where K patterns, each worth what the dearest is, fall short of the
            # need; in whole numbers, so float duals can cost time and never a plan.
            worth, total = self._worth(optimum.rows, rows, keep)
            max_worth = max(1, int(worth.max(initial=0)))
            if total > self.target * max_worth:
                return []
            better = np.flatnonzero((worth > PRICE_SCALE + 16) & ~self.inside[keep])
            if len(better):
                order = better[np.argsort(-worth[better], kind="stable")]
                self._add(keep[order[: self.params.columns_a_round]])
                continue
            values = self.program.values()
            if values[self.missing].sum() > _NEARLY:
                self._raise_artificial()
                continue
            # Reduced-cost fixing, as along the arcs.
            keep = keep[worth >= total - (self.target - 1) * max_worth]
            if not self._all_there(keep):
                return []
            x = values[[self.place[p] for p in self.columns]]
            used = np.flatnonzero(x > _NEARLY)
            held, sets = np.array(self.columns)[used], x[used]
            if (np.abs(sets - np.round(sets)) < _NEARLY).all():
                return {self.patterns[p]: round(s) for p, s in zip(held, sets, strict=True)}
            # Where three items are needed once each, of the patterns with two of them at most one
            # is in a plan: rows that cut the point off without a branch (Jepsen et al. 2008).
            broken = self._broken(held, sets) if rounds < self.params.row_rounds else []
            rounds += 1
            if not broken:
                tight = {row.place for row in common if optimum.rows[row.place] < -_NEARLY}
                common = [row for row in common if row.place in tight]
                return self._split(held, sets, keep, branch.taken, tuple(common))
            for triple in broken:
                common.append(self._row(*halved_rows(self.pieces, self.need, triple)))

    def _solved(self, kept: int) -> Optimum:
        before = self.program.iterations
        optimum = self.program.solve()
        spent = self.program.iterations - before
        self.search.budget.spend(50 * (spent + 10) * len(self.need) + 8 * kept)
        return optimum

    def _worth(self, duals: Floats, rows: Sequence[_Row], keep: Ints) -> tuple[Ints, int]:
        """Whole-number worth of each pattern, and what the need less the rows' limits is worth.

        For any whole prices of items, and any of rows from zero up, a plan's sets are worth
        together no less than that: its pieces are the need, and it keeps the rows.
        """
        items = len(self.need)
        prices = np.zeros(items + 1, dtype=np.int64)
        prices[:items] = np.floor(duals[:items] * PRICE_SCALE)
        self.worth[keep] = prices[self.pieces[keep]].sum(axis=1)
        total = int(whole_product(prices[:items], self.need))
        for row in rows:
            dear = max(0, floor(-duals[row.place] * PRICE_SCALE))
            if dear:
                self.worth[row.patterns] -= dear * row.weights
                total -= dear * row.limit
        return self.worth[keep], total

    def _enter(self, branch: _Branch) -> None:
        """Set the program to a branch: which columns may be used, which rows count."""
        shut = np.ones(len(self.patterns), dtype=bool)
        shut[branch.keep] = False
        for p in self.columns:
            if shut[p] != self.shut[p]:
                self.program.set_max(self.place[p], 0.0 if shut[p] else inf)
        self.shut = shut
        counted = {row.place for row in (*branch.taken, *branch.common)}
        for row in self.rows:
            self.program.limits(row.place, -inf, row.limit if row.place in counted else inf)
        if not self.columns:
            self._add(branch.keep[: 2 * len(self.need)])

    def _add(self, patterns: Ints) -> None:
        """Take columns into the program."""
        self.inside[patterns] = True
        at = {p: [(i, float(n)) for i, n in self.patterns[p]] for p in patterns.tolist()}
        for row in self.rows:
            for k in np.flatnonzero(np.isin(row.patterns, patterns)).tolist():
                at[int(row.patterns[k])].append((row.place, float(row.weights[k])))
        for p, parts in at.items():
            self.place[p] = self.program.column(1.0, parts)
            self.columns.append(p)

    def _row(self, patterns: Ints, weights: Ints, limit: int) -> _Row:
        """Take a row into the program."""
        place = self.program.row(-inf, limit)
        for p, weight in zip(patterns.tolist(), weights.tolist(), strict=True):
            if self.inside[p]:
                self.program.part(place, self.place[p], float(weight))
        if limit < 0:
            self.missing.append(self.program.column(self.artificial, [(place, -1.0)]))
        row = _Row(patterns=patterns, weights=weights, limit=limit, place=place)
        self.rows.append(row)
        return row

    def _raise_artificial(self) -> None:
        self.artificial *= 16
        for column in self.missing:
            self.program.cost(column, self.artificial)

    def _all_there(self, keep: Ints) -> bool:
        there = np.zeros(len(self.need) + 1, dtype=bool)
        there[self.pieces[keep]] = True
        return bool(there[:-1].all())

    def _held(self, patterns: Ints) -> Ints:
        """Pieces of each item in each pattern."""
        pieces = self.pieces[patterns]
        held = np.zeros((len(pieces), len(self.need) + 1), dtype=np.int64)
        np.add.at(held, (np.arange(len(pieces))[:, None], pieces), 1)
        return held[:, :-1]

    def _pairs(self, patterns: Ints, sets: Floats) -> Floats:
        """Sets that hold both of two items, at a point."""
        pairs = np.zeros((len(self.need) + 1,) * 2)
        pieces = self.pieces[patterns]
        for p, x in zip(pieces, sets.tolist(), strict=True):
            items = np.unique(p)
            pairs[np.ix_(items, items)] += x
        np.fill_diagonal(pairs, 0.0)
        return pairs[:-1, :-1]

    def _broken(self, patterns: Ints, sets: Floats) -> list[Triple]:
        """Items of the rows that a point breaks, most broken first, no item in many of them."""
        pairs = self._pairs(patterns, sets) > _NEARLY
        threes = []
        for i in range(len(self.need)):
            near = i + 1 + np.flatnonzero(pairs[i, i + 1 :])
            first, second = _two_of(len(near))
            threes.append(np.stack([np.full(len(first), i), near[first], near[second]], axis=1))
        triples = np.concatenate(threes)
        held = self._held(patterns)
        sums = held[:, triples[:, 0]] + held[:, triples[:, 1]] + held[:, triples[:, 2]]
        over = (sets[:, None] * (sums // 2)).sum(axis=0) - self.need[triples].sum(axis=1) // 2
        times = np.zeros(len(self.need), dtype=np.int64)
        chosen: list[Triple] = []
        for t in np.argsort(-over, kind="stable"):
            if over[t] <= self.params.min_violation or len(chosen) == self.params.rows_a_round:
                break
            if times[triples[t]].max() < self.params.rows_an_item:
                times[triples[t]] += 1
                i, j, k = triples[t].tolist()
                chosen.append((i, j, k))
        return chosen

    def _split(
        self,
        patterns: Ints,
        sets: Floats,
        keep: Ints,
        taken: tuple[_Row, ...],
        common: tuple[_Row, ...],
    ) -> list[_Branch]:
        """Two branches on the sets that hold two items, else on the sets of one pattern."""
        pairs = self._pairs(patterns, sets)
        apart = np.abs(pairs - np.floor(pairs) - 0.5)
        i, j = np.unravel_index(int(apart.argmin()), apart.shape)
        if apart[i, j] < 0.5 - _NEARLY:
            items = [int(i), int(j)]
            both = (self.pieces == i).any(axis=1) & (self.pieces == j).any(axis=1)
            number = float(pairs[i, j])
        else:
            p = int(np.abs(sets - np.floor(sets) - 0.5).argmin())
            items = [k for k, _ in self.patterns[patterns[p]]]
            both = np.zeros(len(self.patterns), dtype=bool)
            both[patterns[p]] = True
            number = float(sets[p])
        here = np.flatnonzero(both)
        few, many = floor(number), ceil(number)
        fewer = more = taken
        low = high = keep
        if few == 0:
            low = keep[~both[keep]]
        else:
            fewer = (*taken, self._row(here, np.ones_like(here), few))
        # An item that is needed as often as these patterns are used stands once in each of them,
        # and in no other.
        full = [k for k in items if self.need[k] == many]
        for k in full:
            held = (self.pieces[high] == k).sum(axis=1)
            high = high[(held == 0) | (both[high] & (held == 1))]
        if not full:
            more = (*taken, self._row(here, -np.ones_like(here), -many))
        return [
            _Branch(keep=low, taken=fewer, common=common),
            _Branch(keep=high, taken=more, common=common),
        ]


def halved_rows(pieces: Ints, need: Ints, items: Triple) -> tuple[Ints, Ints, int]:
    """Return half of three items' rows, rounded down: patterns with a weight, weights, the limit.

    Parameters
    ----------
    pieces
        Items of each pattern, one place a piece, shape (patterns, pieces).
    need
        Pieces needed of each item.
    """
    i, j, k = items
    held = ((pieces == i) | (pieces == j) | (pieces == k)).sum(axis=1)
    patterns = np.flatnonzero(held >= 2)
    return patterns, held[patterns] // 2, int(need[list(items)].sum()) // 2


@cache
def _two_of(n: int) -> tuple[Ints, Ints]:
    first, second = np.triu_indices(n, 1)
    return first, second
