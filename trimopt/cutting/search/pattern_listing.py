"""Every pattern that a better plan can hold, counted out in whole numbers, where they are few.

At prices that prove a bound no pattern is worth more than its set, and what it costs beyond its
worth, its reduced cost, is lost with every set of it. So a plan that loses no more than one that
is known holds no pattern whose reduced cost is above the gap between that plan and the bound.
"""

from __future__ import annotations

from collections.abc import Iterator

from trimopt.cutting.model.cuts import Pattern, is_allowed
from trimopt.cutting.model.instance import Instance

__all__ = ["all_patterns"]

Pieces = tuple[tuple[int, int], ...]


def all_patterns(
    instance: Instance, *, max_looked: int, max_found: int | None = None
) -> list[Pattern] | None:
    """Every allowed pattern, in a fixed order; None where there are more of them, or to look at."""
    found: list[Pattern] = []
    looked = 0
    for c, limits in enumerate(instance.classes):
        for pieces in _fitting(instance, instance.options_of(c), limits.width, limits.max_pieces):
            looked += 1
            if looked > max_looked or (max_found is not None and len(found) > max_found):
                return None
            pattern = Pattern(c, pieces)
            if is_allowed(instance, pattern):
                found.append(pattern)
    return found


def _fitting(
    instance: Instance, options: tuple[int, ...], width: int, most: int
) -> Iterator[Pieces]:
    """Every choice of at most so many pieces of the options that is no wider."""
    for place, k in enumerate(options):
        each = instance.options[k].width
        for count in range(1, min(most, width // each) + 1):
            yield ((k, count),)
            rest = _fitting(instance, options[place + 1 :], width - count * each, most - count)
            yield from (((k, count), *more) for more in rest)
