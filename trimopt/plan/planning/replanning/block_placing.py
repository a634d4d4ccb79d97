"""New blocks among kept ones: no order later, then the least butts, set-ups and knife moves.

Kept blocks stand in their order, with their layouts and set lengths. New ones go in one by one,
the most urgent first, each where it costs least; their lengths are such that jumbos are filled.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from trimopt.budget import Budget
from trimopt.plan.model import Block, Settings
from trimopt.plan.planning.objective import Objective
from trimopt.plan.planning.replanning.kept_sets import OnJumbos, on_jumbos, supply_from
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.schedule.block_knives import laid_blocks, with_knives
from trimopt.plan.planning.schedule.run_lots import length_problem
from trimopt.plan.planning.schedule.run_winding import WoundRun
from trimopt.winding import (
    JumboSupply,
    LaidSet,
    LengthBlock,
    LengthProblem,
    SetGain,
    balance,
    timetable,
)

__all__ = ["BlockPlacing"]

_ROUNDS, _WAYS = 6, 3  # of the search for lengths, for each place that a new block may take

_Order = tuple[tuple[bool, int], ...]  # (of the kept, its place among them or the new), as they run


_Rank = tuple[int, int, float]  # sets without paper, orders late, cost


@dataclass(frozen=True, kw_only=True)
class BlockPlacing:
    """Kept blocks of a run, and the sets that were wound for what its orders lack beside them."""

    case: Standing
    kept: tuple[Block, ...]
    wound: WoundRun | None
    name: str  # of nominal jumbos, before their number
    settings: Settings
    start: datetime
    before: Block | None
    objective: Objective

    @cached_property
    def _new(self) -> tuple[Block, ...]:
        return () if self.wound is None else _in_layouts_of(self.kept, self.wound.plan.blocks)

    @cached_property
    def _problem(self) -> LengthProblem:
        """The new blocks along the jumbos."""
        if self.wound is None:
            return LengthProblem(blocks=(), supply=self._supply)
        chosen, order = self.wound.chosen, self.wound.order
        return length_problem(
            chosen.making, chosen.mill, self.wound.cuts, order.lots, chosen.supply
        )

    @cached_property
    def _supply(self) -> JumboSupply:
        return supply_from(self.case)

    @cached_property
    def _due(self) -> dict[str, datetime | None]:
        return {order.number: order.due for order in self.case.run.orders}

    def best(self, budget: Budget) -> OnJumbos:
        """The blocks in the order that costs least, on their jumbos."""
        order: _Order = tuple((True, at) for at in range(len(self.kept)))
        if not self.kept and self.wound is not None:
            laying = self.wound.order.laying
            return on_jumbos(self.case, self._new, laying.sets, laying.butts, self.name)
        found = self._laid(order)
        for at in sorted(range(len(self._new)), key=self._urgency):
            options = []
            for place in self._places(order, at):
                options.append(self._laid((*order[:place], (False, at), *order[place:])))
                if budget.over():
                    break
            found = min(options, key=lambda each: each[0])
            order = found[2]
        return found[1]

    def _urgency(self, at: int) -> tuple[datetime, int]:
        dues = [self._due[p.order] for p in self._new[at].positions if p.order]
        return min((due for due in dues if due is not None), default=datetime.max), at  # noqa: DTZ901

    def _places(self, order: _Order, at: int) -> Iterator[int]:
        """Where a new block may go: beside a block of its widths, else anywhere."""
        alike = [
            place + 1
            for place, (kept, other) in enumerate(order)
            if (self.kept if kept else self._new)[other].knives_mm == self._new[at].knives_mm
        ]
        yield from alike or range(len(order), -1, -1)

    def _laid(self, order: _Order) -> tuple[_Rank, OnJumbos, _Order]:
        """The blocks in an order, on their jumbos, and what that costs."""
        rows: list[tuple[int, LengthBlock, tuple[SetGain, ...]]] = []
        for place, (kept, at) in enumerate(order):
            if not kept:
                rows.append((place, self._problem.blocks[at], self._problem.gains[at]))
                continue
            for row in self.kept[at].sets:
                m = row.length_m
                rows.append((place, LengthBlock(sets=1, length_m=m, min_m=m, max_m=m), ()))
        joint = LengthProblem(
            blocks=tuple(block for _, block, _ in rows),
            supply=self._supply,
            orders=self._problem.orders,
            gains=tuple(gains for _, _, gains in rows) if self._problem.orders else (),
            paper_per_m=self._problem.paper_per_m,
        )
        laying = balance(joint, rounds=_ROUNDS, max_ways=_WAYS, seed=self.settings.seed).laying
        block_of = [place for place, _, _ in rows]
        sets = [replace(each, block=block_of[each.block]) for each in laying.sets]
        blocks = [(self.kept if kept else self._new)[at] for kept, at in order]
        laid = Counter(each.block for each in sets)
        blocks = [replace(b, sets=b.sets[: laid[place]]) for place, b in enumerate(blocks)]
        placed = on_jumbos(self.case, blocks, sets, laying.butts, self.name)
        late, cost = self._cost(placed, sets)
        return (laying.unlaid_sets, late, cost), placed, order

    def _cost(self, placed: OnJumbos, sets: Sequence[LaidSet]) -> tuple[int, float]:
        """Orders late, and what butts, set-ups and knife moves cost."""
        case = self.case
        before = case.head[-1] if case.head else self.before
        blocks = with_knives(placed.blocks, case.mill, self.settings, before=before)
        at_block = [at for at, block in enumerate(blocks) for _ in block.sets]
        sets = [replace(each, block=at) for each, at in zip(sets, at_block, strict=True)]
        times = timetable(sets, laid_blocks(blocks), case.mill.winder, self.start).sets
        finished: dict[str, datetime] = {}
        for each, time in zip(sets, times, strict=True):
            for position in blocks[each.block].positions:
                finished[position.order] = time.finish
        late = sum(
            due is not None and number in finished and finished[number] > due
            for number, due in self._due.items()
        )
        moves = sum(block.knife_moves for block in blocks)
        objective = self.objective
        cost = placed.lost_m * objective.per_m + moves * objective.knife_move
        return late, cost + objective.set_up * sum(block.set_up for block in blocks)


def _in_layouts_of(kept: Sequence[Block], new: Sequence[Block]) -> tuple[Block, ...]:
    """New blocks, each that has the reels of a kept one laid out as it is."""
    known = {_reels(block): block for block in kept}
    return tuple(
        block
        if (same := known.get(_reels(block))) is None
        else replace(
            block,
            positions=same.positions,
            edge_front_mm=same.edge_front_mm,
            edge_back_mm=same.edge_back_mm,
            knives_mm=same.knives_mm,
            beam_mm=same.beam_mm,
        )
        for block in new
    )


def _reels(block: Block) -> object:
    return block.core_mm, frozenset(
        Counter((p.order, p.ups, p.sheeter, p.width_mm) for p in block.positions).items()
    )
