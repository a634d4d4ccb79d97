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

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain, count, islice, repeat

from trimopt.winding.knives.order_costs import Urgency, urgency
from trimopt.winding.model import Butt, LaidSet, StockJumbo, Stretch

__all__ = ["JumboSupply", "Laying", "LengthBlock", "UnlaidSets", "lay_lengths", "lay_sets"]


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
    core_mm: float | None = None
    max_joins: int = 0
    priority: int | None = None
    due: datetime | None = None

    def __post_init__(self) -> None:
        if self.sets < 1:
            raise ValueError(f"a block has {self.sets} sets; it must have at least one")
        if not 0 < self.min_m <= self.length_m <= self.max_m:
            raise ValueError(
                f"set length {self.length_m} m lies outside {self.min_m} to {self.max_m} m"
            )

    @property
    def urgency(self) -> Urgency:
        """Sorts the most urgent first: by priority, then by due date."""
        return urgency(self.priority, self.due)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnlaidSets:
    """Sets of a block for which there is no paper. `block` is its place in the running order."""

    block: int
    sets: int
    length_m: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Laying:
    """Sets on their jumbos. Every jumbo: wound_m + left_m = usable_m."""

    sets: tuple[LaidSet, ...]
    butts: tuple[Butt, ...]  # one for each jumbo opened, in the order they were opened
    unlaid: tuple[UnlaidSets, ...] = ()  # most urgent first

    @property
    def wound_m(self) -> int:
        """Metres wound."""
        return sum(butt.wound_m for butt in self.butts)

    @property
    def lost_m(self) -> int:
        """Metres of butts that are lost: all but a remainder carried forward."""
        return sum(butt.left_m for butt in self.butts if not butt.carried_forward)

    @property
    def used_m(self) -> int:
        """Usable jumbo metres used: wound and lost."""
        return self.wound_m + self.lost_m


class JumboSupply:
    """The jumbos that may be opened: those listed, in their order, then nominal ones.

    Parameters
    ----------
    stock
        Jumbos that there are; one already started stands first, with what is left of it.
    nominal
        What follows where the list runs out. None: the list is all there is.
    in_order
        Whether a listed jumbo that was passed over, too short for the set that was next, is set
        aside for good. Else it waits for a shorter set.
    """

    def __init__(
        self,
        stock: Sequence[StockJumbo],
        nominal: StockJumbo | None,
        *,
        in_order: bool = False,
    ) -> None:
        names = [jumbo.name for jumbo in stock]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"jumbo {twice[0]} is listed twice; every jumbo needs its own name")
        self.stock = tuple(stock)
        self.nominal = nominal
        self.in_order = in_order

    def usable_m(self) -> tuple[int, ...]:
        """The different usable lengths that there are, longest first."""
        lengths = {jumbo.usable_m for jumbo in self.stock}
        if self.nominal is not None:
            lengths.add(self.nominal.usable_m)
        return tuple(sorted(lengths, reverse=True))

    def nominals(self) -> Iterator[StockJumbo]:
        """Nominal jumbos, numbered, without end; none where there is no nominal one."""
        if self.nominal is None:
            return
        taken = {jumbo.name for jumbo in self.stock}
        for number in count(1):
            name = f"{self.nominal.name} {number}".strip()
            if name not in taken:
                yield replace(self.nominal, name=name, nominal=True)

    def first(self, most: int) -> tuple[StockJumbo, ...]:
        """At most so many jumbos, in order."""
        return tuple(islice(chain(self.stock, self.nominals()), most))


_Lay = Callable[[Sequence[int]], tuple[tuple[LaidSet | None, ...], tuple[Butt, ...]]]


@dataclass(slots=True)
class _Open:
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

    def __init__(self, supply: JumboSupply, min_part_m: int) -> None:
        self._waiting = list(supply.stock)  # listed and not opened so far
        self._nominals = supply.nominals()
        self._nominal_m = supply.nominal.usable_m if supply.nominal is not None else 0
        self._min_part_m = min_part_m
        self._in_order = supply.in_order
        self.opened: list[_Open] = []

    def lay(self, length_m: int, max_joins: int) -> tuple[Stretch, ...] | None:
        """Lay one set; None where no jumbo takes it, and then nothing has changed."""
        if self.opened and self.opened[-1].left_m >= length_m:
            return (self.opened[-1].wind(length_m),)
        if max_joins > 0:
            parts = self._parts(length_m, max_joins)
            if parts:
                return self._join(parts)
        jumbo = self._take(length_m)
        if jumbo is None:
            return None
        self.opened.append(_Open(jumbo))
        return (self.opened[-1].wind(length_m),)

    def _take(self, length_m: int) -> StockJumbo | None:
        for place, jumbo in enumerate(self._waiting):
            if jumbo.usable_m >= length_m:
                found = self._waiting.pop(place)
                if self._in_order:
                    del self._waiting[:place]
                return found
        if self._in_order and self._nominal_m >= length_m:
            self._waiting.clear()
        return next(self._nominals) if self._nominal_m >= length_m else None

    def _parts(self, length_m: int, max_joins: int) -> list[tuple[bool, int]]:
        """Parts of a joined set, (on a jumbo not yet opened, metres); empty: it cannot be."""
        parts: list[tuple[bool, int]] = []
        rest = length_m
        left = self.opened[-1].left_m if self.opened else 0
        usable = chain([left], (j.usable_m for j in self._waiting), repeat(self._nominal_m))
        for number, room in enumerate(usable):
            if number > 0 and room >= rest:
                parts.append((True, rest))
                return parts if 2 <= len(parts) <= max_joins + 1 else []
            part = min(room, rest - self._min_part_m)
            if part >= self._min_part_m:
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
                self.opened.append(_Open(jumbo))
            stretches.append(self.opened[-1].wind(part_m))
        return tuple(stretches)

    def butts(self) -> tuple[Butt, ...]:
        """One for each opened jumbo."""
        last = len(self.opened) - 1
        return tuple(
            Butt(
                jumbo=use.jumbo,
                wound_m=use.wound_m,
                left_m=use.left_m,
                carried_forward=place == last and use.left_m > 0,
            )
            for place, use in enumerate(self.opened)
        )


def lay_lengths(
    sets: Sequence[tuple[int, int]],
    supply: JumboSupply,
    *,
    max_joins: Sequence[int] = (),
    min_part_m: int = 1,
) -> tuple[tuple[LaidSet | None, ...], tuple[Butt, ...]]:
    """Lay sets of given lengths in the order they stand.

    Parameters
    ----------
    sets
        (block, length in m) of each set.
    supply
        The jumbos.
    max_joins
        For each block, the most joins its sets may have; empty: none.
    min_part_m
        A joined set has no part shorter than this.

    Returns
    -------
    tuple
        The laid sets, None for one that no jumbo takes, and the jumbos opened with their butts.
    """
    winding = _Winding(supply, min_part_m)
    laid: list[LaidSet | None] = []
    for block, length_m in sets:
        stretches = winding.lay(length_m, max_joins[block] if max_joins else 0)
        laid.append(
            None
            if stretches is None
            else LaidSet(block=block, length_m=length_m, stretches=stretches)
        )
    return tuple(laid), winding.butts()


def lay_sets(
    blocks: Sequence[LengthBlock],
    stock: Sequence[StockJumbo] = (),
    nominal: StockJumbo | None = None,
    *,
    in_order: bool = False,
    joins_allowed: bool = False,
    min_part_m: int = 1,
) -> Laying:
    """Lay the sets of blocks, in the running order given, onto jumbos.

    Where the paper does not last for all, sets are kept in the order of their urgency (priority,
    then due date, then running order): each block keeps the most sets that leave every more urgent
    set its place. What is not laid is listed, most urgent first.

    Parameters
    ----------
    blocks
        Blocks in running order.
    stock
        Listed jumbos in the order they are used; one too short for a set waits for a shorter set.
    nominal
        What follows where the list runs out; None: the list is all there is.
    in_order
        Whether a listed jumbo that was passed over is set aside for good.
    joins_allowed
        Whether a set may continue on the next jumbo, with at most its block's number of joins.
    min_part_m
        A joined set has no part shorter than this.

    Raises
    ------
    ValueError
        Two jumbos have one name, or there is neither a listed nor a nominal jumbo.

    Examples
    --------
    >>> from fractions import Fraction
    >>> jumbo = StockJumbo(
    ...     name="J", width_mm=Fraction(4000), usable_m=8000, loss_start_m=0, loss_end_m=0
    ... )
    >>> block = LengthBlock(sets=4, length_m=3000, min_m=2800, max_m=3000)
    >>> laying = lay_sets([block], nominal=jumbo)
    >>> [(butt.left_m, butt.carried_forward) for butt in laying.butts]
    [(2000, False), (2000, True)]
    """
    if not stock and nominal is None:
        raise ValueError("no jumbo is listed and no nominal one is given; give at least one")
    supply = JumboSupply(stock, nominal, in_order=in_order)
    joins = [block.max_joins for block in blocks] if joins_allowed else []

    def lay(counts: Sequence[int]) -> tuple[tuple[LaidSet | None, ...], tuple[Butt, ...]]:
        sets = [
            (place, blocks[place].length_m)
            for place, many in enumerate(counts)
            for _ in range(many)
        ]
        return lay_lengths(sets, supply, max_joins=joins, min_part_m=min_part_m)

    counts = [block.sets for block in blocks]
    laid, butts = lay(counts)
    if None in laid:
        counts = [0] * len(blocks)
        for place in sorted(range(len(blocks)), key=lambda b: blocks[b].urgency):
            kept = _most(lay, counts, place, blocks[place].sets)
            counts[place] = kept
        laid, butts = lay(counts)
    unlaid = tuple(
        UnlaidSets(
            block=place,
            sets=blocks[place].sets - counts[place],
            length_m=blocks[place].length_m,
            why=_why(blocks[place], supply),
        )
        for place in sorted(range(len(blocks)), key=lambda b: blocks[b].urgency)
        if counts[place] < blocks[place].sets
    )
    return Laying(sets=tuple(s for s in laid if s is not None), butts=butts, unlaid=unlaid)


def _most(lay: _Lay, counts: Sequence[int], place: int, sets: int) -> int:
    """Most sets of a block that leave every set counted so far its place."""
    for kept in range(sets, 0, -1):
        trial = [*counts]
        trial[place] = kept
        laid, _ = lay(trial)
        if None not in laid:
            return kept
    return 0


def _why(block: LengthBlock, supply: JumboSupply) -> str:
    longest = supply.usable_m()[0]
    if block.length_m > longest:
        return (
            f"a set of {block.length_m} m is longer than the longest jumbo; "
            f"sets up to {longest} m fit"
        )
    return "the jumbos listed do not last"
