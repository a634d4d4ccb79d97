"""Proven least numbers of patterns that need no search."""

from __future__ import annotations

from trimopt.cutting.setups.case import Case, Plan

__all__ = ["fewest_by_width"]


def fewest_by_width(case: Case, fixed: Plan) -> int:
    """No plan has fewer patterns: every demand lies in one, and so many fit across a deckle.

    Parameters
    ----------
    case
        The instance.
    fixed
        Rows that every plan holds; a demand in one of them is met there at best.
    """
    held = {case.demand[k] for _, pieces, _ in fixed for k, _ in pieces}
    open_demands = {i for i, low in enumerate(case.low) if low > 0 and i not in held}
    most = 0
    for limits in case.classes:
        narrowest = sorted(
            min(case.instance.options[k].width for k in options)
            for options in limits.by_demand
            if case.demand[options[0]] in open_demands
        )
        room, count = case.instance.classes[limits.index].width, 0
        for width in narrowest[: limits.most_pieces]:
            room -= width
            if room < 0:
                break
            count += 1
        most = max(most, count)
    patterns = len({row[:2] for row in fixed})
    if not open_demands or not most:
        return patterns
    return patterns + -(-len(open_demands) // most)
