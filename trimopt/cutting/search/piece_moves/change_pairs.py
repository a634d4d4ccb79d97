"""Ways to change some orders together, and the pairs of them that fill a class to the brim.

All ways to change a few orders are some thousands; all ways to change twice as many are the pairs
of two such lists. Sorted by the sets that the right one needs in a class, for each left way those
right ways are found at once with which the class comes out just below a whole number of sets.

References
----------
E. Horowitz, S. Sahni (1974), "Computing partitions with applications to the knapsack problem",
Journal of the ACM 21, 277-292.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.products import product
from trimopt.cutting.params import PieceMoveParams
from trimopt.cutting.search.piece_moves.order_changes import Changes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
# Of an order: options with a price, and rows of these prices, shape (those options, rows).
Prices = Callable[[int], tuple[Ints, Floats]]

_NEARLY = 1e-6  # of a set


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ways:
    """Some orders and ways to change them together.

    `needs` has the sets that a way needs more of each class, in fractions, `sets` the whole sets
    more of classes that are settled, both of shape (ways, classes); `loss` is what a way adds to
    the loss without sets, `picks` the change of each order.
    """

    changes: tuple[Changes, ...]
    needs: Floats
    sets: Ints
    loss: Floats
    picks: Ints

    @classmethod
    def of(
        cls,
        changes: Sequence[Changes],
        costs: Floats,
        params: PieceMoveParams,
        rng: np.random.Generator,
    ) -> Ways:
        """Combine changes, keeping the ways that lose least.

        Parameters
        ----------
        costs
            What a set of each class costs.
        rng
            Draws among those that lose nearly the same.
        """
        score, picks = np.zeros(1), np.zeros((1, 0), dtype=np.int64)
        for change in changes:
            size = len(change.loss)
            score = (score[:, None] + (change.loss + product(change.needs, costs))[None]).ravel()
            keep = np.arange(len(score))
            if len(score) > params.ways:
                keep = _drawn(score, params, rng)
                score = score[keep]
            picks = np.concatenate([picks[keep // size], (keep % size)[:, None]], axis=1)
        ways = len(picks)
        needs, loss = np.zeros((ways, len(costs))), np.zeros(ways)
        for change, pick in zip(changes, picks.T, strict=True):
            needs += change.needs[pick]
            loss += change.loss[pick]
        return cls(
            changes=tuple(changes),
            needs=needs,
            sets=np.zeros(needs.shape, dtype=np.int64),
            loss=loss,
            picks=picks,
        )

    def chosen(self, ways: Ints) -> Ways:
        """Return some of the ways."""
        return Ways(
            changes=self.changes,
            needs=self.needs[ways],
            sets=self.sets[ways],
            loss=self.loss[ways],
            picks=self.picks[ways],
        )

    def at(self, prices: Prices) -> Floats:
        """What the ways need at rows of prices, shape (ways, rows), or (ways, 1) of nothing."""
        need = np.zeros((len(self.loss), 1))
        for place, change in enumerate(self.changes):
            options, rows = prices(change.order)
            if len(options):
                need = need + product(change.pieces[:, options], rows)[self.picks[:, place]]
        return need


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settling:
    """The class that is settled next: its place among the classes, and what is known of it.

    `sets` are wound now; `need` is what the pieces of now need at every row of prices, of which the
    first says what is left unused, shape (rows,), `prices` as in `Ways.at`. `costs` has what a set
    of each class costs.
    """

    costs: Floats
    place: int
    sets: int
    need: Floats
    prices: Prices


def meet(
    left: Ways, right: Ways, one: Settling, params: PieceMoveParams, rng: np.random.Generator
) -> Ways:
    """Ways of both lists together in which a class is settled: little of a set is left unused.

    Pairs are looked at in bands of what is left unused, until enough of them fit at all prices.

    Parameters
    ----------
    left, right
        Ways to change different orders; classes before `one.place` are settled in the left ones
        and not changed by the right ones.
    rng
        Draws among those that lose nearly the same.
    """
    costs = one.costs
    place, later = one.place, slice(one.place + 1, None)
    left_score = left.loss + product(left.sets, costs) + product(left.needs[:, later], costs[later])
    right_score = right.loss + product(right.needs[:, later], costs[later])
    rows = _strictest(left.at(one.prices) + one.need, right.at(one.prices))
    room = one.sets - float(one.need[0]) - left.needs[:, place] + _NEARLY
    found: list[tuple[Ints, Ints, Ints, Floats]] = []
    number = 0
    for band in _bands(room, right.needs[:, place], params):
        a, b, sets = band
        score = left_score[a] + right_score[b] + costs[place] * sets
        kept = np.flatnonzero((score < params.max_loss) & (sets >= -one.sets))
        a, b, sets, score = a[kept], b[kept], sets[kept], score[kept]
        # A pair fits where no row of prices says that its pieces need more than the sets: each row
        # is a dual bound of the fractional packing. The strictest rows come first and thin out the
        # pairs; a row whose greatest need is below the fewest sets can shut out none.
        least = one.sets + int(sets.min(initial=0))
        for left_row, right_row, greatest in rows:
            if greatest > least:
                fits = left_row[a] + right_row[b] <= one.sets + sets + _NEARLY
                kept = np.flatnonzero(fits)
                a, b, sets, score = a[kept], b[kept], sets[kept], score[kept]
        found.append((a, b, sets, score))
        number += len(a)
        if number > params.ways:
            break
    a, b, sets, score = (np.concatenate(column) for column in zip(*found, strict=True))
    if len(a) > params.ways:
        keep = _drawn(score, params, rng)
        a, b, sets = a[keep], b[keep], sets[keep]
    more = left.sets[a]
    more[:, place] = sets
    return Ways(
        changes=left.changes + right.changes,
        needs=left.needs[a] + right.needs[b],
        sets=more,
        loss=left.loss[a] + right.loss[b],
        picks=np.concatenate([left.picks[a], right.picks[b]], axis=1),
    )


def _drawn(score: Floats, params: PieceMoveParams, rng: np.random.Generator) -> Ints:
    """Places of as many ways as are kept, drawn among those that lose least, as they stand.

    Of a partition numpy gives the places in an order that depends on the processor.
    """
    drawn = score + params.shuffle * rng.exponential(size=len(score))
    last = np.partition(drawn, params.ways)[params.ways]
    return np.flatnonzero(drawn < last)


def _bands(
    room: Floats, need: Floats, params: PieceMoveParams
) -> Iterator[tuple[Ints, Ints, Ints]]:
    """Pairs by what they leave unused of the last set: a band of little, then bands of more.

    Parameters
    ----------
    room, need
        Sets that are left for a right way beside each left one, and those that each right one
        needs, in fractions.

    Yields
    ------
    Places of the left ways and of the right ones, and the whole sets that each pair needs more.
    """
    # Right ways stand on a circle by the part of a set that they need, which is gone round twice.
    part = need - np.floor(need)
    circle = part.argsort(kind="stable")
    circle = np.concatenate([circle, circle])
    stands = part[circle]
    stands[: len(part)] -= 1
    wanted = room - np.floor(room)
    waste = min(params.max_waste, params.pairs / (len(need) * len(room)))
    last = stands.searchsorted(wanted)
    for band in range(params.bands):
        first = stands.searchsorted(wanted - (band + 1) * waste)
        counts = last - first
        places = np.arange(counts.sum()) + np.repeat(first - counts.cumsum() + counts, counts)
        last = first
        a, b = np.repeat(np.arange(len(counts)), counts), circle[places]
        yield a, b, np.ceil(need[b] - room[a]).astype(np.int64)


def _strictest(left: Floats, right: Floats) -> list[tuple[Floats, Floats, float]]:
    """Rows of what both lists need, and the most of each, those first that shut out most."""
    left, right = np.ascontiguousarray(left.T), np.ascontiguousarray(right.T)
    right = np.broadcast_to(right, (len(left), right.shape[1]))
    order = np.argsort(-(left.mean(axis=1) + right.mean(axis=1)), kind="stable")
    return [(left[row], right[row], float(left[row].max() + right[row].max())) for row in order]
