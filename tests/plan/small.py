"""Small runs counted out over both dimensions: patterns, running order, jumbos."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations_with_replacement, permutations, product


@dataclass(frozen=True, slots=True)
class SmallClass:
    """Orders of one set length: least and greatest metres, widths, reels asked of each."""

    min_m: int
    max_m: int
    widths: tuple[int, ...]
    reels: tuple[int, ...]


Pattern = tuple[int, ...]  # reels of each width


def covers(own: SmallClass, deckle: int, max_reels: int) -> Iterator[tuple[Pattern, ...]]:
    """Every choice of the fewest sets that make all the reels, more of none than can be cut."""
    patterns = [
        counts
        for counts in product(*(range(asked + 1) for asked in own.reels))
        if 0 < sum(counts) <= max_reels
        and sum(c * w for c, w in zip(counts, own.widths, strict=True)) <= deckle
    ]
    # A pattern inside another serves no better, whatever lies beside it.
    largest = [
        one
        for one in patterns
        if not any(
            one != other and all(a <= b for a, b in zip(one, other, strict=True))
            for other in patterns
        )
    ]
    for sets in range(1, sum(own.reels) + 1):
        found = [
            chosen
            for chosen in combinations_with_replacement(largest, sets)
            if all(
                sum(pattern[k] for pattern in chosen) >= asked for k, asked in enumerate(own.reels)
            )
        ]
        if found:
            yield from found
            return


def min_used_m(
    classes: Sequence[SmallClass],
    usable_m: Sequence[int],
    *,
    deckle: int,
    max_reels: int,
    nominal_m: int,
) -> int:
    """Least jumbo metres, butts in them, the last jumbo's remainder not; sets may be shortened.

    Every choice of patterns with the fewest sets, every running order of their blocks, listed
    jumbos in their order and nominal ones after them; a jumbo may be ended early.
    """
    best = 10**9
    for chosen in product(*(tuple(covers(own, deckle, max_reels)) for own in classes)):
        blocks = [
            (k, patterns.count(pattern))
            for k, patterns in enumerate(chosen)
            for pattern in dict.fromkeys(patterns)
        ]
        for order in set(permutations(blocks)):
            sets = tuple(k for k, many in order for _ in range(many))
            best = min(best, _laid_m(sets, classes, (*usable_m, *[nominal_m] * len(sets))))
    return best


def _laid_m(sets: tuple[int, ...], classes: Sequence[SmallClass], usable_m: Sequence[int]) -> int:
    @cache
    def go(first: int, jumbo: int) -> int:
        if jumbo == len(usable_m):
            return 10**9
        best = 10**9
        least = greatest = 0
        for after in range(first, len(sets)):
            least += classes[sets[after]].min_m
            greatest += classes[sets[after]].max_m
            if least > usable_m[jumbo]:
                break
            if after == len(sets) - 1:
                best = min(best, greatest, usable_m[jumbo])
            else:
                best = min(best, usable_m[jumbo] + go(after + 1, jumbo + 1))
        if best == 10**9:  # not even one set fits: the jumbo is not opened
            best = go(first, jumbo + 1)
        return best

    return go(0, 0)
