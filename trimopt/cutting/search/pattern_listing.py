"""Every pattern that a better plan can hold, counted out in whole numbers, where they are few.

At prices that prove a bound no pattern is worth more than its set, and what it costs beyond its
worth, its reduced cost, is lost with every set of it. So a plan that loses no more than one that
is known holds no pattern whose reduced cost is above the gap between that plan and the bound.
"""

from __future__ import annotations

from collections.abc import Iterator

from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.outcome import Certificate, Pattern, pattern_faults

__all__ = ["all_patterns", "reduced_cost"]

Pieces = tuple[tuple[int, int], ...]


def all_patterns(instance: Instance, *, most: int) -> list[Pattern] | None:
    """Every allowed pattern, in a fixed order; None where there are more than `most` to look at."""
    found: list[Pattern] = []
    looked = 0
    for c, limits in enumerate(instance.classes):
        for pieces in _fitting(instance, instance.options_of(c), limits.width, limits.max_pieces):
            looked += 1
            if looked > most:
                return None
            pattern = Pattern(c, pieces)
            if not pattern_faults(instance, pattern):
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


def reduced_cost(instance: Instance, prices: Certificate, pattern: Pattern) -> int:
    """What a set of the pattern loses at the prices, in 1/`prices.scale` of a unit of loss."""
    worth = 0
    for k, count in pattern.pieces:
        option = instance.options[k]
        worth += count * (
            prices.gain_price[option.demand] * option.gain
            + prices.worth_price[option.demand] * option.worth
        )
    return SCALE * instance.classes[pattern.winding_class].cost * prices.scale - worth
