"""Local search on whole sets: take some out, put the best patterns of a large pool in.

The change of the loss that each pattern of the pool would make to the present plan is found for
all of them at once. A pattern is a few *atoms* (demand, yield, worth); the change of each distinct
atom is computed once, and a pattern's is the sum over its atoms and the cost of its set. That is
about a tenth of a millisecond for some thousand patterns, so that exchanges can be tried by the
ten million a second.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.cuts import Pattern, yields_of
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.loss import LossTable
from trimopt.cutting.search.search_state import Search

__all__ = ["LocalSearch"]

Floats = NDArray[np.float64]

_ROUND_WORK, _ATOM_WORK = 120_000, 8  # of an exchange, and for each atom of the pool


@dataclass(frozen=True, slots=True)
class _Priced:
    """Figures of demands, with a price on each unit of yield short and on being short at all."""

    table: LossTable
    short: Floats
    lacking: float


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
        self.instance: Instance = search.instance
        self.params = search.params.local_search
        self.rng = random.Random(seed)
        self._build((*pool, *(cut.pattern for cut in search.cuts)))
        self.set_up = search.set_up
        self._weigh()

    def _weigh(self) -> None:
        """Ranges and prices of each demand, and of each atom's."""
        demands = self.instance.demands
        cost = SCALE * max([c.cost for c in self.instance.classes] + [1])
        gain = np.ones(len(demands))
        np.maximum.at(gain, self.atom_demand, self.atom_gain)
        # A piece short costs as much as half a set: always worth mending.
        short = cost / 2 / gain
        # Where patterns have a price, no shortage must buy one off.
        lacking = 2 * (self.set_up + cost)
        table = LossTable.of(demands, np.float64)
        self.demands = _Priced(table, short, lacking)
        self.of_atoms = _Priced(table.at(self.atom_demand), short[self.atom_demand], lacking)

    def _build(self, patterns: Iterable[Pattern]) -> None:
        """Atoms of each pattern, and of all patterns by their first, second … atom.

        The patterns with most atoms stand first, so that those with another atom are always the
        first so many.
        """
        self._known: dict[tuple[int, int, int], int] = {}
        held = [(pattern, self._atoms_of(pattern)) for pattern in dict.fromkeys(patterns)]
        held.sort(key=lambda each: -len(each[1]))
        self.pool = [pattern for pattern, _ in held]
        self.atoms = [np.array(some, dtype=np.int64) for _, some in held]
        self.depths = [
            np.array([some[depth] for _, some in held if len(some) > depth], dtype=np.int64)
            for depth in range(max((len(some) for _, some in held), default=0))
        ]
        self.cost = np.array([self._cost_of(pattern) for pattern in self.pool])
        self._number()

    def _atoms_of(self, pattern: Pattern) -> list[int]:
        known = self._known
        return [
            known.setdefault((i, gain, worth), len(known))
            for i, (gain, worth) in yields_of(self.instance, pattern).items()
        ]

    def _cost_of(self, pattern: Pattern) -> float:
        return float(SCALE * self.instance.classes[pattern.winding_class].cost)

    def _number(self) -> None:
        self.place = {pattern: p for p, pattern in enumerate(self.pool)}
        self.size = sum(len(depth) for depth in self.depths)
        keys = np.array([*self._known], dtype=np.int64).reshape(-1, 3)
        self.atom_demand = keys[:, 0]
        self.atom_gain, self.atom_worth = keys[:, 1].astype(float), keys[:, 2].astype(float)

    def _add(self, patterns: Iterable[Pattern]) -> None:
        """Take more patterns into the pool, each behind those with as many atoms."""
        for pattern in patterns:
            some = np.array(self._atoms_of(pattern), dtype=np.int64)
            while len(self.depths) < len(some):
                self.depths.append(np.zeros(0, dtype=np.int64))
            p = len(self.depths[len(some) - 1])
            for depth, atom in enumerate(some):
                self.depths[depth] = np.insert(self.depths[depth], p, atom)
            self.pool.insert(p, pattern)
            self.atoms.insert(p, some)
            self.cost = np.insert(self.cost, p, self._cost_of(pattern))
        self._number()
        self._weigh()

    def _parts(self, made: Floats, worth: Floats, priced: _Priced) -> Floats:
        """Loss of each demand at what it gets, with a price on what it lacks."""
        low = priced.table.low
        loss = priced.table.loss(made, worth)
        loss += priced.short * np.maximum(0.0, low - made)
        if self.set_up:
            loss += priced.lacking * (made < low)
        return loss

    def _changes(self, made: Floats, worth: Floats, held: Iterable[int], sets: int = 1) -> Floats:
        """Change of the loss by more sets of each pattern; those held are set up already."""
        i = self.atom_demand
        after = self._parts(
            made[i] + sets * self.atom_gain, worth[i] + sets * self.atom_worth, self.of_atoms
        )
        before = self._parts(made, worth, self.demands)
        atoms = after - before[i]
        changes: Floats = sets * self.cost
        for depth in self.depths:
            changes[: len(depth)] += atoms.take(depth)
        if self.set_up:
            changes += self.set_up
            changes[list(held)] -= self.set_up
        return changes

    def _move(self, made: Floats, worth: Floats, p: int, sets: int) -> None:
        """Put sets of a pattern in, or take some out."""
        atoms = self.atoms[p]
        i = self.atom_demand[atoms]
        made[i] += sets * self.atom_gain[atoms]
        worth[i] += sets * self.atom_worth[atoms]

    def run(
        self,
        rounds: int,
        start: Mapping[Pattern, int] | None = None,
        *,
        heat: float | None = None,
    ) -> tuple[float, dict[Pattern, int]]:
        """Take sets out and put the best in, `rounds` times; the best plan goes to the search.

        Gives the best plan of this run, and its loss with a price on what it lacks.

        Parameters
        ----------
        rounds
            How often.
        start
            Sets to begin from, to which the best are added; the search's plan where not given.
        heat
            A worse plan is kept with a chance that falls with its loss; this share of a set's
            cost is the scale of that fall at first, and it sinks to nothing. None: that of the
            parameters.
        """
        heat = self.params.heat if heat is None else heat
        now = self._begun(start)
        best, plan = now.loss, self._keep(now.count)
        for turn in range(rounds):
            warm = heat * float(self.cost.mean()) * (1 - turn / rounds) ** 2
            after, put = self._exchange(now)
            limit = now.loss - warm * log(max(1e-12, self.rng.random()))
            if put is not None and after.loss <= limit:
                now = after
                for p in put:
                    self._put(now, p, 1)
                if now.loss < best - 0.5:
                    best, plan = now.loss, self._keep(now.count)
            if turn % 32 == 31:
                work = _ROUND_WORK + _ATOM_WORK * self.size
                self.search.budget.spend(32 * self.params.beam * work)
        return best, plan

    def _begun(self, start: Mapping[Pattern, int] | None) -> _State:
        """The plan from which a run begins: sets that are given, and the best ones put in."""
        if start is None:
            start = {cut.pattern: cut.sets for cut in self.search.cuts}
        new = [pattern for pattern, n in start.items() if n and pattern not in self.place]
        if new:
            self._add(new)
        now = _State({}, np.zeros(len(self.instance.demands)), np.zeros(len(self.instance.demands)))
        for pattern, n in start.items():
            if n:
                self._put(now, self.place[pattern], n)
        self._complete(now)
        now.loss = self._total(now)
        return now

    def _exchange(self, now: _State) -> tuple[_State, list[int] | None]:
        """Take sets out and seek the best ones to put in.

        Gives the plan without those taken out, its loss that of the plan with the others put in,
        and these others; None where they are the same.
        """
        out, first = self._whole(now.count)
        room = self.params.sets_after if out else 0
        if not out:
            out = self._out(now.count)
            room = len(out)
        after = _State(dict(now.count), now.made.copy(), now.worth.copy())
        for p in out:
            self._put(after, p, -1)
        put, change = self._in(after, room, first=first)
        before = self._parts(now.made, now.worth, self.demands).sum()
        between = self._parts(after.made, after.worth, self.demands).sum()
        loss = now.loss - self.cost[out].sum() + between - before + change
        after.loss = float(loss - self.set_up * (len(now.count) - len(after.count)))
        return after, None if sorted(put) == sorted(out) else put

    def _put(self, state: _State, p: int, sets: int) -> None:
        """Put sets of a pattern into a plan, or take some out; its loss stays as it is."""
        self._move(state.made, state.worth, p, sets)
        number = state.count.get(p, 0) + sets
        if number:
            state.count[p] = number
        else:
            del state.count[p]

    def _keep(self, count: Mapping[int, int]) -> dict[Pattern, int]:
        plan = {self.pool[p]: n for p, n in count.items()}
        self.search.take(plan, "exchange")
        return plan

    def _complete(self, state: _State) -> None:
        """Put in the best set as long as one makes the loss less."""
        while True:
            changes = self._changes(state.made, state.worth, state.count)
            p = int(changes.argmin())
            if changes[p] >= 0:
                return
            self._put(state, p, 1)

    def _total(self, state: _State) -> float:
        sets = sum(self.cost[p] * n for p, n in state.count.items())
        patterns = self.set_up * len(state.count)
        return float(sets + patterns + self._parts(state.made, state.worth, self.demands).sum())

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
        if not self.set_up or not count or self.rng.random() >= self.params.whole_pattern_share:
            return [], 1
        places = sorted(count)
        p, q = self.rng.choice(places), self.rng.choice(places)
        return [k for k in {p, q} for _ in range(count[k])], count[p]

    def _in(self, state: _State, most: int, *, first: int = 1) -> tuple[list[int], float]:
        """Sets to put in: the best found by following the most promising first ones.

        The first pattern is put in with `first` sets at once, those that follow one by one.
        """
        width = self.params.beam
        beam: list[tuple[float, list[int]]] = [(0.0, [])]
        best: tuple[float, list[int]] = (0.0, [])
        for depth in range(most + 1):
            grown: list[tuple[float, list[int]]] = []
            for change, put in beam:
                here_made, here_worth = state.made.copy(), state.worth.copy()
                for p in put:
                    self._move(here_made, here_worth, p, 1)
                sets = 1 if depth else first
                changes = self._changes(here_made, here_worth, {*state.count, *put}, sets)
                keep = 1 if depth >= most - 1 else width
                if keep == 1:
                    tops = np.array([changes.argmin()])
                elif keep < len(changes):
                    tops = np.argpartition(changes, keep)[:keep]
                else:
                    tops = np.arange(len(changes))
                grown += [(change + float(changes[p]), [*put, *[int(p)] * sets]) for p in tops]
            grown.sort(key=lambda item: item[0])
            if depth and grown[0][0] >= best[0]:
                break
            if grown[0][0] < best[0]:
                best = grown[0]
            beam = grown[:width]
        return best[1], best[0]
