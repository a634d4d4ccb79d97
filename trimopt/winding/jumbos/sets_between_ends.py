"""Metres of patterns cut into sets where the jumbos end.

A pattern that is wound for so many metres needs no whole sets of one length: what is left of a
jumbo takes a part of them, in as few sets as its greatest length allows, so long as no set is
shorter than its least. Orders of the patterns are walked through, and the one that leaves least on
the jumbos says how many sets of each pattern lie on which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from random import Random

from trimopt.budget import Budget
from trimopt.winding.jumbos.laying import Content
from trimopt.winding.jumbos.order_along_jumbos import any_step, stepped
from trimopt.winding.jumbos.pattern_metres import PatternMetres

_ALL_ORDERS = 5  # so many patterns are tried in every order
_WALKS = 4
_TRIES = 5_000  # orders of a walk
_SHORT = 3  # metres of butt that a metre costs which no set takes


@dataclass(frozen=True, slots=True, kw_only=True)
class SetsOnJumbos:
    """(pattern, sets) on each jumbo, in running order, and of each pattern the metres wound.

    `lost_m` are the butts, and metres that no set takes, at their price.
    """

    contents: tuple[Content, ...]
    metres: tuple[int, ...]
    lost_m: int

    @property
    def sets(self) -> tuple[int, ...]:
        """Of each pattern."""
        counts = [0] * len(self.metres)
        for content in self.contents:
            for place, sets in content:
                counts[place] += sets
        return tuple(counts)


def sets_on_jumbos(
    patterns: Sequence[PatternMetres], usable_m: Sequence[int], *, budget: Budget, seed: int = 0
) -> SetsOnJumbos:
    """Find the order of patterns, and their sets on each jumbo, that leaves least.

    Parameters
    ----------
    usable_m
        Of the jumbos in the order they are opened; the last stands for all that follow.
    budget
        Where it is over, the best so far is given.
    """
    if len(patterns) <= _ALL_ORDERS:
        orders = permutations(range(len(patterns)))
        every = (laid_in_order(patterns, each, usable_m) for each in orders)
        return min(every, key=lambda laid: laid.lost_m)
    draw = Random(seed)
    best: SetsOnJumbos | None = None
    for _ in range(_WALKS):
        order = list(range(len(patterns)))
        draw.shuffle(order)
        here = laid_in_order(patterns, order, usable_m)
        for _ in range(_TRIES):
            if here.lost_m == 0 or budget.over():
                break
            near = list(stepped(order, any_step(draw, len(order))))
            found = laid_in_order(patterns, near, usable_m)
            if found.lost_m <= here.lost_m:
                order, here = near, found
        if best is None or here.lost_m < best.lost_m:
            best = here
    assert best is not None
    return best


def laid_in_order(
    patterns: Sequence[PatternMetres], order: Sequence[int], usable_m: Sequence[int]
) -> SetsOnJumbos:
    """The patterns in this order, each jumbo filled as far as their sets' limits allow."""
    contents: list[list[tuple[int, int]]] = [[]]
    metres = [0] * len(patterns)
    left_m, lost_m = usable_m[0], 0
    for place in order:
        pattern = patterns[place]
        wanted_m = pattern.metres
        while wanted_m >= pattern.min_m:
            part_m, sets = _part(pattern, wanted_m, left_m)
            if sets:
                contents[-1].append((place, sets))
                metres[place] += part_m
                wanted_m, left_m = wanted_m - part_m, left_m - part_m
            if wanted_m >= pattern.min_m or not left_m:
                lost_m += left_m
                left_m = usable_m[min(len(contents), len(usable_m) - 1)]
                contents.append([])
                if not sets and left_m < pattern.min_m:
                    break
        lost_m += _SHORT * wanted_m
    return SetsOnJumbos(
        contents=tuple(tuple(content) for content in contents if content),
        metres=tuple(metres),
        lost_m=lost_m,
    )


def _part(pattern: PatternMetres, wanted_m: int, left_m: int) -> tuple[int, int]:
    """Metres that go onto what is left of a jumbo, and in how many sets."""
    part_m = _longest(pattern, min(wanted_m, left_m))
    if 0 < wanted_m - part_m < pattern.min_m:
        # What would remain is too short to be a set: leave enough for one.
        part_m = _longest(pattern, min(wanted_m - pattern.min_m, left_m)) or part_m
    return part_m, -(-part_m // pattern.max_m)


def _longest(pattern: PatternMetres, metres: int) -> int:
    """The most metres, of so many, that whole sets may have."""
    return max(0, min(metres, metres // pattern.min_m * pattern.max_m))
