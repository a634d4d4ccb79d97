"""Kept and new blocks along the jumbos: which lengths their sets may have, and which fill them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import groupby
from operator import itemgetter

from trimopt.book.model import Instruction
from trimopt.budget import Budget
from trimopt.cutting import Cut
from trimopt.making import PreparedRun
from trimopt.plan.model import Block
from trimopt.plan.planning.order_tally import tallies
from trimopt.plan.planning.replanning.filled_orders import filled_orders
from trimopt.plan.planning.replanning.kept_sets import BlockPieces, supply_from
from trimopt.plan.planning.replanning.rest_instructions import pins
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.schedule.run_lots import length_rows, lots_of, order_slacks
from trimopt.winding import (
    JumboSupply,
    Laying,
    LengthBlock,
    LengthProblem,
    OrderSlack,
    SetGain,
    balance,
    balance_at,
    narrowed,
)

_WAYS = 3  # to end the jumbos that are tried for each order
_FILLED = 2  # orders that fill the jumbos,
_BOLD = 1.0, 2.0  # for each of so far that lengths are counted on

KeptSet = tuple[int, int]  # a kept block, and the place of a set in it
Item = tuple[bool, int]  # of the kept, its place among them or the new
BlockOrder = tuple[Item, ...]  # as they run
LengthRow = tuple[LengthBlock, tuple[SetGain, ...]]


@dataclass(frozen=True, kw_only=True)
class BlockLengths:
    """The lengths of a run's kept blocks and of the new ones beside them.

    `lengths` are cores and set lengths that the new ones were sought over. Where a change of length
    is a set-up, or a pin states one, sets have the length of their block.
    """

    case: Standing
    kept: tuple[Block, ...]
    new: tuple[Block, ...]
    lengths: tuple[tuple[float | None, int], ...]
    pins: tuple[Instruction, ...] = ()

    def rows(self, item: Item, free: frozenset[KeptSet] = frozenset()) -> Iterator[LengthRow]:
        """The sets of a block; those of a kept one may be longer or shorter where they are free."""
        kept, at = item
        return self._kept_rows(at, free) if kept else self._new_rows(at)

    def filled(
        self, order: BlockOrder, loose: BlockOrder, budget: Budget, *, swift: bool = False
    ) -> dict[BlockOrder, tuple[int, ...]]:
        """Orders in which loose blocks among the others fill the jumbos, with that of each set.

        Parameters
        ----------
        swift
            Only those in which no order can break for the lengths that are counted on.
        """
        held = [[block for block, _ in self.rows(item)] for item in order]
        problem = self._problem([next(self.rows(item)) for item in loose], self.supply)
        sets = sum(len(block.sets) for block in (*self.kept, *self.new))
        usable_m = [jumbo.usable_m for jumbo in self.supply.first(2 * sets)]
        found = {}
        for bold in (_BOLD[:1] if swift else _BOLD) if loose else ():
            for each in filled_orders(held, narrowed(problem, bold), usable_m, _FILLED, budget):
                others = iter(order)
                place = tuple(next(others) if at < 0 else loose[at] for at in each.order)
                found[place] = each.jumbos
        return found

    def balanced(
        self,
        rows: Sequence[LengthRow],
        supply: JumboSupply,
        jumbos: Sequence[int] = (),
        budget: Budget | None = None,
    ) -> tuple[Laying, Fraction]:
        """The best lengths of rows in running order, and the loss with them.

        Parameters
        ----------
        jumbos
            Of each set that on which it fills up the others; empty: that is not known.
        budget
            As that of `balance`.
        """
        problem = self._problem(rows, supply)
        if not rows:
            nothing = Laying(sets=(), butts=())
            return nothing, problem.loss(nothing)
        laying = balance(problem, max_ways=_WAYS, budget=budget).laying
        if jumbos and len(supply.first(max(jumbos) + 1)) > max(jumbos):  # listed ones may not last
            every = [at for at, (block, _) in enumerate(rows) for _ in range(block.sets)]
            each = zip(jumbos, every, strict=True)
            on = [Counter(at for _, at in sets) for _, sets in groupby(each, itemgetter(0))]
            filled = balance_at(problem, [tuple(sorted(c.items())) for c in on]).laying
            laying = min(laying, filled, key=lambda each: (each.unlaid_sets, problem.loss(each)))
        return laying, problem.loss(laying)

    @cached_property
    def supply(self) -> JumboSupply:
        """The jumbos, the started one first."""
        return supply_from(self.case)

    @cached_property
    def paper_per_m(self) -> Fraction:
        """Paper of a metre of jumbo, in area units."""
        return self.case.mill.jumbo.width_mm / self._making.unit_mm

    def _problem(self, rows: Sequence[LengthRow], supply: JumboSupply) -> LengthProblem:
        return LengthProblem(
            blocks=tuple(block for block, _ in rows),
            supply=supply,
            orders=self._orders,
            gains=tuple(gains for _, gains in rows),
            paper_per_m=self.paper_per_m,
        )

    @cached_property
    def _making(self) -> PreparedRun:
        """The whole run over the lengths of kept and new blocks."""
        lengths = [(block.core_mm, block.length_m) for block in self.kept]
        lengths += self.lengths
        return self.case.making_of_all(self.case.run.orders, tuple(dict.fromkeys(lengths)))

    @cached_property
    def _rows(self) -> dict[Item, LengthRow | None]:
        """Kept and new blocks along the jumbos; None for one with a reel that no order takes."""
        engine = BlockPieces(self._making)
        rows: dict[Item, LengthRow | None] = {}
        for kept, blocks in ((True, self.kept), (False, self.new)):
            for at, block in enumerate(blocks):
                pattern = engine.pattern(block)
                rows[kept, at] = None
                if pattern is not None:
                    (lot,) = lots_of(self._making, (Cut(pattern, len(block.sets)),))
                    rows[kept, at] = length_rows(self._making, self.case.mill, lot)
        return rows

    @cached_property
    def _orders(self) -> tuple[OrderSlack, ...]:
        """What orders have of the head and of all blocks, these at their lengths in `_laid`."""
        nominal = [
            replace(block, sets=tuple(replace(r, length_m=block.length_m) for r in block.sets))
            for block in self.new
        ]
        blocks = (*self.case.head, *self.kept, *nominal)
        making = replace(self._making, run=self.case.run)  # with orders that only the head serves
        made = tallies(making, self.case.mill, blocks)
        slacks = order_slacks(self._making, self.case.mill, ())
        return tuple(
            replace(
                each,
                made=Fraction(made[each.order].gain),
                worth=Fraction(made[each.order].area),
            )
            for each in slacks
        )

    def _new_rows(self, at: int) -> Iterator[LengthRow]:
        block = self.new[at]
        row = self._rows[False, at]
        m = block.length_m
        held = LengthBlock(sets=len(block.sets), length_m=m, min_m=m, max_m=m)
        if row is not None and self._holds(block):
            row = held, row[1]
        yield row or (held, ())

    def _holds(self, block: Block) -> bool:
        """Whether sets of a block have its length to the metre."""
        if self.case.mill.winder.length_change_is_set_up:
            return True
        return any(pin.length_m is not None and pins(pin, block) for pin in self.pins)

    def _kept_rows(self, at: int, free: frozenset[KeptSet]) -> Iterator[LengthRow]:
        """Each set at its own length, which may move where it is free."""
        row = self._rows[True, at]
        free = frozenset() if self._holds(self.kept[at]) else free
        for place, each in enumerate(self.kept[at].sets):
            m = each.length_m
            held = LengthBlock(sets=1, length_m=m, min_m=m, max_m=m)
            if row is None:
                yield held, ()
            elif (at, place) in free and row[0].min_m <= m <= row[0].max_m:
                yield replace(row[0], sets=1, length_m=m), row[1]
            else:
                yield held, row[1]
