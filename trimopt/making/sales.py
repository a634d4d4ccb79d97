"""Whether a whole number of reels can land inside an order's range."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["nearest_counts"]

#: Sums looked at before the question is left open; open counts as yes, for the engine to answer.
_SUMS_MOST = 200_000


def nearest_counts(gains: Sequence[int], low: int, high: int) -> tuple[int, int] | None:
    """None where some whole numbers of pieces give a total inside [low, high].

    Otherwise the greatest total below `low` and the least above `high`, over all numbers of pieces
    of every gain together.
    """
    pieces = sorted(set(gains), reverse=True)
    if low <= 0 or high - low + 1 >= pieces[-1]:
        return None
    below, above = 0, -(-(high + 1) // pieces[-1]) * pieces[-1]
    seen = {0}
    frontier = [0]
    while frontier:
        following = []
        for total in frontier:
            for gain in pieces:
                made = total + gain
                if low <= made <= high:
                    return None
                if made > high:
                    above = min(above, made)
                elif made not in seen:
                    seen.add(made)
                    below = max(below, made)
                    following.append(made)
        if len(seen) > _SUMS_MOST:
            return None
        frontier = following
    return below, above
