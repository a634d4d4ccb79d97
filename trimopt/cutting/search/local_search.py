"""Local search on whole sets: take some out, put the best patterns of a large pool in.

The change of the loss that each pattern of the pool would make is found for all of them at once,
and for the few plans that are followed up (`search/pool_changes.py`): some ten million patterns a
second are tried.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.search.pool_changes import PoolChanges
from trimopt.cutting.search.search_state import Search

Floats = NDArray[np.float64]

# For each plan followed up in an exchange, and for each atom of the pool.
_ROUND_WORK, _ATOM_WORK = 63_000, 5
_ROUNDING = 1e-6  # of a set: far above what floats err by in a loss
_MAX_KNOWN = 4_000  # answers kept: a few megabytes where plans are large


@dataclass(slots=True)
class _State:
    """A plan as sets by place in the pool, what it makes of each demand, and its loss."""

    count: dict[int, int]
    made: Floats
    worth: Floats
    loss: float = 0.0


class LocalSearch:
    """A plan over a pool of patterns, and the moves on it."""

    def __init__(self, search: Search, pool: Sequence[Pattern], seed: int) -> None:
        self.search = search
        self.params = search.params.local_search
        self.rng = random.Random(seed)
        patterns = (*pool, *(cut.pattern for cut in search.cuts))
        self.pool = PoolChanges(search.instance, patterns, search.set_up)
        # What is put in hangs on the sets that are left alone, and a small run soon has seen most
        # of those that there are: by them, how many go in, and how many of the first at once.
        self._known: dict[tuple[frozenset[tuple[int, int]], int, int], tuple[list[int], float]] = {}
        self._known_of = (0, False, 0.0)  # the pool and the prices that the answers are for

    def price_patterns(self, set_up: float) -> None:
        """Begin anew without a plan, with another price of each pattern."""
        self.search.price_patterns(set_up)
        self.pool.price_patterns(set_up)

    def run(
        self,
        rounds: int,
        start: Mapping[Pattern, int] | None = None,
        *,
        heat: float | None = None,
        whole: bool = False,
    ) -> tuple[float, dict[Pattern, int]]:
        """Take sets out and put the best in, `rounds` times; the best plan goes to the search.

        Gives the best plan of this run, and its loss with a price on what it lacks.

        Parameters
        ----------
        start
            Sets to begin from, to which the best are added; the search's plan where not given.
        heat
            A worse plan is kept with a chance that falls with its loss; this share of a set's
            cost is the scale of that fall at first, and it sinks to nothing. None: that of the
            parameters.
        whole
            Whether an order that lacks anything costs a set, however little it lacks.
        """
        self.pool.price_lacks(whole=whole)
        heat = self.params.heat if heat is None else heat
        now = self._begun(start)
        if self._known_of != (of := (len(self.pool.patterns), whole, self.search.set_up)):
            self._known, self._known_of = {}, of
        best, plan = now.loss, dict(now.count)
        self._keep(best, plan)
        hottest = heat * float(self.pool.cost.mean()) if rounds else 0.0
        for turn in range(rounds):
            warm = hottest * (1 - turn / rounds) ** 2
            out, put, loss = self._exchange(now)
            limit = now.loss - warm * log(max(1e-12, self.rng.random()))
            if put is not None and loss <= limit:
                for p in out:
                    self._put(now, p, -1)
                for p in put:
                    self._put(now, p, 1)
                now.loss = loss
                if now.loss < best - 0.5:
                    best, plan = now.loss, dict(now.count)
                    self._keep(best, plan)
            if turn % 32 == 31:
                work = _ROUND_WORK + _ATOM_WORK * self.pool.size
                self.search.budget.spend(32 * self.params.beam * work)
        return best, self._patterns(plan)

    def _begun(self, start: Mapping[Pattern, int] | None) -> _State:
        """The plan from which a run begins: sets that are given, and the best ones put in."""
        if start is None:
            start = {cut.pattern: cut.sets for cut in self.search.cuts}
        self.pool.add(pattern for pattern, n in start.items() if n)
        number = len(self.search.instance.demands)
        now = _State({}, np.zeros(number), np.zeros(number))
        for pattern, n in start.items():
            if n:
                self._put(now, self.pool.place[pattern], n)
        self._complete(now)
        return now

    def _exchange(self, now: _State) -> tuple[list[int], list[int] | None, float]:
        """Take sets out and seek the best ones to put in.

        Gives those taken out, those to put in, None where they are the same, and the loss with
        them. The plan stays as it is.
        """
        out, first = self._whole(now.count)
        room = self.params.sets_after if out else 0
        if not out:
            out = self._out(now.count)
            room = len(out)
        left = dict(now.count)
        for p in out:
            left[p] -= 1
        key = frozenset([each for each in left.items() if each[1]]), room, first
        known = self._known.get(key)
        if known is None:
            after = _State(dict(now.count), now.made.copy(), now.worth.copy())
            for p in out:
                self._put(after, p, -1)
            if len(self._known) >= _MAX_KNOWN:
                self._known.clear()
            known = self._known[key] = self._in(after, room, first=first)
        put, loss = known
        return out, None if sorted(put) == sorted(out) else put, loss

    def _put(self, state: _State, p: int, sets: int) -> None:
        """Put sets of a pattern into a plan, or take some out; its loss stays as it is."""
        state.made += sets * self.pool.made[p]
        state.worth += sets * self.pool.worth[p]
        number = state.count.get(p, 0) + sets
        if number:
            state.count[p] = number
        else:
            del state.count[p]

    def _keep(self, loss: float, count: Mapping[int, int]) -> None:
        """Offer a plan to the search, where it may be better than the search's."""
        known = self.search.loss
        if known is None or loss < known + _ROUNDING * self.pool.dearest:
            self.search.take(self._patterns(count), "exchange")

    def _patterns(self, count: Mapping[int, int]) -> dict[Pattern, int]:
        return {self.pool.patterns[p]: n for p, n in count.items()}

    def _complete(self, state: _State) -> None:
        """Put in the best set as long as one makes the loss less."""
        while True:
            put, state.loss = self._in(state, 0)
            if not put:
                return
            self._put(state, put[0], 1)

    def _of_sets(self, count: Mapping[int, int]) -> float:
        """Loss of the sets of a plan and, where they have a price, of its patterns."""
        costs = self.pool.costs
        return sum([costs[p] * n for p, n in count.items()]) + self.search.set_up * len(count)

    def _out(self, count: dict[int, int]) -> list[int]:
        """Sets to take out: one to three, of any patterns of the plan."""
        places = sorted(count)
        left = dict(count)
        out = []
        for _ in range(self.rng.choice((1, 2, 2, 3)) if places else 0):
            p = self.rng.choice(places)
            if left[p]:
                left[p] -= 1
                out.append(p)
        return out

    def _whole(self, count: dict[int, int]) -> tuple[list[int], int]:
        """Now and then, where patterns have a price: every set of one or two of them.

        As many sets of one pattern as one of them had are then put in at once.
        """
        if (
            not self.search.set_up
            or not count
            or self.rng.random() >= self.params.whole_pattern_share
        ):
            return [], 1
        places = sorted(count)
        p, q = self.rng.choice(places), self.rng.choice(places)
        return [k for k in {p, q} for _ in range(count[k])], count[p]

    def _in(self, state: _State, max_sets: int, *, first: int = 1) -> tuple[list[int], float]:
        """Sets to put in: the best found by following the most promising first ones.

        The first pattern is put in with `first` sets at once, those that follow one by one. Gives
        the loss with them, too.
        """
        made, worth = state.made[None], state.worth[None]
        beam: list[list[int]] = [[]]
        totals = np.zeros(1)
        best: list[int] = []
        base = least = 0.0
        # Beam search: the change by a set of every pattern of the pool at once, for each plan that
        # is followed up; the best few go on, until one set more makes nothing better.
        for depth in range(max_sets + 1):
            sets = 1 if depth else first
            whole, changes = self.pool.of_sets(made, worth, sets)
            if not depth:
                base = float(whole[0]) + self._of_sets(state.count)
            if self.search.set_up:
                changes += self.search.set_up
                for row, put in enumerate(beam):
                    changes[row, [*state.count, *put]] -= self.search.set_up
            changes += totals[:, None]
            grown = _least(changes, 1 if depth >= max_sets - 1 else self.params.beam)
            change, row, p = min(grown)
            if depth and change >= least:
                break
            if change < least:
                best, least = [*beam[row], *[p] * sets], change
            if depth == max_sets:
                break
            beam = [[*beam[row], *[p] * sets] for _, row, p in grown]
            totals, rows, places = (np.array(each) for each in zip(*grown, strict=True))
            made = made.take(rows, axis=0) + sets * self.pool.made.take(places, axis=0)
            worth = worth.take(rows, axis=0) + sets * self.pool.worth.take(places, axis=0)
        return best, base + least


def _least(changes: Floats, keep: int) -> list[tuple[float, int, int]]:
    """(change, row, column) of the least of each row, or of so many of all; they are used up."""
    if keep == 1:
        columns = changes.argmin(axis=1)
        return [(float(changes[row, p]), row, int(p)) for row, p in enumerate(columns)]
    flat = changes.ravel()
    found = []
    for _ in range(min(keep, len(flat))):
        place = int(flat.argmin())
        found.append((float(flat[place]), *divmod(place, changes.shape[1])))
        flat[place] = np.inf
    return found
