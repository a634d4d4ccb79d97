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
from random import Random

from trimopt.budget import Budget, SearchEnded
from trimopt.winding.jumbos.jumbo_ends import METRE, JumboEnds, MetreWorth
from trimopt.winding.jumbos.laying import LengthBlock
from trimopt.winding.model import JumboSupply

__all__ = ["WORK", "JumboOrder", "order_blocks"]

_ALL = 5  # so many blocks are tried in every order
_KEPT = 12  # good orders to give back

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
    search = _Search(
        _Along(blocks, supply, worth, budget or Budget(max_work=WORK)),
        levels=levels,
        extra=extra,
        tries=tries,
        seed=seed,
    )
    with suppress(SearchEnded):
        search.run([tuple(start) for start in starts] or [tuple(range(len(blocks)))])
    return search.best()


class _Along:
    """Least cost along the jumbos of a running order, in metres lost."""

    def __init__(
        self,
        blocks: Sequence[LengthBlock],
        supply: JumboSupply,
        worth: Sequence[MetreWorth],
        budget: Budget,
    ) -> None:
        self.blocks = blocks
        self.budget = budget
        shortest = min(supply.usable_m)
        longest = sum(block.sets * block.max_m for block in blocks)
        sets = sum(block.sets for block in blocks)
        jumbos = min(sets, 2 * longest // max(1, shortest) + 2) + len(supply.stock)
        self.usable_m = [jumbo.usable_m for jumbo in supply.first(jumbos)]
        self.ends = JumboEnds(blocks, worth)
        self.wound_m = sum(block.sets * block.length_m for block in blocks)
        self.base = sum(w.below * b.sets * b.length_m for b, w in zip(blocks, worth, strict=True))

    def cost_m(self, order: Sequence[int]) -> float:
        """Metres of jumbo lost, all sets at their classes' lengths losing nothing."""
        ends = self.ends.best(order, self.usable_m, self.budget, fewest_jumbos=True)
        return float("inf") if ends is None else (ends.cost + self.base) / METRE - self.wound_m


class _Search:
    """Shifts, swaps and turns parts of orders; keeps the best it meets."""

    def __init__(
        self,
        along: _Along,
        *,
        levels: Sequence[int],
        extra: Extra | None,
        tries: int,
        seed: int,
    ) -> None:
        self.count = len(along.blocks)
        self.along = along
        self.levels = levels
        self.extra = extra
        self.tries = tries
        self.draw = Random(seed)
        self.known: dict[tuple[int, ...], JumboOrder] = {}

    def best(self) -> tuple[JumboOrder, ...]:
        """The best orders met, best first."""
        ranked = sorted(self.known.values(), key=lambda found: (found.cost_m, found.order))
        return tuple(ranked[:_KEPT])

    def allowed(self, order: Sequence[int]) -> bool:
        """Whether no block runs before one of a lower level."""
        levels = self.levels
        return not levels or all(levels[a] <= levels[b] for a, b in pairwise(order))

    def look(self, order: tuple[int, ...]) -> JumboOrder:
        """What an order costs."""
        if order not in self.known:
            self.known[order] = JumboOrder(
                order=order,
                along_m=self.along.cost_m(order),
                extra_m=self.extra(order) if self.extra is not None else 0.0,
            )
        return self.known[order]

    def run(self, starts: Sequence[tuple[int, ...]]) -> None:
        """Search from the starts; where nothing more helps, from a shaken best."""
        if self.count <= _ALL:
            for order in permutations(range(self.count)):
                if self.allowed(order):
                    self.look(order)
            return
        for start in starts:
            self.look(start)
        share = max(1, self.tries // (2 * len(starts)))
        for number, start in enumerate(starts, start=1):
            self._improve(start, number * share)
        while len(self.known) < self.tries:
            before = len(self.known)
            best = self.best()
            self._improve(self._shaken(best[self.draw.randrange(min(3, len(best)))].order), None)
            if len(self.known) == before:
                break

    def _improve(self, order: tuple[int, ...], until: int | None) -> None:
        here = self.look(order)
        limit = self.tries if until is None else until
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
