"""Where each jumbo ends in a running order, with set lengths that may move: an exact program.

The sets stand in one order, so a plan is a choice of how many are wound off each jumbo. With the
metres of each block worth a given value, the best lengths on one jumbo are a fractional knapsack
(Dantzig 1957): all sets at their minimum, then metres to the block that values them most until the
jumbo is full. A dynamic program over (jumbo, sets wound so far) then finds the best ends of all
jumbos together.

Costs are whole numbers, `METRE` for a metre of jumbo. A jumbo that is finished costs its usable
length, the last one what is wound off it; a metre on a set gives back what it is worth.

References
----------
Dantzig (1957), "Discrete-variable extremum problems", Operations Research 5: the greedy fill.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trimopt.budget import Budget
from trimopt.winding.jumbos.laying import LengthBlock

METRE = 1_000_000_000

Content = tuple[tuple[int, int], ...]
"""(block, sets) of one jumbo, by block."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """The best ends: the cost, and for each jumbo its content and the metres of each block."""

    cost: int
    contents: tuple[Content, ...]
    metres: tuple[dict[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MetreWorth:
    """What a metre on a block is worth: up to its class's length, and beyond (no more)."""

    below: int
    beyond: int


PLAIN = MetreWorth(below=METRE + 1, beyond=METRE - 1)
"""Butts count, then metres off the class's length."""


def jumbo_ends(
    blocks: Sequence[LengthBlock],
    usable_m: Sequence[int],
    worth: Sequence[MetreWorth] = (),
    *,
    budget: Budget | None = None,
) -> Ends | None:
    """The ends of least cost for blocks in running order (`JumboEnds.best`)."""
    return JumboEnds(blocks, worth).best(range(len(blocks)), usable_m, budget)


class JumboEnds:
    """The program for blocks in any running order; fills of a jumbo are remembered over orders.

    Parameters
    ----------
    blocks
        Blocks with the lengths that their reels allow.
    worth
        What a metre on each block is worth; empty: `PLAIN` for all.
    """

    def __init__(self, blocks: Sequence[LengthBlock], worth: Sequence[MetreWorth] = ()) -> None:
        self._blocks = blocks
        self._worth = worth or [PLAIN] * len(blocks)
        self._fills: dict[tuple[Content, int, bool], tuple[int, dict[int, int]]] = {}

    def best(
        self,
        order: Sequence[int],
        usable_m: Sequence[int],
        budget: Budget | None = None,
    ) -> Ends | None:
        """The ends of least cost; None where the jumbos do not last.

        Parameters
        ----------
        usable_m
            Usable lengths of the jumbos in the order they are opened. One that not even a set at
            its minimum length fits on is skipped.
        budget
            Its work are the ends that are gone on from; it is looked at for every jumbo. None: not
            stopped.

        Raises
        ------
        SearchEnded
            The budget is over.
        """
        sets = self.sets_in(order)
        best: tuple[int, int, int] | None = None  # cost, last jumbo, first set on it
        came_from: list[dict[int, int]] = []  # for each jumbo: sets wound after it -> before it
        costs = {0: 0}  # sets wound so far -> least cost of the jumbos finished so far
        for j, usable in enumerate(usable_m):
            if budget is not None:
                budget.spend(len(costs))
            after: dict[int, int] = {}
            came_from.append({})
            for first, cost in costs.items():
                for end, content in self.ends(sets, first, usable):
                    last = end == len(sets)
                    worth, metres = self._fill(content, usable, last=last)
                    # The rest of the last jumbo is carried forward, so only what is wound costs.
                    # A jumbo that no set fits on is not opened and costs nothing.
                    paid = sum(metres.values()) if last else usable * bool(content)
                    total = cost + METRE * paid - worth
                    if last and (best is None or total < best[0]):
                        best = total, j, first
                    elif not last and (end not in after or total < after[end]):
                        after[end] = total
                        came_from[j][end] = first
            costs = after
            if not costs:
                break
        return None if best is None else self._trace(sets, best, came_from, usable_m)

    def sets_in(self, order: Sequence[int]) -> list[int]:
        """The block of every set of a running order."""
        return [b for b in order for _ in range(self._blocks[b].sets)]

    def ends(self, sets: Sequence[int], first: int, usable_m: int) -> Iterator[tuple[int, Content]]:
        """(end, content) of a jumbo that begins with set `first`: the sets before `end` are on it.

        One is left out where the next set fits even with all of them at their maximum: that set is
        as long there as on any later jumbo, and costs no metre more.
        """
        content: Counter[int] = Counter()
        shortest = longest = 0
        for end in range(first, len(sets)):
            block = self._blocks[sets[end]]
            fits = shortest + block.min_m <= usable_m
            dominated = longest + block.max_m <= usable_m
            if not dominated and (content or not fits):
                yield end, tuple(sorted(content.items()))
            if not fits:
                return
            content[sets[end]] += 1
            shortest += block.min_m
            longest += block.max_m
        yield len(sets), tuple(sorted(content.items()))

    def _fill(self, content: Content, usable_m: int, *, last: bool) -> tuple[int, dict[int, int]]:
        """Most worth of the sets on one jumbo, which fit, and the metres of each block.

        On the last jumbo a metre is wound only where it is worth more than it costs.
        """
        key = content, usable_m, last
        if key not in self._fills:
            self._fills[key] = self._filled(content, usable_m, METRE if last else 0)
        return self._fills[key]

    def _filled(
        self, content: Content, usable_m: int, min_worth: int
    ) -> tuple[int, dict[int, int]]:
        blocks, worth = self._blocks, self._worth
        metres = {b: many * blocks[b].min_m for b, many in content}
        free_m = usable_m - sum(metres.values())
        total = sum(worth[b].below * metres[b] for b in metres)
        # Each block offers its metres in two steps, those beyond its class's length at less worth.
        steps = [(-worth[b].below, 0, b, many * blocks[b].length_m) for b, many in content]
        steps += [(-worth[b].beyond, 1, b, many * blocks[b].max_m) for b, many in content]
        for negative, _, b, up_to in sorted(steps):
            if -negative <= min_worth or free_m == 0:
                break
            more = min(free_m, up_to - metres[b])
            metres[b] += more
            free_m -= more
            total -= negative * more
        return total, metres

    def _trace(
        self,
        sets: Sequence[int],
        best: tuple[int, int, int],
        came_from: Sequence[dict[int, int]],
        usable_m: Sequence[int],
    ) -> Ends:
        cost, last, first = best
        cuts = [len(sets), first]
        for j in range(last - 1, -1, -1):
            first = came_from[j][first]
            cuts.append(first)
        cuts.reverse()
        contents = []
        metres = []
        for j in range(last + 1):
            content = tuple(sorted(Counter(sets[cuts[j] : cuts[j + 1]]).items()))
            contents.append(content)
            metres.append(self._fill(content, usable_m[j], last=j == last)[1])
        return Ends(cost=cost, contents=tuple(contents), metres=tuple(metres))
