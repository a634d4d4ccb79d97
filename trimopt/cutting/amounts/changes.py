"""What one order can make more or less of, and what that does to its loss."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.demand_loss import demand_loss
from trimopt.cutting.hull.whole import counts_of_pieces
from trimopt.cutting.instance import Instance

__all__ = ["Changes", "Order"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_KINDS_MOST, _KINDS_FEW = 8, 5  # options changed at once; few of them by one piece more
_REGRET_MOST = 0.3  # of a set: a change that is so much worse than the best is not offered
_SHUFFLE = 0.02  # of a set: by how much the order of the changes is shuffled
# Whole choices of an order: the best of them kept, some offered, a piece of change counted as a
# loss of so much of a set, as it may not fit.
_CHOICES_KEPT, _CHOICES_OFFERED, _PER_PIECE = 300, 4, 0.003


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Changes:
    """Ways to change one order: pieces more of each of its options, shape (ways, options).

    `loss` is what each adds to the loss without the cost of sets, in sets of the dearest class.
    """

    order: int
    pieces: Ints
    loss: Floats


class Order:
    """One demand and its options; losses are in sets of the dearest class (`unit`)."""

    def __init__(
        self, instance: Instance, place: int, options: Sequence[int], values: Floats, unit: float
    ) -> None:
        self.place, self.options, self.unit = place, tuple(options), unit
        self.demand = instance.demands[place]
        some = [instance.options[k] for k in options]
        self.classes = np.array([option.winding_class for option in some], dtype=np.int64)
        self.gains = np.array([option.gain for option in some], dtype=np.float64)
        self.worths = np.array([option.worth for option in some], dtype=np.float64)
        self.prices: Floats = values[list(options)] / unit

    def loss(self, pieces: Ints) -> Floats:
        """Loss of the demand at pieces of its options, shape (…, options); infinite where short."""
        loss = demand_loss(self.demand, pieces @ self.gains, pieces @ self.worths)
        return loss / self.unit

    @cached_property
    def choices(self) -> Ints:
        """Pieces of each option that lose little at the prices of the run, shape (…, options).

        Empty where there are too many ways to try them all.
        """
        every = counts_of_pieces(self.demand, self.gains.astype(np.int64))
        loss = self.loss(every) + every @ self.prices
        best: Ints = every[np.argsort(loss, kind="stable")[:_CHOICES_KEPT]]
        return best

    def changes(
        self, pieces: Ints, classes: Sequence[int], most: int, rng: np.random.Generator
    ) -> Changes:
        """Draw changes in some classes, mostly those that lose least at the prices of the run.

        Most change a piece or three, some go over to another of the whole choices.

        Parameters
        ----------
        pieces
            Of each option, now.
        classes
            Where pieces may change.
        most
            How many of a few pieces to give, the one that changes nothing not counted.
        rng
            Draws among those that lose nearly the same.
        """
        free = np.isin(self.classes, classes)
        near = self._near(pieces, np.flatnonzero(free), rng)
        near = self._best(pieces, near, most, rng)
        far = self.choices - pieces
        far = far[~far[:, ~free].any(axis=1)]
        far = self._best(pieces, far, _CHOICES_OFFERED, rng, _PER_PIECE)
        none = np.zeros((1, len(pieces)), dtype=np.int64)
        change = np.unique(np.concatenate([none, near, far]), axis=0)
        loss = self.loss(pieces + change) - float(self.loss(pieces))
        return Changes(order=self.place, pieces=change, loss=loss)

    def _near(self, pieces: Ints, free: Ints, rng: np.random.Generator) -> Ints:
        """Changes of up to three pieces, in options in use first, then in those that cost least."""
        dear = self.prices[free] / np.maximum(1.0, self.worths[free])
        spread = 0.02 * float(np.abs(dear).max(initial=0.0)) * rng.random(len(free))
        rank = np.where(pieces[free] > 0, -np.inf, dear + spread)
        kinds = free[np.argsort(rank, kind="stable")[:_KINDS_MOST]]
        steps = _steps(len(kinds), 3 if len(kinds) <= _KINDS_FEW else 2)
        steps = steps[(pieces[kinds] + steps >= 0).all(axis=1)]
        change = np.zeros((len(steps), len(pieces)), dtype=np.int64)
        change[:, kinds] = steps
        return change

    def _best(
        self,
        pieces: Ints,
        change: Ints,
        most: int,
        rng: np.random.Generator,
        per_piece: float = 0.0,
    ) -> Ints:
        if not len(change):
            return change
        regret = self.loss(pieces + change) + change @ self.prices
        near = np.flatnonzero(regret <= regret.min() + _REGRET_MOST)
        if len(near) > most:
            drawn = regret[near] + per_piece * np.abs(change[near]).sum(axis=1)
            drawn = drawn + _SHUFFLE * rng.exponential(size=len(near))
            near = near[np.argsort(drawn, kind="stable")[:most]]
        best: Ints = change[near]
        return best


@cache
def _steps(kinds: int, most: int) -> Ints:
    """All changes of at most so many pieces in all, shape (ways, kinds)."""
    units = np.concatenate([np.eye(kinds, dtype=np.int64), -np.eye(kinds, dtype=np.int64)])
    reached = np.zeros((1, kinds), dtype=np.int64)
    for _ in range(most):
        grown = (reached[:, None] + units[None]).reshape(-1, kinds)
        reached = np.unique(np.concatenate([reached, grown]), axis=0)
    return reached
