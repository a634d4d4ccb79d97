"""Where each jumbo ends in a running order, with set lengths that may move: an exact program.

The sets stand in one order, so a plan is a choice of how many are wound off each jumbo. With the
metres of each block worth a given value, the best lengths on one jumbo are a fractional fill: all
sets at their least, then metres to the block that values them most until the jumbo is full. A
dynamic program over (jumbo, sets wound so far) then finds the best ends of all jumbos together.

Costs are whole numbers, `METRE` for a metre of jumbo. A jumbo that is finished costs its usable
length, the last one what is wound off it; a metre on a set gives back what it is worth.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

from trimopt.budget import Budget
from trimopt.winding.jumbos.laying import LengthBlock

__all__ = ["METRE", "PLAIN", "Ends", "MetreWorth", "all_ends", "fill", "jumbo_ends"]

METRE = 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """The best ends. `sets[j][b]` and `metres[j][b]`: of block b on jumbo j, where any."""

    cost: int
    sets: tuple[dict[int, int], ...]
    metres: tuple[dict[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MetreWorth:
    """What a metre on a block is worth: up to its class's length, and beyond (no more)."""

    below: int
    beyond: int


PLAIN = MetreWorth(below=METRE + 1, beyond=METRE - 1)  # butts count, then metres off the class


def fill(
    content: Sequence[tuple[int, int]],
    blocks: Sequence[LengthBlock],
    worth: Sequence[MetreWorth],
    usable_m: int,
    min_worth: int,
) -> tuple[int, dict[int, int]] | None:
    """Most worth of sets on one jumbo and the metres of each block; None where they do not fit.

    `content` is (block, sets). A metre is wound where it is worth more than `min_worth`.
    """
    metres = {b: many * blocks[b].min_m for b, many in content}
    room = usable_m - sum(metres.values())
    if room < 0:
        return None
    total = sum(worth[b].below * metres[b] for b in metres)
    steps = [(-worth[b].below, 0, b, many * blocks[b].length_m) for b, many in content]
    steps += [(-worth[b].beyond, 1, b, many * blocks[b].max_m) for b, many in content]
    for negative, _, b, most in sorted(steps):
        if -negative <= min_worth or room == 0:
            break
        more = min(room, most - metres[b])
        metres[b] += more
        room -= more
        total -= negative * more
    return total, metres


def jumbo_ends(
    blocks: Sequence[LengthBlock],
    usable_m: Sequence[int],
    worth: Sequence[MetreWorth] = (),
    *,
    budget: Budget | None = None,
) -> Ends | None:
    """The ends of least cost for blocks in running order; None where the jumbos do not last.

    Parameters
    ----------
    blocks
        Blocks in running order.
    usable_m
        Usable lengths of the jumbos in the order they are opened. One that not even a set at its
        least length fits on is passed over.
    worth
        For each block; empty: `PLAIN` for all.
    budget
        Told of the ends that are gone on from, and looked at for every jumbo; None: not stopped.

    Raises
    ------
    SearchEnded
        The budget is over.
    """
    program = _Program(blocks, worth or [PLAIN] * len(blocks))
    return program.solve(usable_m, budget)


def all_ends(
    blocks: Sequence[LengthBlock], usable_m: Sequence[int], *, most: int
) -> tuple[tuple[tuple[tuple[int, int], ...], ...], ...]:
    """Every way to end the jumbos, each as (block, sets) by jumbo; empty where more than `most`.

    Only ends that sets at their least lengths allow; a jumbo may be ended as early as one likes.
    """
    program = _Program(blocks, [PLAIN] * len(blocks))
    total = len(program.block_of)
    ways: list[tuple[tuple[tuple[int, int], ...], ...]] = []
    open_ways: list[tuple[int, tuple[tuple[tuple[int, int], ...], ...]]] = [(0, ())]
    steps = 0
    while open_ways:
        first, way = open_ways.pop()
        steps += 1
        if len(way) == len(usable_m):
            continue
        room = usable_m[len(way)]
        after = first
        while after < total and program.least[after] <= room:
            room -= program.least[after]
            after += 1
            here = (*way, tuple(program.content(first, after)))
            if after == total:
                ways.append(here)
            else:
                open_ways.append((after, here))
        if after == first:
            open_ways.append((first, (*way, ())))
        # Many steps: ways that leave sets without a jumbo, which are no ways at all.
        if len(ways) + len(open_ways) > most or steps > 20 * most:
            return ()
    return tuple(ways)


class _Program:
    def __init__(self, blocks: Sequence[LengthBlock], worth: Sequence[MetreWorth]) -> None:
        self.blocks = blocks
        self.worth = worth
        self.block_of = [b for b, block in enumerate(blocks) for _ in range(block.sets)]
        self.least = [blocks[b].min_m for b in self.block_of]
        self.greatest = [blocks[b].max_m for b in self.block_of]
        self.ends_at = list(accumulate(block.sets for block in blocks))
        self.fills: dict[tuple[int, int, int, bool], tuple[int, dict[int, int]] | None] = {}

    def content(self, first: int, after: int) -> list[tuple[int, int]]:
        """(block, sets) of the sets from `first` up to before `after`."""
        content = []
        while first < after:
            b = self.block_of[first]
            end = min(after, self.ends_at[b])
            content.append((b, end - first))
            first = end
        return content

    def filled(
        self, first: int, after: int, usable_m: int, last: bool
    ) -> tuple[int, dict[int, int]] | None:
        b = self.block_of[first]
        key = first, after, usable_m, last
        if after <= self.ends_at[b]:  # so many sets of one block are alike wherever they begin
            key = -1 - b, after - first, usable_m, last
        if key not in self.fills:
            self.fills[key] = fill(
                self.content(first, after),
                self.blocks,
                self.worth,
                usable_m,
                METRE if last else 0,
            )
        return self.fills[key]

    def solve(self, usable_m: Sequence[int], budget: Budget | None) -> Ends | None:
        total = len(self.block_of)
        best: tuple[int, int, int] | None = None  # cost, jumbo, first set on it
        came: list[dict[int, int]] = []  # for each jumbo: sets wound after it -> before it
        costs = {0: 0}
        for j, usable in enumerate(usable_m):
            if budget is not None:
                budget.spend(len(costs))
            after: dict[int, int] = {}
            came.append({})
            for first, cost in costs.items():
                last = self.filled(first, total, usable, True)
                if last is not None:
                    closing = cost + METRE * sum(last[1].values()) - last[0]
                    if best is None or closing < best[0]:
                        best = closing, j, first
                for end, more in self._finished(first, total, usable):
                    if end not in after or cost + more < after[end]:
                        after[end] = cost + more
                        came[j][end] = first
            costs = after
        return None if best is None else self._trace(best, came, usable_m)

    def _finished(self, first: int, total: int, usable_m: int) -> Iterator[tuple[int, int]]:
        """(end, cost) of a finished jumbo, for every end but the last set's.

        An end is passed over where the next set fits even with all at their greatest: there it
        may be as long as on any later jumbo, and costs no metre more.
        """
        room = spare = usable_m
        end = first
        while end < total - 1 and self.least[end] <= room:
            room -= self.least[end]
            spare -= self.greatest[end]
            end += 1
            if spare < self.greatest[end]:
                filled = self.filled(first, end, usable_m, False)
                assert filled is not None
                yield end, METRE * usable_m - filled[0]
        if end == first and self.least[first] > usable_m:
            yield first, 0

    def _trace(
        self, best: tuple[int, int, int], came: list[dict[int, int]], usable_m: Sequence[int]
    ) -> Ends:
        cost, j, first = best
        bounds = [(j, first, len(self.block_of))]
        while j:
            j -= 1
            before = came[j][first]
            bounds.append((j, before, first))
            first = before
        sets: list[dict[int, int]] = []
        metres: list[dict[int, int]] = []
        for j, start, end in reversed(bounds):
            sets.append(dict(self.content(start, end)))
            filled = self.filled(start, end, usable_m[j], j == best[1])
            assert filled is not None
            metres.append(filled[1])
        return Ends(cost=cost, sets=tuple(sets), metres=tuple(metres))
