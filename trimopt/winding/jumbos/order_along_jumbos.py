"""Which running order leaves the least on the jumbos, with knife moves in the balance.

For one running order the program of jumbo ends (`trimopt.winding.jumbos.jumbo_ends`) gives the
least cost along the jumbo, set lengths in range. Here the order is searched: all orders where
blocks are few, else blocks are shifted, swapped and turned round, from several starts, best first.
What an order costs the crew is a caller's figure in metres of jumbo (knife moves between
neighbours, urgent work late), so that butts and knives can be traded; by default it only breaks
ties.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise, permutations
from math import inf
from random import Random

from trimopt.budget import Budget, SearchEnded
from trimopt.winding.jumbos.jumbo_ends import METRE, JumboEnds, MetreWorth
from trimopt.winding.jumbos.laying import LengthBlock
from trimopt.winding.model import JumboSupply

__all__ = ["WORK", "JumboOrder", "order_blocks"]

_ALL_ORDERS = 5  # so many blocks are tried in every order
_MAX_GIVEN = 12  # good orders to give back

WORK = 2_000_000
"""Ends of jumbos gone on from: a week has a tenth of it, and more sets take no more time."""

Extra = Callable[[Sequence[int]], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class JumboOrder:
    """A running order (positions in the blocks given) and what it costs, in metres of jumbo.

    `along_m` is butts and what moved lengths lose, as far as orders do not tie lengths together;
    `extra_m` is the caller's figure.
    """

    order: tuple[int, ...]
    along_m: float
    extra_m: float

    @property
    def cost_m(self) -> float:
        """Both together."""
        return self.along_m + self.extra_m


def order_blocks(
    blocks: Sequence[LengthBlock],
    supply: JumboSupply,
    *,
    worth: Sequence[MetreWorth],
    starts: Sequence[Sequence[int]] = (),
    levels: Sequence[int] = (),
    extra: Extra | None = None,
    tries: int = 2500,
    budget: Budget | None = None,
    seed: int = 0,
) -> tuple[JumboOrder, ...]:
    """Good running orders, best first; the first start is among them.

    Parameters
    ----------
    blocks
        Blocks in any order.
    supply
        The jumbos, in the order they are opened.
    worth
        What a metre on each block is worth; metres of jumbo that are not worth anything are lost.
    starts
        Orders to begin from; the order given is one.
    levels
        For each block its level: none runs before one of a lower level. Empty: free.
    extra
        What an order costs besides, in metres of jumbo.
    tries
        How many orders to try at most.
    budget
        Where it is over, no more are tried. Its work are ends of jumbos that are gone on from.
    seed
        The same input, seed and tries give the same orders.
    """
    if not blocks:
        return ()
    search = _JumboOrders(
        blocks,
        supply,
        worth,
        levels=levels,
        extra=extra,
        tries=tries,
        budget=budget or Budget(max_work=WORK),
        seed=seed,
    )
    with suppress(SearchEnded):
        search.run([tuple(start) for start in starts] or [tuple(range(len(blocks)))])
    return search.best()


class _JumboOrders:
    """Shifts, swaps and turns parts of orders; remembers all it meets."""

    def __init__(
        self,
        blocks: Sequence[LengthBlock],
        supply: JumboSupply,
        worth: Sequence[MetreWorth],
        *,
        levels: Sequence[int],
        extra: Extra | None,
        tries: int,
        budget: Budget,
        seed: int,
    ) -> None:
        self.count = len(blocks)
        self.levels = levels
        self.extra = extra
        self.max_tries = tries
        self.budget = budget
        self.draw = Random(seed)
        self.known: dict[tuple[int, ...], JumboOrder] = {}
        # Twice what the longest sets fill, if that many: enough for any order, butts and all.
        longest_m = sum(block.sets * block.max_m for block in blocks)
        sets = sum(block.sets for block in blocks)
        enough = min(sets, 2 * longest_m // max(1, min(supply.usable_m)) + 2) + len(supply.stock)
        self.usable_m = [jumbo.usable_m for jumbo in supply.first(enough)]
        self.ends = JumboEnds(blocks, worth)
        # Costs count from all sets at their classes' lengths, without a butt: that loses nothing.
        self.wound_m = sum(block.sets * block.length_m for block in blocks)
        self.valued = sum(w.below * b.sets * b.length_m for b, w in zip(blocks, worth, strict=True))

    def best(self) -> tuple[JumboOrder, ...]:
        """The best orders met, best first."""
        ranked = sorted(self.known.values(), key=lambda found: (found.cost_m, found.order))
        return tuple(ranked[:_MAX_GIVEN])

    def allowed(self, order: Sequence[int]) -> bool:
        """Whether no block runs before one of a lower level."""
        levels = self.levels
        return not levels or all(levels[a] <= levels[b] for a, b in pairwise(order))

    def look(self, order: tuple[int, ...]) -> JumboOrder:
        """What an order costs."""
        if order not in self.known:
            ends = self.ends.best(order, self.usable_m, self.budget, fewest_jumbos=True)
            self.known[order] = JumboOrder(
                order=order,
                along_m=inf if ends is None else (ends.cost + self.valued) / METRE - self.wound_m,
                extra_m=self.extra(order) if self.extra is not None else 0.0,
            )
        return self.known[order]

    def run(self, starts: Sequence[tuple[int, ...]]) -> None:
        """Search from the starts; where nothing more helps, from a shaken best."""
        if self.count <= _ALL_ORDERS:
            for order in permutations(range(self.count)):
                if self.allowed(order):
                    self.look(order)
            return
        for start in starts:
            self.look(start)
        share = max(1, self.max_tries // (2 * len(starts)))
        for number, start in enumerate(starts, start=1):
            self._improve(start, number * share)
        while len(self.known) < self.max_tries:
            before = len(self.known)
            best = self.best()
            shaken = self._shaken(best[self.draw.randrange(min(3, len(best)))].order)
            self._improve(shaken, self.max_tries)
            if len(self.known) == before:
                break

    def _improve(self, order: tuple[int, ...], limit: int) -> None:
        """Take the first order near by that costs less, until none does or `limit` are known."""
        here = self.look(order)
        while len(self.known) < limit:
            for near in self._near(here.order):
                found = self.look(near)
                if found.cost_m < here.cost_m - 1e-9:
                    here = found
                    break
                if len(self.known) >= limit:
                    return
            else:
                return

    def _near(self, order: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """Orders near by, in random turn."""
        changes = [("shift", i, j) for i in range(self.count) for j in range(self.count) if i != j]
        changes += [
            (how, i, j)
            for how in ("swap", "turn")
            for i in range(self.count)
            for j in range(i + 2, self.count)
        ]
        self.draw.shuffle(changes)
        for how, i, j in changes:
            near = list(order)
            if how == "shift":
                near.insert(j, near.pop(i))
            elif how == "swap":
                near[i], near[j] = near[j], near[i]
            else:
                near[i : j + 1] = reversed(near[i : j + 1])
            if self.allowed(near):
                yield tuple(near)

    def _shaken(self, order: tuple[int, ...]) -> tuple[int, ...]:
        for _ in range(50):
            near = list(order)
            for _ in range(3):
                near.insert(
                    self.draw.randrange(self.count), near.pop(self.draw.randrange(self.count))
                )
            if self.allowed(near):
                return tuple(near)
        return order
