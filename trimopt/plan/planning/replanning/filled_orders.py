"""Orders of blocks in which jumbos are filled, sets of some at lengths that are held.

A walk over the jumbos, block by block: of every choice of blocks that stand so far it knows how
many metres are lost on jumbos behind, and between which metres the open one may be taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import nsmallest
from typing import NamedTuple

from trimopt.budget import Budget
from trimopt.winding import LengthBlock

_BEAM = 40  # choices of blocks that are gone on from
_STEPS = 24_000  # choices with a block more, in all: of many blocks fewer choices are gone on from
_OPEN = 12  # ways along the jumbos that are known of each


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledOrder:
    """-1 for the next of the held blocks, else the loose one; and the jumbo of each set."""

    order: tuple[int, ...]
    jumbos: tuple[int, ...]
    lost_m: int


class _Along(NamedTuple):
    """Metres lost on finished jumbos, the open one, and from where to where it may be taken.

    The least is the best. Then the order of the blocks, and the jumbo of each set.
    """

    lost_m: int
    jumbo: int
    min_m: int
    minus_max_m: int
    order: tuple[int, ...] = ()
    jumbos: tuple[int, ...] = ()


class _Further(NamedTuple):
    """A way with the block `at` more, which goes `along` from the jumbo `ahead`."""

    lost_m: int
    jumbo: int
    min_m: int
    minus_max_m: int
    before: tuple[int, ...]
    at: int
    jumbos: tuple[int, ...]
    along: tuple[int, ...]
    ahead: int

    def taken(self) -> _Along:
        """The way that it makes."""
        jumbos = (*self.jumbos, *(self.ahead + jumbo for jumbo in self.along))
        return _Along(*self[:4], (*self.before, self.at), jumbos)


_Choice = tuple[int, frozenset[int]]  # how many of the held blocks, and which loose ones


def filled_orders(
    held: Sequence[Sequence[LengthBlock]],
    loose: Sequence[LengthBlock],
    usable_m: Sequence[int],
    count: int,
    budget: Budget,
) -> tuple[FilledOrder, ...]:
    """Places of the loose blocks among the held ones that leave least on the jumbos.

    Parameters
    ----------
    held
        What stands in this order: blocks, each as its parts along the jumbo.
    loose
        Blocks that may stand anywhere between, whole.
    usable_m
        Of the jumbos in the order they are opened; the last stands for all that follow.
    count
        How many orders at the most.
    budget
        Looked at before each block more.

    Returns
    -------
    tuple of FilledOrder
        The best first; none where the budget is over.
    """
    winding = _WoundBlocks([*held, *([each] for each in loose)], usable_m)
    layer: dict[_Choice, list[_Along]] = {(0, frozenset()): [_Along(0, 0, 0, 0)]}
    blocks = len(held) + len(loose)
    beam = min(_BEAM, 1 + _STEPS // (1 + blocks * len(loose)))
    for _ in range(blocks):
        if budget.over():
            return ()
        after: dict[_Choice, list[_Further]] = {}
        for (stand, taken), ways in layer.items():
            steps = [(at, len(held) + at, (stand, taken | {at}))
                     for at in range(len(loose)) if at not in taken]  # fmt: skip
            if stand < len(held):
                steps.append((-1, stand, (stand + 1, taken)))
            for at, block, choice in steps:
                known = after.setdefault(choice, [])
                for way in ways:
                    known += winding.on_from(way, at, block)
        best = nsmallest(beam, ((min(known), choice) for choice, known in after.items()))
        layer = {choice: [step.taken() for step in nsmallest(_OPEN, after[choice])]
                 for _, choice in best}  # fmt: skip
    found: dict[tuple[int, ...], FilledOrder] = {}
    for way in sorted(way for ways in layer.values() for way in ways):
        each = FilledOrder(order=way.order, jumbos=way.jumbos, lost_m=way.lost_m)
        found.setdefault(way.order, each)
    return tuple(found.values())[:count]


class _WoundBlocks:
    """How far jumbos may be taken by the sets of a block, asked once for all that are alike."""

    def __init__(self, blocks: Sequence[Sequence[LengthBlock]], usable_m: Sequence[int]) -> None:
        self.blocks = blocks
        self.usable_m = usable_m
        unlike = (at for at, each in enumerate(usable_m) if each != usable_m[-1])
        self.alike = 1 + max(unlike, default=-1)  # from this jumbo on
        self.known: dict[tuple[int, int, int, int], tuple[_Along, ...]] = {}

    def on_from(self, way: _Along, at: int, block: int) -> Iterator[_Further]:
        """The ways with a block more, which the order names `at`."""
        jumbo = min(way.jumbo, self.alike)
        key = (block, jumbo, way.min_m, way.minus_max_m)
        known = self.known.get(key)
        if known is None:
            start = _Along(0, jumbo, way.min_m, way.minus_max_m)
            known = self.known[key] = self._wound(start, block)
        lost_m, _, _, _, order, jumbos = way
        ahead = way.jumbo - jumbo
        for more_m, jumbo, min_m, minus_max_m, _, along in known:
            yield _Further(
                lost_m + more_m, ahead + jumbo, min_m, minus_max_m, order, at, jumbos, along, ahead
            )

    def _wound(self, way: _Along, block: int) -> tuple[_Along, ...]:
        """Set by set."""
        ways = [way]
        for part in self.blocks[block]:
            for _ in range(part.sets):
                ways = sorted({each for way in ways for each in self._next(way, part)})[:_OPEN]
        return tuple(ways)

    def _next(self, way: _Along, part: LengthBlock) -> Iterator[_Along]:
        """One set more: on the open jumbo, or that is finished and the set lies on the next."""
        last = len(self.usable_m) - 1
        whole_m, next_m = (self.usable_m[min(way.jumbo + more, last)] for more in (0, 1))
        if way.min_m + part.min_m <= whole_m:
            most_m = min(whole_m, part.max_m - way.minus_max_m)
            jumbos = (*way.jumbos, way.jumbo)
            yield _Along(way.lost_m, way.jumbo, way.min_m + part.min_m, -most_m, (), jumbos)
        lost_m = way.lost_m + whole_m + way.minus_max_m
        jumbos = (*way.jumbos, way.jumbo + 1)
        most_m = min(next_m, part.max_m)
        yield _Along(lost_m, way.jumbo + 1, min(part.min_m, next_m), -most_m, (), jumbos)
