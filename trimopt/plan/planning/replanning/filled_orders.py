"""Orders of blocks in which jumbos are filled, sets of some at lengths that are held.

A walk over the jumbos, block by block: of every choice of blocks that stand so far it knows how
many metres are lost on jumbos behind, and between which metres the open one may be taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from trimopt.winding import LengthBlock

_BEAM = 40  # choices of blocks that are gone on from
_OPEN = 12  # ways along the jumbos that are known of each


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledOrder:
    """-1 for the next of the held blocks, else the loose one; and the jumbo of each set."""

    order: tuple[int, ...]
    jumbos: tuple[int, ...]
    lost_m: int


@dataclass(frozen=True, slots=True)
class _Along:
    """Metres lost on finished jumbos, the open one, and from where to where it may be taken.

    `jumbos` has the jumbo of each set.
    """

    lost_m: int
    jumbo: int
    min_m: int
    max_m: int
    jumbos: tuple[int, ...] = ()

    @property
    def key(self) -> tuple[int, int, int, int]:
        return self.lost_m, self.jumbo, self.min_m, -self.max_m


def filled_orders(
    held: Sequence[Sequence[LengthBlock]],
    loose: Sequence[LengthBlock],
    usable_m: Sequence[int],
    count: int,
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

    Returns
    -------
    tuple of FilledOrder
        The best first.
    """
    start = _Along(0, 0, 0, 0)
    layer: dict[tuple[int, frozenset[int]], list[tuple[_Along, tuple[int, ...]]]] = {
        (0, frozenset()): [(start, ())]
    }
    for _ in range(len(held) + len(loose)):
        after: dict[tuple[int, frozenset[int]], list[tuple[_Along, tuple[int, ...]]]] = {}
        for (stand, taken), ways in layer.items():
            steps = [(at, (stand, taken | {at}), [loose[at]])
                     for at in range(len(loose)) if at not in taken]  # fmt: skip
            if stand < len(held):
                steps.append((-1, (stand + 1, taken), [*held[stand]]))
            for at, key, parts in steps:
                known = after.setdefault(key, [])
                for along, order in ways:
                    known += [(each, (*order, at)) for each in _wound(along, parts, usable_m)]
        for known in after.values():
            known.sort(key=lambda way: (way[0].key, way[1]))
            del known[_OPEN:]
        best = sorted(after, key=lambda key: (after[key][0][0].key, after[key][0][1]))
        layer = {key: after[key] for key in best[:_BEAM]}
    ends = sorted((way for ways in layer.values() for way in ways), key=lambda way: way[0].key)
    found: dict[tuple[int, ...], FilledOrder] = {}
    for along, order in ends:
        each = FilledOrder(order=order, jumbos=along.jumbos, lost_m=along.lost_m)
        found.setdefault(order, each)
    return tuple(found.values())[:count]


def _wound(
    along: _Along, parts: Sequence[LengthBlock], usable_m: Sequence[int]
) -> tuple[_Along, ...]:
    """How far the jumbos may be taken by these sets."""
    ways: tuple[_Along, ...] = (along,)
    for part in parts:
        for _ in range(part.sets):
            every = {each for way in ways for each in _next(way, part, usable_m)}
            ways = tuple(sorted(every, key=lambda way: way.key)[:_OPEN])
    return ways


def _next(way: _Along, part: LengthBlock, usable_m: Sequence[int]) -> Iterator[_Along]:
    """One set more: on the open jumbo, or that is finished and the set lies on the next."""
    whole_m = usable_m[min(way.jumbo, len(usable_m) - 1)]
    if way.min_m + part.min_m <= whole_m:
        most_m = min(whole_m, way.max_m + part.max_m)
        jumbos = (*way.jumbos, way.jumbo)
        yield _Along(way.lost_m, way.jumbo, way.min_m + part.min_m, most_m, jumbos)
    next_m = usable_m[min(way.jumbo + 1, len(usable_m) - 1)]
    lost_m = way.lost_m + whole_m - way.max_m
    jumbos = (*way.jumbos, way.jumbo + 1)
    most_m = min(next_m, part.max_m)
    yield _Along(lost_m, way.jumbo + 1, min(part.min_m, next_m), most_m, jumbos)
