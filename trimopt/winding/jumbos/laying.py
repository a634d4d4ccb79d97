"""Laying sets onto jumbos: which set is wound off which jumbo, from which metre to which.

One jumbo is open at a time. Sets come in the running order, each from where the one before ended;
where a set does not fit on what is left, the jumbo is finished (what is left is its butt) and the
next jumbo that the set fits on is opened. What is left of the last is carried forward, not lost.

For one running order and one order of jumbos this is the least that can be used: by induction, a
set laid at the first place that takes it ends no later than in any other plan, and from an earlier
place every later set ends no later. So only the running order, the order of the jumbos, set
lengths (`trimopt.winding.jumbos.last_metres`) and joins can save a butt.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain, groupby, repeat
from operator import itemgetter

from trimopt.book.model import Stretch
from trimopt.winding.knives.order_costs import Urgency, urgency
from trimopt.winding.model import Butt, JumboSupply, LaidSet, StockJumbo

Content = tuple[tuple[int, int], ...]
"""(block, sets) of one jumbo, by block."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthBlock:
    """A block as it goes along the jumbo: consecutive sets of one pattern.

    `min_m` and `max_m` are what every reel of the set allows (diameter ranges, mass limits);
    `length_m` is the length of its winding class. `max_joins` is the number of joins that every
    reel of the set allows. `priority` and `due` are those of its most urgent order; a small
    priority comes first, None last.
    """

    sets: int
    length_m: int
    min_m: int
    max_m: int
    max_joins: int = 0
    priority: int | None = None
    due: datetime | None = None

    @property
    def urgency(self) -> Urgency:
        """Sorts the most urgent first: by priority, then by due date."""
        return urgency(self.priority, self.due)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnlaidSets:
    """Sets of a block for which there is no paper. `block` is its place in the running order."""

    block: int
    sets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Laying:
    """Sets on their jumbos. Every jumbo: wound_m + left_m = usable_m."""

    sets: tuple[LaidSet, ...]
    butts: tuple[Butt, ...]  # one for each jumbo opened, in the order they were opened
    unlaid: tuple[UnlaidSets, ...] = ()  # most urgent first

    @property
    def wound_m(self) -> int:
        return sum(butt.wound_m for butt in self.butts)

    @property
    def lost_m(self) -> int:
        """Metres of butts that are lost: all but a remainder carried forward."""
        return sum(butt.left_m for butt in self.butts if not butt.carried_forward)

    @property
    def used_m(self) -> int:
        """Usable jumbo metres used: wound and lost."""
        return self.wound_m + self.lost_m

    @property
    def unlaid_sets(self) -> int:
        """Sets for which there is no paper."""
        return sum(row.sets for row in self.unlaid)


@dataclass(slots=True)
class _OpenJumbo:
    jumbo: StockJumbo
    wound_m: int = 0

    @property
    def left_m(self) -> int:
        return self.jumbo.usable_m - self.wound_m

    def wind(self, length_m: int) -> Stretch:
        start = self.wound_m
        self.wound_m += length_m
        return Stretch(jumbo=self.jumbo.name, from_m=start, to_m=self.wound_m)


class _Winding:
    """The state while sets are laid one after another."""

    def __init__(self, supply: JumboSupply) -> None:
        self._supply = supply
        started = [jumbo for jumbo in supply.stock[:1] if jumbo.started]
        self._waiting = list(supply.stock[len(started) :])  # listed and not opened so far
        self._nominals = supply.nominals()
        self._nominal_m = supply.nominal.usable_m if supply.nominal is not None else 0
        self._opened = [_OpenJumbo(jumbo) for jumbo in started]

    def lay(self, length_m: int, max_joins: int) -> tuple[Stretch, ...] | None:
        """Lay one set; None where no jumbo takes it."""
        if self._opened and self._opened[-1].left_m >= length_m:
            return (self._opened[-1].wind(length_m),)
        if max_joins > 0:
            parts = self._parts(length_m, max_joins)
            if parts:
                return self._join(parts)
        jumbo = self._take(length_m)
        if jumbo is None:
            return None
        self._opened.append(_OpenJumbo(jumbo))
        return (self._opened[-1].wind(length_m),)

    def _take(self, length_m: int) -> StockJumbo | None:
        in_order = self._supply.in_order
        for place, jumbo in enumerate(self._waiting):
            if jumbo.usable_m >= length_m:
                found = self._waiting.pop(place)
                if in_order:
                    del self._waiting[:place]
                return found
        if in_order and self._nominal_m >= length_m:
            self._waiting.clear()
        return next(self._nominals) if self._nominal_m >= length_m else None

    def _parts(self, length_m: int, max_joins: int) -> list[tuple[bool, int]]:
        """Parts of a joined set, (on a jumbo not yet opened, metres); empty: it cannot be."""
        min_part_m = self._supply.min_part_m
        parts: list[tuple[bool, int]] = []
        rest = length_m
        left = self._opened[-1].left_m if self._opened else 0
        usable = chain([left], (j.usable_m for j in self._waiting), repeat(self._nominal_m))
        for number, free_m in enumerate(usable):
            if number > 0 and free_m >= rest:
                parts.append((True, rest))
                return parts if 2 <= len(parts) <= max_joins + 1 else []
            part = min(free_m, rest - min_part_m)
            if part >= min_part_m:
                parts.append((number > 0, part))
                rest -= part
            elif number > 0:
                return []
            if len(parts) > max_joins:
                return []
        return []

    def _join(self, parts: list[tuple[bool, int]]) -> tuple[Stretch, ...]:
        stretches = []
        for fresh, part_m in parts:
            if fresh:
                jumbo = self._waiting.pop(0) if self._waiting else next(self._nominals)
                self._opened.append(_OpenJumbo(jumbo))
            stretches.append(self._opened[-1].wind(part_m))
        return tuple(stretches)

    def butts(self) -> tuple[Butt, ...]:
        return butts_of([(use.jumbo, use.wound_m) for use in self._opened])


def butts_of(wound: Sequence[tuple[StockJumbo, int]]) -> tuple[Butt, ...]:
    """What is left of each jumbo of which so many metres are wound, in the order of their use.

    What is left of the last is carried forward.
    """
    left_m = [jumbo.usable_m - jumbo.cut_m - wound_m for jumbo, wound_m in wound]
    return tuple(
        Butt(
            jumbo=jumbo,
            wound_m=wound_m,
            left_m=left,
            carried_forward=place == len(wound) and left > 0,
        )
        for place, ((jumbo, wound_m), left) in enumerate(zip(wound, left_m, strict=True), start=1)
    )


def segments_on(
    named: Iterable[tuple[str, int]],
    jumbos: Mapping[str, StockJumbo],
    reached_m: Mapping[str, int],
) -> tuple[Stretch, ...]:
    """A set's parts on the jumbos that they name, each from where that is reached.

    Parts of one jumbo are joined over what is cut out of it, wherever that lies. A jumbo that is
    not known is wound end to end.
    """
    stretches: list[Stretch] = []
    for name, parts in groupby(named, key=itemgetter(0)):
        metres = [each for _, each in parts]
        start, whole = reached_m.get(name, 0), sum(metres)
        spans: tuple[tuple[int, int], ...] = ((start, start + whole),)
        if name in jumbos:
            spans = jumbos[name].wound_from(start, whole, len(metres) - 1)
        stretches += [Stretch(jumbo=name, from_m=a, to_m=b) for a, b in spans]
    return tuple(stretches)


def lay_lengths(
    sets: Sequence[tuple[int, int]], supply: JumboSupply, *, max_joins: Sequence[int] = ()
) -> Laying | None:
    """Lay sets of given lengths in the order they stand; None where no jumbo takes one of them.

    Parameters
    ----------
    sets
        (block, length in m) of each set.
    max_joins
        For each block, the most joins its sets may have; empty: none.
    """
    winding = _Winding(supply)
    laid = []
    for block, length_m in sets:
        stretches = winding.lay(length_m, max_joins[block] if max_joins else 0)
        if stretches is None:
            return None
        laid.append(LaidSet(block=block, length_m=length_m, stretches=stretches))
    return Laying(sets=tuple(laid), butts=winding.butts())


def lay_sets(blocks: Sequence[LengthBlock], supply: JumboSupply, *, joined: bool = False) -> Laying:
    """Lay the sets of blocks, in the running order given, onto jumbos.

    Where the paper does not last for all, sets are kept in the order of their urgency (priority,
    then due date, then running order): each block keeps the most sets that leave every more urgent
    set its place. What is not laid is listed, most urgent first.

    Parameters
    ----------
    joined
        Whether a set may continue on the next jumbo, with at most its block's number of joins.

    Examples
    --------
    >>> from fractions import Fraction
    >>> jumbo = StockJumbo(
    ...     name="J", width_mm=Fraction(4000), usable_m=8000, loss_start_m=0, loss_end_m=0
    ... )
    >>> block = LengthBlock(sets=4, length_m=3000, min_m=2800, max_m=3000)
    >>> laying = lay_sets([block], JumboSupply(nominal=jumbo))
    >>> [(butt.left_m, butt.carried_forward) for butt in laying.butts]
    [(2000, False), (2000, True)]
    """
    joins = [block.max_joins for block in blocks] if joined else []

    def lay(counts: Sequence[int]) -> Laying | None:
        sets = [
            (place, blocks[place].length_m)
            for place, many in enumerate(counts)
            for _ in range(many)
        ]
        return lay_lengths(sets, supply, max_joins=joins)

    whole = lay([block.sets for block in blocks])
    if whole is not None:
        return whole
    counts = [0] * len(blocks)
    laying = Laying(sets=(), butts=())
    unlaid = []
    for place in sorted(range(len(blocks)), key=lambda b: blocks[b].urgency):
        block = blocks[place]
        for kept in range(block.sets, -1, -1):
            counts[place] = kept
            found = lay(counts)
            if found is not None:
                laying = found
                break
        if counts[place] < block.sets:
            unlaid.append(UnlaidSets(block=place, sets=block.sets - counts[place]))
    return replace(laying, unlaid=tuple(unlaid))
