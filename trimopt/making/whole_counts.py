"""Whether a whole number of reels can land inside an order's range."""

from __future__ import annotations

import math
from collections.abc import Sequence

#: Widest range looked through, in steps that all pieces are multiples of. Beyond it the question is
#: left open; open counts as yes, for the engine to answer. The check has the same limit.
_MAX_STEPS = 2_000_000


def nearest_counts(gains: Sequence[int], low: int, high: int) -> tuple[int, int] | None:
    """None where some whole numbers of pieces give a total inside [low, high].

    Otherwise the greatest total below `low` and the least above `high`, over all numbers of pieces
    of every gain together.
    """
    pieces = sorted(set(gains))
    if low <= 0 or high - low + 1 >= pieces[0]:
        return None
    step = math.gcd(*pieces)
    first, last = -(-low // step), high // step
    if last > _MAX_STEPS:
        return None
    sums = _sums([piece // step for piece in pieces], last + pieces[0] // step)
    inside = sums >> first & (1 << max(0, last - first + 1)) - 1
    if inside:
        return None
    below = (sums & (1 << first) - 1).bit_length() - 1
    beyond = sums >> last + 1
    above = last + (beyond & -beyond).bit_length()
    return below * step, above * step


def _sums(pieces: Sequence[int], max_sum: int) -> int:
    """All sums of whole numbers of pieces up to `max_sum`: bit n is set where n is one."""
    mask = (1 << max_sum + 1) - 1
    sums = 1
    for piece in pieces:
        shift = piece
        while shift <= max_sum:  # once, twice, four times the piece: every number of it is a sum
            sums |= sums << shift & mask
            shift *= 2
    return sums
