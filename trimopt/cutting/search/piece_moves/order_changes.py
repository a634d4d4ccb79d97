"""What one order can make more or less of, and what that does to its loss."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from math import inf, isfinite

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.convexified.order_production import production_counts
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.loss import LossTable
from trimopt.cutting.model.products import product
from trimopt.cutting.params import EngineParams

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Changes:
    """Ways to change one order: pieces more of each of its options, shape (ways, options).

    `loss` is what each adds to the loss without the cost of sets, in sets of the dearest class;
    `needs` the sets that it needs more of each class, shape (ways, classes).
    """

    order: int
    pieces: Ints
    loss: Floats
    needs: Floats

    def chosen(self, ways: Ints) -> Changes:
        """Return some of the changes."""
        return Changes(
            order=self.order,
            pieces=self.pieces[ways],
            loss=self.loss[ways],
            needs=self.needs[ways],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Known:
    """Changes worth drawing from: none at all, then `few` of a few pieces, then whole choices.

    `score` has by what to draw each of those that change something: the least first.
    """

    changes: Changes
    score: Floats
    few: int


class OrderMoves:
    """One demand and its options; losses are in sets of the dearest class (`unit`).

    Parameters
    ----------
    instance, place, options
        The run, and the places of the demand and of its options in it.
    wanted
        Pieces of each option at an optimum of the linear program, in fractions.
    prices, needs
        What a piece of each option is worth at the prices of the run, in sets of the dearest class,
        and the sets that it needs of each class, shape (options, classes).
    unit
        A set of the dearest class in units of loss.
    """

    def __init__(
        self,
        instance: Instance,
        place: int,
        options: Sequence[int],
        *,
        wanted: Floats,
        prices: Floats,
        needs: Floats,
        unit: float,
        params: EngineParams,
    ) -> None:
        self.params, self.max_ways = params.piece_moves, params.convexified.max_ways
        self.place, self.options, self.unit = place, tuple(options), unit
        self.demand = instance.demands[place]
        self.table = LossTable.one(self.demand, np.float64)
        some = [instance.options[k] for k in options]
        self.classes = np.array([option.winding_class for option in some], dtype=np.int64)
        self.gains = np.array([option.gain for option in some], dtype=np.float64)
        self.worths = np.array([option.worth for option in some], dtype=np.float64)
        self.wanted, self.prices, self.needs = wanted, prices, needs
        self._now = b""
        self._known: dict[bytes, _Known] = {}

    def loss(self, pieces: Ints) -> Floats:
        """Loss of the demand at pieces of its options, shape (…, options); infinite where short."""
        gains, worths = product(pieces, self.gains), product(pieces, self.worths)
        return self.table.loss_or_short(gains, worths) / self.unit

    @cached_property
    def choices(self) -> tuple[Ints, Floats]:
        """Pieces of each option near the wanted ones, shape (…, options), and by what to draw them.

        What is near the optimum of the linear program in all its orders fits its patterns.
        """
        every = production_counts(self.demand, self.gains.astype(np.int64), self.max_ways)
        if not len(every):
            every = self._around()
        score = self.loss(every) + product(every, self.prices)
        score += self.params.per_piece * np.abs(every - self.wanted).sum(axis=1)
        best = np.argsort(score, kind="stable")[: self.params.choices_kept]
        best = best[score[best] <= score[best[0]] + self.params.max_regret]
        return every[best], score[best]

    def _around(self) -> Ints:
        """Whole pieces around the wanted ones, where there are too many ways to try them all."""
        near = np.round(self.wanted).astype(np.int64)
        cheap = self.prices / np.maximum(1.0, self.worths)
        rank = np.where(self.wanted > 0, -np.inf, cheap)
        kinds = np.argsort(rank, kind="stable")[: self.params.max_options]
        more = 1
        while True:
            ways = near + self._spread(kinds)
            ways = ways[(ways >= 0).all(axis=1)]
            ways = ways[np.isfinite(self.loss(ways))]
            if len(ways):
                return ways
            near[kinds] += more
            more *= 2

    def _spread(self, kinds: Ints) -> Ints:
        """Changes of a few pieces of some options, shape (…, options)."""
        steps = _steps(len(kinds), 3 if len(kinds) <= self.params.few_options else 2)
        change = np.zeros((len(steps), len(self.options)), dtype=np.int64)
        change[:, kinds] = steps
        return change

    def changes(self, pieces: Ints, classes: Collection[int], rng: np.random.Generator) -> Changes:
        """Draw changes in some classes, mostly those that lose least at the prices of the run.

        Most change a piece or three, some go over to another of the whole choices.

        Parameters
        ----------
        rng
            Draws among those that lose nearly the same.
        """
        now = pieces.tobytes()
        if now != self._now:
            self._now, self._known = now, {}
        free = np.array([c in classes for c in self.classes.tolist()])
        known = self._known.get(free.tobytes())
        if known is None:
            known = self._known[free.tobytes()] = self._worth_drawing(pieces, free)
        drawn = known.score + self.params.order_shuffle * rng.exponential(size=len(known.score))
        few = drawn[: known.few].argsort(kind="stable")[: self.params.changes]
        whole = known.few + drawn[known.few :].argsort(kind="stable")[: self.params.choices_offered]
        return known.changes.chosen(np.concatenate([[0], 1 + few, 1 + whole]))

    def _worth_drawing(self, pieces: Ints, free: NDArray[np.bool_]) -> _Known:
        few, few_score = self._few(pieces, np.flatnonzero(free))
        choices, score = self.choices
        whole = choices - pieces
        seen = {change.tobytes() for change in few}
        new = ~whole[:, ~free].any(axis=1) & whole.any(axis=1)
        new &= np.array([change.tobytes() not in seen for change in whole])
        none = np.zeros((1, len(pieces)), dtype=np.int64)
        change = np.concatenate([none, few, whole[new]])
        before = float(self.loss(pieces))
        changes = Changes(
            order=self.place,
            pieces=change,
            loss=self.loss(pieces + change) - (before if isfinite(before) else 0.0),
            needs=product(change, self.needs),
        )
        score = np.concatenate([few_score, score[new]])
        return _Known(changes=changes, score=score, few=len(few))

    def _few(self, pieces: Ints, free: Ints) -> tuple[Ints, Floats]:
        """Changes of a few pieces, and by what to draw them.

        They are of options in use first, then of those that cost least.
        """
        cheap = self.prices[free] / np.maximum(1.0, self.worths[free])
        rank = np.where(pieces[free] > 0, -np.inf, cheap)
        change = self._spread(free[np.argsort(rank, kind="stable")[: self.params.max_options]])
        change = change[(pieces + change >= 0).all(axis=1) & change.any(axis=1)]
        regret = self.loss(pieces + change) + product(change, self.prices)
        near = np.flatnonzero(regret <= regret.min(initial=inf) + self.params.max_regret)
        score = regret[near] + self.params.per_piece * np.abs(change[near]).sum(axis=1)
        best = score.argsort(kind="stable")[: self.params.few_kept]
        return change[near[best]], score[best]


@cache
def _steps(kinds: int, max_pieces: int) -> Ints:
    """All changes of at most so many pieces in all, shape (ways, kinds)."""
    units = np.concatenate([np.eye(kinds, dtype=np.int64), -np.eye(kinds, dtype=np.int64)])
    reached = np.zeros((1, kinds), dtype=np.int64)
    for _ in range(max_pieces):
        grown = (reached[:, None] + units[None]).reshape(-1, kinds)
        reached = np.unique(np.concatenate([reached, grown]), axis=0)
    return reached
