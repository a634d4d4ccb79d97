"""What the winder is asked to do and how it is laid out: lots in, blocks with knife positions out.

All positions are millimetres from the front edge of the web as it comes off the jumbo.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from itertools import chain, count, islice

from trimopt.book.model import Defect, Stretch


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One reel across a set. `key` is the caller's; equal keys are the same kind of piece."""

    key: str
    width_mm: Fraction
    no_edge: bool = False
    broke: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A pattern to be run: its strips in no order yet, sets, set length, core.

    `broke_reels` strips are added by the layout, which chooses their widths so that both edge
    strips stay within the winder's limits. `due` and `priority` are those of its most urgent order.
    All lots of a lower `precedence` run before any of a higher one, whatever it costs. Lots of one
    `setting` follow each other without a set-up where their widths are the same.
    """

    number: int
    strips: tuple[Strip, ...]
    sets: int
    length_m: int
    core_mm: float | None
    broke_reels: int = 0
    due: datetime | None = None
    priority: int | None = None
    orders: frozenset[str] = frozenset()  # that it serves
    precedence: int = 0
    fixed_length: bool = False  # its sets keep their length to the metre
    setting: int = 0
    max_web_mm: Fraction | None = None  # of all its strips; None: what the winder takes
    jumbo_width_mm: Fraction | None = None  # of the jumbos that it is wound from; None: the run's

    @property
    def set_up_for(self) -> tuple[int, int, tuple[Fraction, ...]]:
        """What the winder is set up for: equal for lots between which there is no set-up."""
        return self.setting, self.broke_reels, tuple(sorted(s.width_mm for s in self.strips))


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Strips from front to back with the knives between them: m strips, m + 1 knives."""

    strips: tuple[Strip, ...]
    edge_front_mm: Fraction
    edge_back_mm: Fraction
    knives_mm: tuple[Fraction, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidBlock:
    """A block in the running order, with what it takes to set it up after the one before.

    `moved` says of each knife in `layout.knives_mm` whether it had to move; `moves` is the winder's
    count with the order of the knives kept. `beam_mm` is where every knife of the beam stands once
    the block is set up, front to back, None for one that is out of the way at its end of the beam:
    `moves` is the number of entries that differ from the block before
    (`trimopt.winding.knives.knife_moves` has the rules).
    """

    lot: int
    layout: Layout
    set_up: bool
    moves: int
    moved: tuple[bool, ...]
    beam_mm: tuple[Fraction | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """All blocks in running order; the bound holds for these lots, over all orders and layouts."""

    blocks: tuple[LaidBlock, ...]
    moves_bound: int = 0

    @property
    def set_ups(self) -> int:
        """Changes of pattern; the first set-up counts apart, so it is not in here."""
        return sum(block.set_up for block in self.blocks[1:])

    @property
    def moves(self) -> int:
        return sum(block.moves for block in self.blocks)


def set_up_where_needed(blocks: Sequence[LaidBlock], lots: Iterable[Lot]) -> tuple[LaidBlock, ...]:
    """The blocks, each but the first set up where the one before it was not for the same."""
    setting = {lot.number: lot.setting for lot in lots}
    done: list[LaidBlock] = []
    before: tuple[int, Counter[Fraction]] | None = None
    for block in blocks:
        now = setting[block.lot], Counter(strip.width_mm for strip in block.layout.strips)
        done.append(replace(block, set_up=now != before) if done else block)
        before = now
    return tuple(done)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockJumbo:
    """A jumbo to unwind: what can be wound from it begins at `from_m`."""

    name: str
    width_mm: Fraction
    usable_m: int
    loss_start_m: int
    loss_end_m: int
    nominal: bool = True
    started: bool = False  # it is on the unwind: used first or not at all
    defects: tuple[Defect, ...] = ()

    @property
    def cut_out(self) -> tuple[tuple[int, int], ...]:
        """Metres that are cut out from side to side, counted from where the usable length begins.

        Their ends, in the order in which they are unwound.
        """
        usable = (
            (
                max(0, each.from_m - self.loss_start_m),
                min(self.usable_m, each.to_m - self.loss_start_m),
            )
            for each in self.defects
            if each.side_to_side(self.width_mm)
        )
        return tuple((start, end) for start, end in usable if start < end)

    @property
    def cut_m(self) -> int:
        return sum(end - start for start, end in self.cut_out)

    def wound_from(self, from_m: int, metres: int, joins: int = 0) -> tuple[tuple[int, int], ...]:
        """The first place, from there on, of so many metres: parts between what is cut out.

        Parameters
        ----------
        joins
            How many there may be between parts.
        """
        for begin in (from_m, *(end for _, end in self.cut_out if end > from_m)):
            parts, reached, rest = [], begin, metres
            for start, end in self.cut_out:
                if start < reached + rest and reached < end:
                    if reached < start:
                        parts.append((reached, start))
                        rest -= start - reached
                    reached = end
            parts.append((reached, reached + rest))
            if len(parts) <= joins + 1:
                break
        return tuple(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class JumboSupply:
    """The jumbos that may be opened: those listed, in their order, then nominal ones.

    Parameters
    ----------
    stock
        Jumbos that there are; one already started stands first, with what is left of it.
    nominal
        What follows where the list runs out. None: the list is all there is.
    in_order
        Whether a listed jumbo that was skipped because the next set was too long for it is set
        aside for good. Else it waits for a shorter set.
    taken
        Names that no nominal jumbo may bear.
    min_part_m
        A set that is joined over jumbos has no part shorter than this.

    Raises
    ------
    ValueError
        Two jumbos have one name.
    """

    stock: tuple[StockJumbo, ...] = ()
    nominal: StockJumbo | None = None
    in_order: bool = False
    min_part_m: int = 1
    taken: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        names = [jumbo.name for jumbo in self.stock]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"jumbo {twice[0]} is listed twice; every jumbo needs its own name")

    @property
    def empty(self) -> bool:
        """Whether there is no jumbo at all."""
        return not self.stock and self.nominal is None

    @property
    def usable_m(self) -> tuple[int, ...]:
        """The different usable lengths that there are, longest first."""
        nominal = () if self.nominal is None else (self.nominal,)
        return tuple(sorted({jumbo.usable_m for jumbo in (*self.stock, *nominal)}, reverse=True))

    def nominals(self) -> Iterator[StockJumbo]:
        """Nominal jumbos, numbered, without end; none where there is no nominal one."""
        if self.nominal is None:
            return
        taken = {*self.taken, *(jumbo.name for jumbo in self.stock)}
        for number in count(1):
            name = f"{self.nominal.name} {number}".strip()
            if name not in taken:
                yield replace(self.nominal, name=name, nominal=True)

    def first(self, many: int) -> tuple[StockJumbo, ...]:
        """At most so many jumbos, in order."""
        return tuple(islice(chain(self.stock, self.nominals()), many))


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidSet:
    """One set on its jumbo (on two, where a join is allowed)."""

    block: int  # position in the running order
    length_m: int
    stretches: tuple[Stretch, ...]
    spoiled: tuple[int, ...] = ()  # positions that a band of defects costs
    seconds: tuple[int, ...] = ()  # positions with one whose order takes it


@dataclass(frozen=True, slots=True, kw_only=True)
class Butt:
    """A jumbo that was used, and what is left on it."""

    jumbo: StockJumbo
    wound_m: int
    left_m: int
    carried_forward: bool  # the last one's remainder is kept, not lost
