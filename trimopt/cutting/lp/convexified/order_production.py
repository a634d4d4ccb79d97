"""What a demand can be made of, in whole pieces.

A demand is seen by what is counted of it (its measures): the pieces of each of its options or,
where these have too many combinations, the sums of yield and worth. Of few combinations, every one
is known with its loss, and with these a demand is no longer a range but a list; of more, a table
gives those of least loss at any prices.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.convexified.production_table import ProductionTable, production_table
from trimopt.cutting.model.instance import SCALE, Demand, Option
from trimopt.cutting.model.loss import LossTable, over_price_of
from trimopt.cutting.model.products import product, whole_product

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrderProduction:
    """One demand in whole pieces.

    `pieces` has what one piece of each option counts for, shape (options, measures). `ways` has
    all measures that give at least `low` and would give less than `high` without a piece, shape
    (ways, measures), none where there are too many; `loss` what each loses without its sets. With
    a `table` of all ways by counts, `ways` are those read from it so far.
    """

    options: tuple[int, ...]
    by_counts: bool
    pieces: Ints
    ways: Ints
    loss: Ints
    table: ProductionTable | None = None

    @property
    def is_range(self) -> bool:
        """Whether only its range of yield and worth is known."""
        return not len(self.ways) and self.table is None

    def in_table(self, demand: Demand, max_cells: int) -> OrderProduction:
        """Return it by counts where it is not, and a table of all ways is not too large."""
        table = None if self.by_counts else production_table(demand, self.pieces, max_cells)
        if table is None:
            return self
        each = np.eye(len(self.options), dtype=np.int64)
        none = each[:0]
        return replace(self, by_counts=True, pieces=each, ways=none, loss=none[:, 0], table=table)

    def grown(self, prices: Floats, wanted: int) -> OrderProduction:
        """Return it with cheap ways of the table, if it has one, at prices of a piece."""
        if self.table is None:
            return self
        known = {*map(tuple, self.ways.tolist())}
        read = dict.fromkeys(map(tuple, self.table.best(prices, wanted).tolist()))
        new = np.array([way for way in read if way not in known], dtype=np.int64)
        new = new.reshape(-1, len(self.options))
        return replace(
            self,
            ways=np.concatenate([self.ways, new]),
            loss=np.concatenate([self.loss, self.table.losses(new)]),
        )

    def near(self, prices: Floats, span: float, max_ways: int) -> tuple[Ints, Ints] | None:
        """Ways, and what each loses, with all that cost less than `span` beyond the cheapest.

        From a table no others, and None where there are more than so many.
        """
        if self.table is None:
            return self.ways, self.loss
        ways = self.table.near(prices, span, max_ways)
        return None if ways is None else (ways, self.table.losses(ways))


def production_of(
    demand: Demand, places: Sequence[int], options: Sequence[Option], max_ways: int
) -> OrderProduction:
    """Return a demand by its measures; `places` are those of its options in the instance."""
    yields = np.array([(option.gain, option.worth) for option in options], dtype=np.int64)
    yields = yields.reshape(-1, 2)
    counts = production_counts(demand, yields[:, 0], max_ways)
    by_counts = len(counts) > 0
    if by_counts:
        sums = whole_product(counts, yields)
    else:
        sums = _ways(demand, yields, max_ways, merged=True)
    return OrderProduction(
        options=tuple(places),
        by_counts=by_counts,
        pieces=np.eye(len(yields), dtype=np.int64) if by_counts else yields,
        ways=counts if by_counts else sums,
        loss=LossTable.one(demand).loss(sums[:, 0], sums[:, 1]),
    )


def values_of_pieces(
    wholes: Sequence[OrderProduction], prices: Sequence[Floats], options: int
) -> Floats:
    """What a piece of each option of the instance is worth at prices of the measures."""
    values = np.zeros(options)
    for whole, price in zip(wholes, prices, strict=True):
        values[list(whole.options)] = product(whole.pieces, price)
    return values


def min_surplus_loss(demand: Demand, option: Option) -> int:
    """Return the least loss of a piece of a surplus: it gives back no less than it brought."""
    more = demand.surplus_worth * option.gain - option.worth
    return (SCALE - over_price_of(demand)) * more


def production_counts(demand: Demand, gains: Ints, max_ways: int) -> Ints:
    """All counts of pieces that give at least `low`, and less than a piece more than `high`.

    Shape (ways, options); none where there are too many, or no `high`.
    """
    each = np.eye(len(gains), dtype=np.int64)
    return _ways(demand, np.column_stack([gains, each]), max_ways, merged=False)[:, 1:]


def _ways(demand: Demand, pieces: Ints, max_ways: int, *, merged: bool) -> Ints:
    """Measures of all such counts, of which yield is the first, shape (ways, measures).

    None where there are too many, or no `high`; equal ones are `merged`, where that is asked.
    """
    ways = np.zeros((1, pieces.shape[1]), dtype=np.int64)
    if demand.high is None or not len(pieces):
        return ways[:0]
    top = max(demand.low, demand.high) + int(pieces[:, 0].max())
    for piece in _unique(pieces) if merged else pieces:
        repeats = (top - 1 - ways[:, 0]) // piece[0] + 1
        if repeats.sum() > max_ways:
            return ways[:0]
        each = np.arange(repeats.sum()) - np.repeat(np.cumsum(repeats) - repeats, repeats)
        ways = np.repeat(ways, repeats, axis=0) + each[:, None] * piece
        if merged:
            ways = _unique(ways)
    enough: Ints = ways[ways[:, 0] >= demand.low]
    return enough


def _unique(rows: Ints) -> Ints:
    """The rows in order, each once: as `np.unique` over rows gives them, ten times as fast."""
    rows = rows[np.lexsort(rows.T[::-1])]
    first = np.ones(len(rows), dtype=bool)
    first[1:] = (rows[1:] != rows[:-1]).any(axis=1)
    return rows[first]
