"""A run as a person edited it, read against the run as issued: its blocks, and what was changed.

Only what a person decides is taken from the edited plan: which sets run, in which order, their
reels from the front side, front edge, core, length and jumbo. All else is worked out anew.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from trimopt.book.model import Book, Order, Product
from trimopt.cutting import Pattern
from trimopt.making import PreparedRun, Way, prepare, runs_of, ways
from trimopt.making.odd_classes import with_odd_classes
from trimopt.making.reel_patterns import ReelPatterns
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, Position, RunPlan, SetRow, Settings
from trimopt.plan.planning.chosen_run import supply_of
from trimopt.plan.planning.run_jumbos import RunJumbos, jumbos_in_book, stock_jumbo
from trimopt.winding import JumboSupply, StockJumbo


@dataclass(frozen=True, kw_only=True)
class EditedRun:
    """A run as edited. `blocks` are as they are to run, their sets under issued numbers.

    `moved`: sets run in another order than issued. `layouts_written`, `lengths_written`: a person
    changed a layout, a length. `other_jumbos`: sets whose jumbo was changed.
    """

    issued: RunPlan
    blocks: tuple[Block, ...]
    moved: bool
    layouts_written: bool
    lengths_written: bool
    other_jumbos: frozenset[int]
    mill: Mill  # as the run sees it
    making: PreparedRun
    supply: JumboSupply
    usable_m: int  # of the longest jumbo
    settings: Settings
    odd: tuple[StockJumbo, ...] = ()  # jumbos unlike the others

    @cached_property
    def orders(self) -> dict[str, Order]:
        """Those of the run, by number."""
        return {order.number: order for order in self.making.run.orders}

    @cached_property
    def ways(self) -> dict[str, tuple[Way, ...]]:
        """How each order may be wound."""
        return {
            number: ways(order, self.mill, usable_m=self.usable_m)
            for number, order in self.orders.items()
        }

    @property
    def sets(self) -> tuple[tuple[Block, SetRow], ...]:
        """Every set in running order, with its block."""
        return tuple((block, each) for block in self.blocks for each in block.sets)

    def mill_of(self, block: Block) -> Mill:
        """The mill with the jumbos that a block is wound from."""
        return self.mill.with_jumbos_of(self.issued.web_mm(block))

    def pattern(self, block: Block) -> Pattern | None:
        """A block's pattern at its core, nominal length and jumbos; None: a reel cannot be so."""
        there = self._patterns.winding_class(block.core_mm, block.length_m, block.jumbo_width_mm)
        reels = Counter((reel.order, reel.width_mm) for reel in block.reels)
        return self._patterns.pattern(there, reels)

    @cached_property
    def _patterns(self) -> ReelPatterns:
        return ReelPatterns(self.making)


def wanted(run: RunPlan) -> tuple[object, ...]:
    """What a person decides of a run: equal where nothing was changed."""
    return tuple(
        (
            each.number,
            block.core_mm,
            block.edge_front_mm,
            tuple(replace(position, kind="", number=0) for position in block.positions),
            each.length_m,
            *_jumbos(each),
        )
        for block, each in run.sets_in_blocks
    )


def _jumbos(each: SetRow) -> tuple[object, ...]:
    """The jumbos of a set; of a joined one the metres of its parts too."""
    if len(each.jumbos) == 1:
        return tuple(part.jumbo for part in each.stretches)
    return tuple((part.jumbo, part.to_m - part.from_m) for part in each.stretches)


def edited_run(
    edited: RunPlan, issued: RunPlan, book: Book, mill: Mill, settings: Settings
) -> EditedRun:
    """Read an edited run against the run as issued."""
    place, jumbos, making = _as_planned(issued, book, mill)
    listed = {jumbo.name: jumbo.width_mm for jumbo in jumbos.odd}
    was = {each.number: (block, each) for block, each in issued.sets_in_blocks}
    rows = [
        (
            _on_jumbos(
                _written(block, was.get(each.number), making.run.orders, jumbos.mill),
                listed.get(each.stretches[0].jumbo) if each.stretches else None,
                jumbos.mill,
            ),
            each,
        )
        for block in edited.blocks
        for each in block.sets
    ]
    case = EditedRun(
        issued=issued,
        blocks=_together(rows, settings),
        moved=_moved([each.number for _, each in rows], was),
        layouts_written=any(
            each.number not in was or not _same_layout(block, was[each.number][0])
            for block, each in rows
        ),
        lengths_written=any(
            each.number not in was or each.length_m != was[each.number][1].length_m
            for _, each in rows
        ),
        other_jumbos=frozenset(
            each.number
            for _, each in rows
            if each.number in was and _jumbos(each) != _jumbos(was[each.number][1])
        ),
        mill=jumbos.mill,
        making=making,
        supply=supply_of(jumbos, place, in_order=book.jumbos_in_order),
        odd=tuple(map(stock_jumbo, jumbos.odd)),
        usable_m=max((*jumbos.usable_m, *(jumbo.usable_m for jumbo in jumbos.odd))),
        settings=settings,
    )
    return replace(case, blocks=tuple(_at_listed_length(case, block) for block in case.blocks))


def _as_planned(issued: RunPlan, book: Book, mill: Mill) -> tuple[int, RunJumbos, PreparedRun]:
    """The run's place among the book's, from 1, its jumbos, and it over the lengths as issued."""
    runs = runs_of(replace(book, stock=()), mill)
    place = next(place for place, run in enumerate(runs) if run.name == issued.name)
    jumbos = jumbos_in_book(runs[place], runs, book, mill)
    stock = {line.number: line.stock for line in issued.orders}
    widths = tuple(dict.fromkeys(jumbo.width_mm for jumbo in jumbos.odd))
    run = replace(
        runs[place],
        orders=tuple(
            replace(each, stock=stock[each.number])
            for each in runs[place].orders
            if each.number in stock
        ),
        odd_widths_mm=widths,
    )
    making = prepare(
        run,
        jumbos.mill,
        usable_m=jumbos.usable_m,
        lengths=[
            (row.core_mm, row.length_m) for row in issued.set_lengths if row.jumbo_width_mm is None
        ],
    )
    return place + 1, jumbos, with_odd_classes(making, jumbos.mill, widths)


def _on_jumbos(block: Block, width_mm: Fraction | None, mill: Mill) -> Block:
    """The block off jumbos of that width; None: the run's."""
    if block.jumbo_width_mm == width_mm:
        return block
    deckle_mm = None if width_mm is None else mill.with_jumbos_of(width_mm).deckle_mm
    return replace(block, jumbo_width_mm=width_mm, deckle_mm=deckle_mm, beam_mm=())


def _same_layout(block: Block, other: Block) -> bool:
    return (block.positions, block.edge_front_mm, block.core_mm) == (
        other.positions,
        other.edge_front_mm,
        other.core_mm,
    )


def _moved(numbers: Sequence[int], was: dict[int, tuple[Block, SetRow]]) -> bool:
    """Whether sets of some block run before those of a block that was issued ahead of it."""
    blocks = [was[number][0].number for number in numbers if number in was]
    return any(later < earlier for earlier, later in pairwise(blocks))


def _written(
    block: Block, was: tuple[Block, SetRow] | None, orders: Sequence[Order], mill: Mill
) -> Block:
    """A block with its places counted anew, and the web where it stood, or shifted to fit."""
    sheets = {order.number for order in orders if order.product is Product.SHEET}
    block = replace(
        block,
        positions=tuple(
            _position(position, number, block.core_mm, sheets)
            for number, position in enumerate(block.positions, start=1)
        ),
    )
    if was is not None and _same_layout(block, was[0]):
        return was[0]
    kept = was is not None and was[0].edge_front_mm == block.edge_front_mm
    own = mill if block.jumbo_width_mm is None else mill.with_jumbos_of(block.jumbo_width_mm)
    edge_mm = _edge_front_mm(block, own) if kept else block.edge_front_mm
    return replace(block, edge_front_mm=edge_mm, beam_mm=())


def _position(position: Position, number: int, core_mm: float | None, sheets: set[str]) -> Position:
    core_mm = position.core_mm if core_mm is None else core_mm
    if not position.order:
        return Position(
            number=number, kind="broke", order="", width_mm=position.width_mm, core_mm=core_mm
        )
    kind = "sheeter" if position.order in sheets else "reel"
    return replace(position, number=number, kind=kind, core_mm=core_mm)


def _edge_front_mm(block: Block, mill: Mill) -> Fraction:
    """The front edge nearest to that of the block that leaves both edges inside their limits.

    A person who changes what lies across says nothing of where the web lies. As it was, where
    there is no such place.
    """
    winder = mill.winder
    left_mm = mill.jumbo.width_mm - block.across_mm
    max_mm = left_mm if winder.max_edge_trim_mm is None else winder.max_edge_trim_mm
    low = max(winder.min_edge_trim_mm, left_mm - max_mm)
    high = min(max_mm, left_mm - winder.min_edge_trim_mm)
    if low > high:
        return block.edge_front_mm
    return min(max(block.edge_front_mm, low), high) if winder.web_shift else left_mm / 2


def _together(rows: Sequence[tuple[Block, SetRow]], settings: Settings) -> tuple[Block, ...]:
    """Consecutive sets of one layout as one block."""
    blocks: list[Block] = []
    for block, each in rows:
        last = blocks[-1] if blocks else None
        if (
            last is not None
            and _same_layout(last, block)
            and (last.length_m, last.jumbo_width_mm) == (block.length_m, block.jumbo_width_mm)
            and not (settings.length_change_is_set_up and last.sets[-1].length_m != each.length_m)
        ):
            blocks[-1] = replace(last, sets=(*last.sets, each))
        else:
            blocks.append(replace(block, sets=(each,)))
    return tuple(blocks)


def _at_listed_length(case: EditedRun, block: Block) -> Block:
    """The block at a nominal length that the run was planned over, and that its reels all allow.

    Its own where it is one, else the nearest to its sets; its own too where there is none.
    """
    near_m = sum(each.length_m for each in block.sets) / len(block.sets)
    if case.settings.length_change_is_set_up:
        near_m = block.sets[0].length_m
    listed = [row.length_m for row in case.issued.set_lengths if row.core_mm == block.core_mm]
    for length_m in sorted(listed, key=lambda m: (m != block.length_m, abs(m - near_m), m)):
        at_length = replace(block, length_m=length_m)
        if case.pattern(at_length) is not None:
            return at_length
    return block


def broke_between(block: Block) -> Iterator[Position]:
    """Broke reels with other reels on both sides."""
    places = [reel.number for reel in block.reels]
    for position in block.positions:
        if position.kind == "broke" and places and places[0] < position.number < places[-1]:
            yield position
