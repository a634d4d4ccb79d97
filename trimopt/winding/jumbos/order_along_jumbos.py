"""Which running order leaves the least on the jumbos, with knife moves in the balance.

All orders where blocks are few. Else walks from several starts shift, swap and turn parts of the
order, and keep what is no dearer. An order is judged by how far the sets on each jumbo, at the
lengths wanted, are from filling it (`trimopt.winding.jumbos.nominal_ends`); the best orders are
judged again with all lengths free and every order in its range
(`trimopt.winding.jumbos.metres_relaxation`).

What an order costs the crew is a caller's figure in metres of jumbo (knife moves between
neighbours, urgent work late), so that butts and knives can be traded; by default it only breaks
ties.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise, permutations
from random import Random

from trimopt.budget import Budget, SearchEnded
from trimopt.winding.jumbos.laying import Content
from trimopt.winding.jumbos.metres_relaxation import MetresRelaxation
from trimopt.winding.jumbos.nominal_ends import REACHES, NominalEnds
from trimopt.winding.jumbos.order_slack import LengthProblem

_ALL_ORDERS = 5  # so many blocks are tried in every order
_MAX_JUDGED = 12  # orders of a walk that are judged with all lengths free
_MAX_GIVEN = 12  # good orders to give back
_FEW = 8  # steps judged at once, after one that was taken

WORK = 4_000_000
"""Sets of the orders tried: a run of the week has a quarter; more sets take no more time."""

Extra = Callable[[Sequence[int]], float]
_Step = tuple[int, int, float]  # two places, and what is done with them


@dataclass(frozen=True, slots=True, kw_only=True)
class JumboOrder:
    """A running order (positions in the blocks given) and what it costs, in metres of jumbo.

    `contents` are the sets by block on each jumbo. `along_m` is the loss with the best lengths for
    them, whole or not; `extra_m` is the caller's figure.
    """

    order: tuple[int, ...]
    contents: tuple[Content, ...]
    along_m: float
    extra_m: float

    @property
    def cost_m(self) -> float:
        """Both together."""
        return self.along_m + self.extra_m


def order_blocks(
    problem: LengthProblem,
    *,
    starts: Sequence[Sequence[int]] = (),
    known: Sequence[Content] = (),
    levels: Sequence[int] = (),
    extra: Extra | None = None,
    tries: int = 4000,
    ways: int = len(REACHES),
    budget: Budget | None = None,
    seed: int = 0,
) -> tuple[JumboOrder, ...]:
    """Good running orders, best first; the first start is among those judged.

    Parameters
    ----------
    starts
        Orders to begin from; the order given is one.
    known
        Sets by block on each jumbo, in running order, which are judged too. Empty: none are known.
    levels
        For each block its level: none runs before one of a lower level. Empty: free.
    extra
        What an order costs besides, in metres of jumbo; never less than nothing.
    ways
        To judge orders: each has its part of the tries.
    budget
        Where it is over, no more are tried. Its work are the sets of the orders tried.
    seed
        The same input, seed and tries give the same orders.
    """
    if not problem.blocks:
        return ()
    search = _JumboOrders(problem, levels, extra, budget or Budget(), seed)
    with suppress(SearchEnded):
        given = tuple(dict.fromkeys(b for content in known for b, _ in content))
        if given and search.allowed(given):
            search.judge(given, known)
        search.run([tuple(start) for start in starts], tries, REACHES[:ways])
    return search.best()


class _JumboOrders:
    def __init__(
        self,
        problem: LengthProblem,
        levels: Sequence[int],
        extra: Extra | None,
        budget: Budget,
        seed: int,
    ) -> None:
        self.problem = problem
        self.count = len(problem.blocks)
        self.levels = levels
        self.extra_m = extra or (lambda _: 0.0)
        self.budget = budget
        self.draw = Random(seed)
        self.relaxed = MetresRelaxation(problem)
        self.judged: dict[tuple[int, ...], JumboOrder] = {}
        # Twice what the longest sets fill, if that many: enough for any order, butts and all.
        blocks, supply = problem.blocks, problem.supply
        longest_m = sum(block.sets * block.max_m for block in blocks)
        sets = sum(block.sets for block in blocks)
        enough = min(sets, 2 * longest_m // max(1, min(supply.usable_m)) + 2) + len(supply.stock)
        self.usable_m = [jumbo.usable_m for jumbo in supply.first(enough)]

    def best(self) -> tuple[JumboOrder, ...]:
        """The best orders judged, best first."""
        ranked = sorted(self.judged.values(), key=lambda found: (found.cost_m, found.order))
        return tuple(ranked[:_MAX_GIVEN])

    def allowed(self, order: Sequence[int]) -> bool:
        """Whether no block runs before one of a lower level."""
        levels = self.levels
        return not levels or all(levels[a] <= levels[b] for a, b in pairwise(order))

    def judge(self, order: tuple[int, ...], contents: Sequence[Content]) -> None:
        """Judge an order with all lengths free, for these ends."""
        found = JumboOrder(
            order=order,
            contents=tuple(contents),
            along_m=self.relaxed.loss_m(contents, self.usable_m),
            extra_m=self.extra_m(order),
        )
        if order not in self.judged or found.along_m < self.judged[order].along_m:
            self.judged[order] = found

    def run(
        self, starts: Sequence[tuple[int, ...]], tries: int, ways: Sequence[tuple[float, float]]
    ) -> None:
        """Every order of few blocks; else walks from the starts and from drawn orders.

        Each way to judge orders has its turn, and as many tries.
        """
        wanted_m = self.relaxed.free_lengths_m()
        every = []
        if self.count <= _ALL_ORDERS:
            every = [order for order in permutations(range(self.count)) if self.allowed(order)]
        for number, (bold, off) in enumerate(ways):
            ends = NominalEnds(self.problem, bold, off, wanted_m)
            if every:
                self.budget.spend(ends.count * len(every))
                ranked = sorted(zip(ends.costs_m(every).tolist(), every, strict=True))
                met = [order for _, order in ranked[:_MAX_JUDGED]]
            else:
                begin = starts[number] if number < len(starts) else self._drawn()
                met = self._walked(ends, begin, tries // len(ways))
                met = met[:1] + met[1:][-_MAX_JUDGED:]
            for order in met:
                contents = ends.contents(order)
                if contents is not None:
                    self.judge(order, contents)

    def _walked(
        self, ends: NominalEnds, order: tuple[int, ...], tries: int
    ) -> list[tuple[int, ...]]:
        """The orders of a walk that were better than all before, the first order first.

        Many steps from an order are judged at once; what comes after one that is taken, for naught.
        """
        here = least = float(ends.costs_m([order])[0]) + self.extra_m(order)
        better = [order]
        # Steps are drawn beforehand, so that the same orders are met however many are judged at a
        # time: few after one that was taken, more while none is.
        steps = [any_step(self.draw, self.count) for _ in range(tries)]
        done, at_once = 0, _FEW
        while done < tries:
            near = [stepped(order, step) for step in steps[done : done + at_once]]
            taken = None
            for each, cost in zip(near, ends.costs_m(near).tolist(), strict=True):
                self.budget.spend(ends.count)
                done += 1
                if cost <= here and self.allowed(each) and cost + self.extra_m(each) <= here:
                    taken = each, cost + self.extra_m(each)
                    break
            at_once = _FEW if taken else min(2 * at_once, ends.at_once)
            if taken:
                order, here = taken
                if here < least - 1e-9:
                    least = here
                    better.append(order)
        return better

    def _drawn(self) -> tuple[int, ...]:
        order = list(range(self.count))
        self.draw.shuffle(order)
        return tuple(sorted(order, key=lambda b: self.levels[b] if self.levels else 0))


def any_step(draw: Random, count: int) -> _Step:
    """A step drawn for an order of so many."""
    return draw.randrange(count), draw.randrange(count), draw.random()


def stepped(order: Sequence[int], step: _Step) -> tuple[int, ...]:
    """A block moved, two swapped, or a part turned round."""
    near = list(order)
    i, j, how = step
    if how < 0.5:
        near.insert(j, near.pop(i))
    elif how < 0.75:
        near[i], near[j] = near[j], near[i]
    else:
        i, j = min(i, j), max(i, j)
        near[i : j + 1] = reversed(near[i : j + 1])
    return tuple(near)
