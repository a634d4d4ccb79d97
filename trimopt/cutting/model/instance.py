"""The problem that the engine solves, in whole numbers and without paper.

An instance has **demands** (one an order), **classes** (winding classes: what one set of that class
costs and may hold) and **options** (one kind of piece: it serves one demand, in one class, with a
width, a yield towards the demand and a worth). A **pattern** belongs to one class and says how
many pieces of each of the class's options lie across a set. The plan runs each pattern a whole
number of times. For every demand i, with sums over all pieces made ::

    made_i    = Σ yield          surplus_i = max(0, made_i - high_i)
    worth_i   = Σ worth - surplus_worth_i · surplus_i
    made_i   >= low_i

and the objective, in whole numbers (`SCALE` = 1000 carries prices such as 0.1), is the **loss** ::

    SCALE · (Σ cost of sets - Σ_i worth_i)
      + Σ_i under_price_i · max(0, ordered_i - worth_i)
      + Σ_i over_price_i  · max(0, worth_i - ordered_i)

Cost and worth share one unit of the caller's choice (the paper side uses run units of width times
metres). With cost 1, worth 0 and high None it is the textbook cutting-stock problem: fewest sets.
Nothing in it rewards making too much: a surplus gives back at least the worth that it brought.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Self

SCALE = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What one order requires: `low` <= made - surplus <= `high`, in units of yield.

    `ordered`, when given, is the wanted worth; the two prices are per unit of worth, in 1/SCALE
    of a unit of loss, and at most SCALE. `surplus_worth` is the worth taken back for each unit of
    yield above `high`: no less than the greatest worth per yield among the demand's options.
    """

    low: int
    high: int | None
    ordered: int | None = None
    under_price: int = 0
    over_price: int = 0
    surplus_worth: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class WindingClass:
    """What a set of this class costs and what a pattern in it may hold.

    A pattern's widths add up to at most `width`. What is left of `width` beyond `slack` cannot
    leave as edge trim: it is slit off as broke reels, as few as can be, each from `min_broke`
    to `max_broke` wide; every broke reel takes one of the `max_pieces` stations,
    and a pattern whose strip is too narrow for that is not allowed. `slack` None: no limit on
    the edge trim, so never a broke reel. Pieces flagged no-edge need something on either side of
    them: two pieces without the flag, or broke reels in their place. Classes of one `setting`
    follow each other without a set-up where the widths across are the same.
    """

    cost: int
    width: int
    max_pieces: int
    slack: int | None = None
    min_broke: int = 0
    max_broke: int | None = None
    setting: int = 0

    def broke_reels(self, used: int) -> int | None:
        """How many broke reels a pattern of `used` width needs; None where it is not allowed."""
        left = self.width - used
        if left < 0:
            return None
        if self.slack is None or left <= self.slack:
            return 0
        reels = 1
        if self.max_broke is not None:
            reels = max(1, -(-(left - self.slack) // self.max_broke))
        return None if left < reels * self.min_broke else reels


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A kind of piece: width across a set of `winding_class`, and what one gives to `demand`.

    `demand` and `winding_class` are positions in the instance's tuples. `gain` is the yield of
    one piece in the demand's unit.
    """

    demand: int
    winding_class: int
    width: int
    gain: int
    worth: int = 0
    no_edge: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Instance:
    """One run, as the engine sees it.

    `apart` holds pairs of demands that never share a pattern, `together` pairs that must: a
    pattern that holds one of them holds both. `barred` holds patterns (class, ((width,
    count), …), widths rising) that may not be used, whichever options have these widths.
    """

    demands: tuple[Demand, ...]
    classes: tuple[WindingClass, ...]
    options: tuple[Option, ...]
    apart: tuple[tuple[int, int], ...] = ()
    together: tuple[tuple[int, int], ...] = ()
    barred: tuple[tuple[int, tuple[tuple[int, int], ...]], ...] = ()

    def widths_across(self, pieces: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
        """How often each width lies across a set of ((option, count), …), widths rising."""
        counts: dict[int, int] = {}
        for k, count in pieces:
            width = self.options[k].width
            counts[width] = counts.get(width, 0) + count
        return tuple(sorted(counts.items()))

    def set_up_for(
        self, winding_class: int, pieces: Iterable[tuple[int, int]]
    ) -> tuple[int, tuple[tuple[int, int], ...]]:
        """What the winder is set up for: equal for patterns between which there is no set-up."""
        return self.classes[winding_class].setting, self.widths_across(pieces)

    def by_demand(self) -> tuple[tuple[int, ...], ...]:
        """Positions of the options of each demand."""
        places: list[list[int]] = [[] for _ in self.demands]
        for k, option in enumerate(self.options):
            places[option.demand].append(k)
        return tuple(tuple(some) for some in places)

    def with_costs(self, costs: Iterable[int]) -> Self:
        """The same with another cost of a set of each class."""
        each = zip(self.classes, costs, strict=True)
        return replace(self, classes=tuple(replace(limits, cost=cost) for limits, cost in each))

    def options_of(self, winding_class: int) -> tuple[int, ...]:
        """Positions of the options of one class."""
        return tuple(
            k for k, option in enumerate(self.options) if option.winding_class == winding_class
        )
