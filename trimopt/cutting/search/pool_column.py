"""What an integer program chooses a whole number of: a pattern's sets, or anything like them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from trimopt.cutting.model.cuts import Pattern, yields_of
from trimopt.cutting.model.instance import SCALE, Demand, Instance

Yields = Mapping[int, tuple[int, int]]
"""Yield and worth by demand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolColumn:
    """The cost of one, what it gives to demands, and how many there may be."""

    cost: int
    yields: Yields
    max_count: int

    @property
    def loss(self) -> int:
        """Of one by itself, in 1/SCALE of its cost's unit."""
        return SCALE * (self.cost - sum(worth for _, worth in self.yields.values()))

    def with_others(self, other: PoolColumn, many: int) -> PoolColumn:
        """One with so many of another column in it."""
        yields = dict(self.yields)
        for i, (gain, worth) in other.yields.items():
            had = yields.get(i, (0, 0))
            yields[i] = had[0] + many * gain, had[1] + many * worth
        return replace(self, cost=self.cost + many * other.cost, yields=yields)


def column_of(
    instance: Instance, pattern: Pattern, *, min_count: int = 0, max_count: int | None = None
) -> PoolColumn:
    """A pattern as a column; it may be wound `min_count` times, and no more than `max_count`."""
    yields = yields_of(instance, pattern)
    useful = max(min_count, max_sets(instance.demands, yields))
    return PoolColumn(
        cost=instance.classes[pattern.winding_class].cost,
        yields=yields,
        max_count=useful if max_count is None else min(useful, max_count),
    )


def max_sets(demands: Sequence[Demand], yields: Yields) -> int:
    """Sets that make all that any demand in them takes; more of them are surplus and paper."""
    return max(
        -(-max(1, demands[i].low, demands[i].high or 0) // gain) for i, (gain, _) in yields.items()
    )
