"""Plans by filling one set after the other: quick, and often already the fewest sets.

Sums of widths are bits of one Python integer, so the fullest set that the pieces left allow is
found by shifts.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

from trimopt.cutting.bin_packing.bin_problem import BinProblem, Sets
from trimopt.cutting.lp.knapsack_tables import steps


def first_fit(problem: BinProblem) -> Sets:
    """Widest piece first into the first set with room, sets of one kind at a time."""
    left = list(problem.need)
    sets: Sets = {}
    while any(left):
        room, places = problem.width, problem.max_pieces or problem.width
        counts = []
        for i, width in enumerate(problem.widths):
            n = min(left[i], room // width, places)
            if n:
                counts.append((i, n))
                room -= n * width
                places -= n
        run = min(left[i] // n for i, n in counts)
        for i, n in counts:
            left[i] -= run * n
        sets[tuple(counts)] = sets.get(tuple(counts), 0) + run
    return sets


def fullest(
    widths: Sequence[int], left: Sequence[int], room: int, order: Sequence[int]
) -> dict[int, int]:
    """Counts of pieces whose widths fill a room best; late options in `order` are used last."""
    mask = (1 << (room + 1)) - 1
    bits, stages = 1, []
    for i in order:
        for size in steps(min(left[i], room // widths[i])):
            stages.append((i, size, bits))
            bits |= (bits << (size * widths[i])) & mask
        if bits >> room & 1:
            break
    used = bits.bit_length() - 1
    counts: dict[int, int] = {}
    for i, size, before in reversed(stages):
        if used and not before >> used & 1:
            counts[i] = counts.get(i, 0) + size
            used -= size * widths[i]
    return counts


def best_fill(
    problem: BinProblem,
    need: Sequence[int] | None = None,
    *,
    shuffle: random.Random | None = None,
    cap: int | None = None,
) -> Sets | None:
    """Widest piece left first, the rest of its set filled as full as the pieces left allow.

    Parameters
    ----------
    need
        Pieces of each item; the problem's where not given.
    shuffle
        Draws the order in which pieces are offered; widest first where not given.
    cap
        Give up, with None, once more sets than this are used.
    """
    left = list(problem.need if need is None else need)
    sets: Sets = {}
    used = first = 0
    base = list(range(len(left)))
    while True:
        while first < len(left) and not left[first]:
            first += 1
        if first == len(left):
            return sets
        order = [i for i in base[first:] if left[i]]
        if shuffle is not None:
            order = sorted(order, key=lambda i: i + shuffle.uniform(0, 0.35 * len(base)))
        left[first] -= 1
        counts = fullest(problem.widths, left, problem.width - problem.widths[first], order)
        left[first] += 1
        counts[first] = counts.get(first, 0) + 1
        if problem.max_pieces is not None and sum(counts.values()) > problem.max_pieces:
            counts = _thinned(problem, counts)
        run = min(left[i] // n for i, n in counts.items())
        if shuffle is not None:
            run = max(1, min(run, 1 + int(run * shuffle.random())))
        for i, n in counts.items():
            left[i] -= run * n
        key = tuple(sorted(counts.items()))
        sets[key] = sets.get(key, 0) + run
        used += run
        if cap is not None and used > cap:
            return None


def _thinned(problem: BinProblem, counts: dict[int, int]) -> dict[int, int]:
    """The widest pieces of a set, as many as the stations take."""
    assert problem.max_pieces is not None
    places, kept = problem.max_pieces, {}
    for i in sorted(counts):
        n = min(counts[i], places)
        if n:
            kept[i] = n
            places -= n
    return kept
