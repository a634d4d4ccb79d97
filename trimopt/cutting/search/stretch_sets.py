"""Sets on stretches of paper: what the program of them is told, and whole metres of its answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trimopt.cutting.search.pool_column import PoolColumn

_SLIP = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperStretch:
    """A stretch: its metres, what a metre costs, and what using it is worth, units of cost.

    Stretches of one `jumbo` follow each other, and all are used or none; those of one that is
    `begun` are. `clear_m` are the spans beside which none of some bands lies, by these bands.
    """

    jumbo: str
    length_m: int
    cost_per_m: int
    reward: int
    clear_m: Mapping[frozenset[int], tuple[tuple[int, int], ...]]
    begun: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchColumn:
    """Sets of a pattern on a stretch: the lengths that one may have, what sets and metres give.

    Neither column costs anything: the stretch is paid for. Its sets lie beside no band of `avoids`.
    """

    stretch: int
    min_m: int
    max_m: int
    each_set: PoolColumn
    each_metre: PoolColumn
    avoids: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinColumn:
    """A set joined between stretches, from one to a later one: as a column, `each_set` at its cost.

    No part of it is shorter than `min_part_m`.
    """

    first: int
    last: int
    min_m: int
    max_m: int
    min_part_m: int
    each_set: PoolColumn
    each_metre: PoolColumn

    @property
    def joins(self) -> int:
        """How many joins it has."""
        return self.last - self.first


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchSets:
    """Sets and metres of each column; joined sets by their columns, with metres by stretch."""

    sets: tuple[int, ...]
    metres: tuple[int, ...]
    joined: tuple[tuple[int, tuple[tuple[int, int], ...]], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedSet:
    """A chosen joined set, its column with its number, and its metres before they are rounded."""

    number: int
    column: JoinColumn
    wound_m: float
    first_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundedSets:
    """Whole metres of the sets that were chosen.

    Metres of each column are rounded down, and what that leaves of a full stretch is given back, or
    to the joined set that begins there, which gives it back on its last stretch.
    """

    stretches: Sequence[PaperStretch]
    columns: Sequence[StretchColumn]
    sets: tuple[int, ...]
    wound_m: Sequence[float]
    joined: Sequence[JoinedSet]

    def found(self) -> StretchSets | None:
        """The sets and their metres; None: a joined set has no whole ones."""
        whole = [
            max(column.min_m * many, min(column.max_m * many, int(metres + _SLIP)))
            for column, many, metres in zip(self.columns, self.sets, self.wound_m, strict=True)
        ]
        parts: dict[int, dict[int, int]] = {}
        begun = {each.column.first: each for each in self.joined}
        for s, stretch in enumerate(self.stretches):
            room_m = stretch.length_m - sum(on.get(s, 0) for on in parts.values())
            each = begun.get(s)
            first_m = 0 if each is None else int(each.first_m + _SLIP)
            left_m = self._filled(s, whole, room_m - first_m, full=each is not None)
            if each is not None:
                on = self._parts(each, first_m + left_m)
                if on is None:
                    return None
                parts[each.number] = on
        joined = tuple((number, tuple(sorted(on.items()))) for number, on in parts.items())
        return StretchSets(sets=self.sets, metres=tuple(whole), joined=joined)

    def _filled(self, s: int, whole: list[int], room_m: int, *, full: bool) -> int:
        """Give metres to the sets of a full stretch; what is left of it."""
        here = [j for j, c in enumerate(self.columns) if c.stretch == s and self.sets[j]]
        full = full or sum(self.wound_m[j] for j in here) > room_m - 1
        left = room_m - sum(whole[j] for j in here) if full else 0
        for j in here:
            more = min(left, self.columns[j].max_m * self.sets[j] - whole[j])
            whole[j] += more
            left -= more
        return left

    def _parts(self, each: JoinedSet, first_m: int) -> dict[int, int] | None:
        """Its metres by stretch, so many on the first; None where they cannot be."""
        column = each.column
        on = {s: self.stretches[s].length_m for s in range(column.first, column.last)}
        on[column.first] = first_m
        wanted = max(column.min_m, min(column.max_m, int(each.wound_m + _SLIP)))
        least = max(column.min_part_m, column.min_m - sum(on.values()))
        on[column.last] = max(least, wanted - sum(on.values()))
        fits = on[column.last] <= self.stretches[column.last].length_m
        return on if fits and sum(on.values()) <= column.max_m else None
