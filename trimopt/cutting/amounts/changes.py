"""What one order can make more or less of, and what that does to its loss."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.demand_loss import demand_loss
from trimopt.cutting.instance import Instance
from trimopt.cutting.master import Point

__all__ = ["Changes", "Order"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_KINDS_MOST, _KINDS_FEW = 8, 5  # options changed at once; few of them by one piece more
_FAR = 0.3  # of a set: a change that is so much worse than the best is not offered
_SHUFFLE = 0.02  # of a set: by how much the order of the changes is shuffled


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
        self, instance: Instance, place: int, options: list[int], point: Point, unit: float
    ) -> None:
        self.place, self.options, self.unit = place, options, unit
        self.demand = instance.demands[place]
        some = [instance.options[k] for k in options]
        self.classes = np.array([option.winding_class for option in some], dtype=np.int64)
        self.gains = np.array([option.gain for option in some], dtype=np.float64)
        self.worths = np.array([option.worth for option in some], dtype=np.float64)
        prices = point.gain_price[place] * self.gains + point.worth_price[place] * self.worths
        self.prices: Floats = prices / unit

    def loss(self, pieces: Ints) -> Floats:
        """Loss of the demand at pieces of its options, shape (…, options); infinite where short."""
        loss = demand_loss(self.demand, pieces @ self.gains, pieces @ self.worths)
        return loss / self.unit

    def changes(
        self, pieces: Ints, classes: tuple[int, ...], most: int, rng: np.random.Generator
    ) -> Changes:
        """Draw changes in some classes, mostly those that lose least at the prices of the run.

        Parameters
        ----------
        pieces
            Of each option, now.
        classes
            Where pieces may change.
        most
            How many to give, the one that changes nothing not counted.
        rng
            Draws among those that lose nearly the same.
        """
        free = np.flatnonzero(np.isin(self.classes, classes))
        dear = self.prices[free] / np.maximum(1.0, self.worths[free])
        spread = 0.02 * float(np.abs(dear).max(initial=0.0)) * rng.random(len(free))
        # Options in use first, then those whose pieces cost least for what they are worth.
        rank = np.where(pieces[free] > 0, -np.inf, dear + spread)
        kinds = free[np.argsort(rank, kind="stable")[:_KINDS_MOST]]
        steps = _steps(len(kinds), 3 if len(kinds) <= _KINDS_FEW else 2)
        steps = steps[(pieces[kinds] + steps >= 0).all(axis=1)]
        change = np.zeros((len(steps), len(self.options)), dtype=np.int64)
        change[:, kinds] = steps
        loss = self.loss(pieces + change)
        regret = loss + change @ self.prices
        near = np.flatnonzero(regret <= regret.min() + _FAR)
        if len(near) > most:
            drawn = regret[near] + _SHUFFLE * rng.exponential(size=len(near))
            near = near[np.argsort(drawn, kind="stable")[:most]]
        chosen = np.union1d(near, np.flatnonzero(~change.any(axis=1)))
        now = float(self.loss(pieces))
        return Changes(order=self.place, pieces=change[chosen], loss=loss[chosen] - now)


@cache
def _steps(kinds: int, most: int) -> Ints:
    """All changes of at most so many pieces in all, shape (ways, kinds)."""
    units = np.concatenate([np.eye(kinds, dtype=np.int64), -np.eye(kinds, dtype=np.int64)])
    reached = np.zeros((1, kinds), dtype=np.int64)
    for _ in range(most):
        grown = (reached[:, None] + units[None]).reshape(-1, kinds)
        reached = np.unique(np.concatenate([reached, grown]), axis=0)
    return reached
