"""The fullest pattern for given caps: every reachable sum of widths as one bit of an integer.

A whole number of Python holds the set of reachable used widths: bit s is set where some choice of
the pieces so far is s units wide. Adding a piece of width w is a shift by w and an or, so forty
widths in a deckle of a thousand units take some tens of microseconds. Where that gives too many
pieces for the winder, the integer holds one field of bits for each number of pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from trimopt.cutting.lp.knapsack_tables import steps
from trimopt.cutting.setups.build_tables import ClassTables

#: (option, width in the class's units, most of them in the pattern).
Item = tuple[int, int, int]


def fullest(
    limits: ClassTables, items: Sequence[Item], min_width: int, rng: Random, greedy: float = 0.7
) -> dict[int, int] | None:
    """The fullest pattern of at least `min_width` units, or None.

    Parameters
    ----------
    items
        Pieces that may be used, with their caps (no cap wider than the deckle). The last are taken
        first when the pattern is read back, so the order is a preference among equally full ones.
    min_width
        Least used width, in units.
    greedy
        Chance of taking as many as possible of an item when reading back, rather than any number.

    Returns
    -------
    dict
        Count by option.
    """
    counts = _by_width(limits, items, min_width, rng, greedy)
    if counts is not None and limits.piece_limit_binds and sum(counts.values()) > limits.max_pieces:
        return _by_pieces(limits, items, min_width, rng, greedy)
    return counts


def _by_width(
    limits: ClassTables, items: Sequence[Item], min_width: int, rng: Random, greedy: float
) -> dict[int, int] | None:
    """Pieces not counted: one field of bits."""
    stages, reach = _reached(items, (2 << limits.width) - 1, full=1 << limits.width)
    used = (reach if limits.plain else reach & limits.allowed).bit_length() - 1
    return None if used < max(min_width, 1) else _read_back(stages, items, used, greedy, rng)


def _by_pieces(
    limits: ClassTables, items: Sequence[Item], min_width: int, rng: Random, greedy: float
) -> dict[int, int] | None:
    """One field of bits for each number of pieces; a field has room for a sum that overruns.

    A piece is as wide as a field more than it is, so that each one moves the sum a field up.
    """
    max_pieces, stride = limits.max_pieces, 2 * limits.width + 2
    field = (2 << limits.width) - 1
    mask = sum(field << (count * stride) for count in range(max_pieces + 1))
    wide = [(option, width + stride, min(cap, max_pieces)) for option, width, cap in items]
    stages, reach = _reached(wide, mask)
    best, pieces = -1, 0
    for count in range(1, max_pieces + 1):
        usable = (reach >> (count * stride)) & field
        top = (usable if limits.plain else usable & limits.allowed).bit_length() - 1
        if top > best:
            best, pieces = top, count
    if best < max(min_width, 1):
        return None
    return _read_back(stages, wide, pieces * stride + best, greedy, rng)


def _reached(items: Sequence[Item], mask: int, full: int = 0) -> tuple[list[int], int]:
    """The sums reached before each item, and at last; no further items once `full` is reached."""
    reach = 1
    stages = []
    for _, width, cap in items:
        stages.append(reach)
        for step in steps(cap):
            reach |= reach << (step * width)
            reach &= mask
        if reach & full:
            break
    return stages, reach


def _read_back(
    stages: Sequence[int], items: Sequence[Item], at: int, greedy: float, rng: Random
) -> dict[int, int]:
    """A pattern of a sum that is reached, the last items first."""
    counts: dict[int, int] = {}
    for before, (option, width, cap) in reversed(list(zip(stages, items, strict=False))):
        count = _read(before, at, (width, cap), greedy, rng)
        if count:
            counts[option] = count
            at -= count * width
    return counts


def _read(before: int, at: int, item: tuple[int, int], greedy: float, rng: Random) -> int:
    """How many of an item to take so that what remains was reachable before it."""
    step, cap = item
    most = min(cap, at // step)
    if not most:
        return 0
    if rng.random() < greedy:
        while not before >> (at - most * step) & 1:
            most -= 1
        return most
    choices = [count for count in range(most + 1) if before >> (at - count * step) & 1]
    return choices[int(rng.random() * len(choices))]
