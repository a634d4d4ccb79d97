"""The best layout of one lot between two neighbours whose knives stand: an exact dynamic program.

A knife stands at the offset (the width of the front edge strip) plus the widths of the strips in
front of it: a sub-multiset of the strips. So a layout for an offset is a chain of sub-multisets,
each with one strip more, and the best layout is a longest path in the lattice of sub-multisets
(Held and Karp 1962, on multisets in place of sets), where a sub-multiset counts for every
neighbour's knife that stands where it puts one. Offsets that put no knife on a neighbour's are all
alike, so only those that put one there are looked at, most promising first, several side by side,
until no other can do better.

Two counts share the program. `OrderKept` is the winder's: knives keep their order on the beam, each
has its number, and a place counts only for the knife of that number; idle knives stand parked at an
end. `AnyKnife` counts places that no knife holds, whichever knife it is.

References
----------
Held, Karp (1962), "A dynamic programming approach to sequencing problems", Journal of SIAM 10.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from trimopt.winding.knives.integer_lot import LotShape
from trimopt.winding.knives.knife_moves import BACK, FRONT

_NEVER = -1_000_000
_MAX_COLUMNS = 48  # offsets run side by side
_MAX_CELLS = 400_000  # of the table; fewer columns where it is large
_Ints = NDArray[np.int64]
_Weight = Callable[[int, _Ints], _Ints]


@dataclass(frozen=True, slots=True)
class Laid:
    """A layout in units. `places`: where each knife stands, as the count keeps it."""

    places: tuple[int, ...]
    offset: int
    kinds: tuple[int, ...] = field(compare=False)  # positions in Shape.kinds, front to back


def _run(shape: LotShape, offsets: _Ints, weight: _Weight) -> NDArray[np.int32]:
    """Best sum of weights for every sub-multiset (row) and offset (column)."""
    table = shape.table
    # The last row stays at _NEVER: `table.before` points there where no strip can be taken out.
    best = np.full((len(table.sums) + 1, len(offsets)), _NEVER, dtype=np.int32)
    for n in range(shape.knives):
        rows = slice(table.level[n], table.level[n + 1])
        met = weight(n, table.sums[rows, None] + offsets)
        best[rows] = met if n == 0 else best[table.before[n]].max(axis=1) + met
    return best


def _trace(
    shape: LotShape, best: NDArray[np.int32], column: int, draw: Random | None
) -> tuple[int, ...]:
    """Kinds, front to back, of a layout that has the value in the last row."""
    table = shape.table
    state = len(table.sums) - 1
    left = [len(chain) for chain in shape.chains]
    kinds = []
    for n in range(shape.strips, 0, -1):
        before = table.before[n][state - table.level[n]]
        values = best[before, column]
        if draw is None:
            chain = int(values.argmax())
        else:
            chain = draw.choice(np.flatnonzero(values == values.max()).tolist())
        left[chain] -= 1
        kinds.append(shape.chains[chain][left[chain]])
        state = int(before[chain])
    return tuple(reversed(kinds))


def positions(shape: LotShape, offset: int, kinds: tuple[int, ...]) -> tuple[int, ...]:
    """Where the knives of a layout stand, units."""
    at = offset
    places = [at]
    for kind in kinds:
        at += shape.kinds[kind][0]
        places.append(at)
    return tuple(places)


@dataclass(slots=True)
class _OffsetSearch:
    """The best value and layout over offsets, taken most promising first."""

    shape: LotShape
    draw: Random | None
    value: int = _NEVER
    offset: int = 0
    kinds: tuple[int, ...] = ()
    note: int = 0  # the caller's, of the best
    work: int = 0

    def take(
        self, offsets: _Ints, max_values: NDArray[np.int64], weight: _Weight, base: int, note: int
    ) -> None:
        """Try `offsets`; `max_values` bounds the value of each, `base` is added to it."""
        ranked = np.argsort(-max_values, kind="stable")
        if self.draw is not None and len(ranked) > 1:
            key = np.array([self.draw.random() for _ in range(len(max_values))])
            ranked = np.lexsort((key, -max_values))
        shape = self.shape
        step = max(1, min(_MAX_COLUMNS, _MAX_CELLS // (len(shape.table.sums) * len(shape.chains))))
        for start in range(0, len(ranked), step):
            part = ranked[start : start + step]
            # The first of equal values is kept, so one that can only equal it need not be run.
            part = part[max_values[part] + base > self.value]
            if not len(part):
                return
            best = _run(shape, offsets[part], weight)
            self.work += best.size
            values = best[-2]  # of all strips; the last row is the empty one
            column = int(values.argmax())
            if int(values[column]) + base > self.value:
                self.value = int(values[column]) + base
                self.offset = int(offsets[part[column]])
                self.kinds = _trace(shape, best, column, self.draw)
                self.note = note


def _offsets(shape: LotShape, offsets: _Ints) -> tuple[_Ints, _Ints]:
    """Offsets in range, each once, and how often each came."""
    inside = offsets[(offsets >= shape.min_offset) & (offsets <= shape.max_offset)]
    if not len(inside):  # no knife can stay: any offset will do
        one = np.array([shape.min_offset], dtype=np.int64)
        return one, np.zeros(1, dtype=np.int64)
    found, times = np.unique(inside, return_counts=True)
    return found, times.astype(np.int64)


class AnyKnife:
    """Counts positions that no knife holds. `places` are the layout's positions.

    Here and in `OrderKept`, `work` is the tables run so far in thousands of cells, and one for each
    layout; `meet` takes many layouts, the last axis of which are places, and one.
    """

    def __init__(self) -> None:
        self.work = 0

    def moves(self, before: tuple[int, ...], after: tuple[int, ...]) -> int:
        """Positions of `after` that are not in `before`."""
        return len(after) - len(set(after).intersection(before))

    def best_layout(
        self,
        shape: LotShape,
        before: tuple[int, ...] | None,
        after: tuple[int, ...] | None,
        draw: Random | None = None,
    ) -> Laid:
        """A layout with fewest moves from `before` and to `after`; `draw` picks among equals."""
        targets = np.sort(np.array((*(before or ()), *(after or ())), dtype=np.int64))
        places, times = np.unique(targets, return_counts=True)
        lookup = np.append(places, BACK)  # what lies behind all places is looked up there
        counts = np.append(times, 0).astype(np.int64)

        def weight(_: int, at: _Ints) -> _Ints:
            where = np.searchsorted(places, at)
            met: _Ints = np.where(lookup[where] == at, counts[where], 0)
            return met

        offsets, max_values = _offsets(shape, (targets[:, None] - shape.sums_any).ravel())
        search = _OffsetSearch(shape, draw)
        search.take(offsets, max_values, weight, 0, 0)
        self.work += 1 + search.work // 1000
        places_met = positions(shape, search.offset, search.kinds)
        return Laid(places_met, search.offset, search.kinds)

    def meet(self, many: _Ints, one: _Ints) -> NDArray[np.int16]:
        """Positions that each layout of `many` has in common with `one`."""
        met = np.zeros(many.shape[:-1], dtype=np.int16)
        for place in one:
            met += (many == place).any(axis=-1)
        return met


class OrderKept:
    """The winder's count with idle knives parked. `places` has one entry for each knife."""

    def __init__(self, knives: int) -> None:
        self.knives = knives
        self.work = 0

    def moves(self, before: tuple[int, ...], after: tuple[int, ...]) -> int:
        """Knives that change their place, to and from the ends of the beam too."""
        return sum(a != b for a, b in zip(before, after, strict=True))

    def best_layout(
        self,
        shape: LotShape,
        before: tuple[int, ...] | None,
        after: tuple[int, ...] | None,
        draw: Random | None = None,
    ) -> Laid:
        """A layout with fewest moves from `before` and to `after`; `draw` picks among equals."""
        neighbours = [n for n in (before, after) if n is not None]
        spare = self.knives - shape.knives
        rows = np.array(neighbours, dtype=np.int64).reshape(len(neighbours), self.knives)
        standing = (rows != FRONT) & (rows != BACK)
        levels, sums = shape.knife_sums
        # Where `front` knives are parked at the front end, the ones that cut are numbered from
        # there. `base` are the parked ones that stay parked; of the others as many can stay as
        # stand inside.
        choices = []
        for front in range(spare + 1):
            end = front + shape.knives
            base = int((rows[:, :front] == FRONT).sum() + (rows[:, end:] == BACK).sum())
            choices.append((base, int(standing[:, front:end].sum()), front))
        if draw is not None:
            draw.shuffle(choices)
        choices.sort(key=lambda choice: -choice[0] - choice[1])
        search = _OffsetSearch(shape, draw)
        for base, inside, front in choices:
            if base + inside <= search.value:
                break
            targets = rows[:, front : front + shape.knives]

            def weight(n: int, at: _Ints, targets: _Ints = targets) -> _Ints:
                met = np.zeros(at.shape, dtype=np.int64)
                for place in targets[:, n].tolist():
                    met += at == place
                return met

            offsets, max_values = _offsets(shape, (targets[:, levels] - sums).ravel())
            search.take(offsets, max_values, weight, base, front)
        self.work += 1 + search.work // 1000
        places = (
            *(FRONT,) * search.note,
            *positions(shape, search.offset, search.kinds),
            *(BACK,) * (spare - search.note),
        )
        return Laid(places, search.offset, search.kinds)

    def meet(self, many: _Ints, one: _Ints) -> NDArray[np.int16]:
        """Knives that stand alike in each layout of `many` and in `one`."""
        met: NDArray[np.int16] = (many == one).sum(axis=-1, dtype=np.int16)
        return met


Count: TypeAlias = AnyKnife | OrderKept
"""How knife moves are counted."""
