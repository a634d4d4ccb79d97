"""New blocks among kept ones: no order later, then the least butts, set-ups and knife moves.

Kept blocks stand in their order, with their layouts and set lengths. New ones are moved among them
until no place of one costs less; their lengths are such that jumbos are filled. Where a butt is
left all the same, the lengths of kept blocks move if that is worth the change.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from functools import cached_property

from trimopt.budget import Budget
from trimopt.cutting import Cut, Pattern
from trimopt.making import PreparedRun
from trimopt.plan.model import Block, Settings
from trimopt.plan.planning.objective import Objective
from trimopt.plan.planning.order_tally import tallies
from trimopt.plan.planning.replanning.kept_sets import (
    OnJumbos,
    blocks_changed,
    on_jumbos,
    same_metres,
    supply_from,
)
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.schedule.block_knives import laid_blocks, with_knives
from trimopt.plan.planning.schedule.run_lots import length_rows, lots_of, order_slacks
from trimopt.plan.planning.schedule.run_winding import WoundRun
from trimopt.winding import (
    JumboSupply,
    LaidSet,
    LengthBlock,
    LengthProblem,
    OrderSlack,
    SetGain,
    balance,
    timetable,
)

_WAYS = 3  # to end the jumbos that are tried for each order
_RELAXED = 4  # best orders in which lengths of kept blocks may move

_Order = tuple[tuple[bool, int], ...]  # (of the kept, its place among them or the new), as they run
_Rank = tuple[int, int, float]  # sets without paper, orders late, cost
_Placed = tuple[_Rank, OnJumbos, _Order, frozenset[str]]  # and the orders that are late


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
    disturbance: float

    def best(self, budget: Budget) -> OnJumbos:
        """The blocks in the order that costs least, on their jumbos."""
        met: dict[_Order, _Placed] = {}
        if not self.kept and self.wound is not None:
            placed = self._as_wound(self.wound)
            if not placed[3] or self.wound.chosen.odd is not None:
                return placed[1]
            met[placed[2]] = placed
        for order in self._starts() if self.kept else ():
            # However little time there is, an order is late only where no place saves it.
            if budget.over() and met and not min(met.values(), key=lambda each: each[0])[3]:
                break
            met[order] = self._laid(order)
        improved = bool(self._new)
        while improved and not budget.over():
            least = min(met, key=lambda order: met[order][0])
            for near in self._near(least, met[least][3]):
                self._meet(near, met, budget)
            improved = min(met, key=lambda order: met[order][0]) != least
        found = sorted(met.values(), key=lambda each: each[0])[:_RELAXED]
        return min((self._relaxed(each, budget) for each in found), key=lambda each: each[0])[1]

    def _meet(self, order: _Order, met: dict[_Order, _Placed], budget: Budget) -> None:
        if order not in met and not (met and budget.over()):
            met[order] = self._laid(order)

    def _starts(self) -> Iterator[_Order]:
        """The new blocks, the most urgent first, in each place; those alike beside their own."""
        order: _Order = tuple((True, at) for at in range(len(self.kept)))
        loose = []
        for at in sorted(range(len(self._new)), key=self._urgency):
            beside = self._beside(order, at)
            if beside is None:
                loose.append((False, at))
            else:
                order = (*order[:beside], (False, at), *order[beside:])
        # Behind all others first: there they leave the jumbos of the others as they are.
        for place in range(len(order) if loose else 0, -1, -1):
            yield (*order[:place], *loose, *order[place:])

    def _near(self, order: _Order, late: frozenset[str]) -> Iterator[_Order]:
        """Orders with a new block elsewhere: where any is late, one with a late order, earlier."""
        for at, item in enumerate(order):
            if item[0]:
                continue
            if late and not late & {p.order for p in self._new[item[1]].positions}:
                continue
            rest = tuple(other for other in order if other != item)
            if self._beside(rest, item[1]) is None:
                for place in range(at if late else len(rest) + 1):
                    yield (*rest[:place], item, *rest[place:])

    def _as_wound(self, wound: WoundRun) -> _Placed:
        """The new blocks alone, in the order in which they were wound."""
        laying = wound.order.laying
        placed = on_jumbos(self.case, self._new, laying.sets, laying.butts, self.name)
        late, set_ups, moves = self._wound_cost(placed, laying.sets)
        loss = wound.order.loss_area or Fraction(0)
        rank = laying.unlaid_sets, len(late), self.objective.cost(loss, set_ups, moves)
        return rank, placed, tuple((False, at) for at in range(len(self._new))), late

    def _relaxed(self, found: _Placed, budget: Budget) -> _Placed:
        """The same order, with the lengths of a kept block moved, or of all, where that pays."""
        every = frozenset(range(len(self.kept)))
        for free in (every, *(frozenset((at,)) for at in sorted(every))):
            # All at once are tried whatever the time: a butt left is tonnes.
            if (budget.over() and free != every) or not found[1].lost_m:
                break
            if not self._new and same_metres(self.kept, found[1].blocks):
                break
            found = min(found, self._laid(found[2], free), key=lambda each: each[0])
        return found

    @cached_property
    def _new(self) -> tuple[Block, ...]:
        return () if self.wound is None else _in_layouts_of(self.kept, self.wound.plan.blocks)

    @cached_property
    def _making(self) -> PreparedRun:
        """The whole run over the lengths of kept and new blocks."""
        lengths = [(block.core_mm, block.length_m) for block in self.kept]
        if self.wound is not None:
            classes = self.wound.chosen.making.classes
            lengths += [(each.core_mm, each.length_m) for each in classes]
        return self.case.making_of_all(self.case.run.orders, tuple(dict.fromkeys(lengths)))

    @cached_property
    def _rows(self) -> dict[tuple[bool, int], tuple[LengthBlock, tuple[SetGain, ...]] | None]:
        """Kept and new blocks along the jumbos; None for one with a reel that no order takes."""
        options = {
            (o.order.number, o.width_mm, self._class(o.winding_class)): k
            for k, o in enumerate(self._making.options)
        }
        rows: dict[tuple[bool, int], tuple[LengthBlock, tuple[SetGain, ...]] | None] = {}
        for kept, blocks in ((True, self.kept), (False, self._new)):
            for at, block in enumerate(blocks):
                length = block.core_mm, block.length_m
                pieces = Counter(
                    options.get((p.order, p.width_mm, length))
                    for p in block.positions
                    if p.kind != "broke"
                )
                rows[kept, at] = None
                if None not in pieces:
                    counts = tuple(sorted((k, n) for k, n in pieces.items() if k is not None))
                    place = self._making.options[counts[0][0]].winding_class
                    cut = Cut(Pattern(place, counts), len(block.sets))
                    (lot,) = lots_of(self._making, (cut,))
                    rows[kept, at] = length_rows(self._making, self.case.mill, lot)
        return rows

    def _class(self, winding_class: int) -> tuple[float | None, int]:
        each = self._making.classes[winding_class]
        return each.core_mm, each.length_m

    @cached_property
    def _orders(self) -> tuple[OrderSlack, ...]:
        """What orders have of the head and of all blocks, these at their lengths in `_laid`."""
        nominal = [
            replace(block, sets=tuple(replace(r, length_m=block.length_m) for r in block.sets))
            for block in self._new
        ]
        blocks = (*self.case.head, *self.kept, *nominal)
        made = tallies(self._making, self.case.mill, blocks)
        slacks = order_slacks(self._making, self.case.mill, ())
        return tuple(
            replace(
                each,
                made=Fraction(made[each.order].gain),
                worth=Fraction(made[each.order].area),
            )
            for each in slacks
        )

    @cached_property
    def _supply(self) -> JumboSupply:
        return supply_from(self.case)

    @cached_property
    def _due(self) -> dict[str, datetime | None]:
        return {order.number: order.due for order in self.case.run.orders}

    def _urgency(self, at: int) -> tuple[datetime, int]:
        dues = [self._due[p.order] for p in self._new[at].positions if p.order]
        return min((due for due in dues if due is not None), default=datetime.max), at  # noqa: DTZ901

    def _beside(self, order: _Order, at: int) -> int | None:
        """The place behind a kept block that a new one is cut alike; None: there is none."""
        for place, (kept, other) in enumerate(order):
            if kept and self.kept[other].knives_mm == self._new[at].knives_mm:
                return place + 1
        return None

    def _laid(self, order: _Order, free: frozenset[int] = frozenset()) -> _Placed:
        """The blocks in an order, on their jumbos, and what that costs.

        Parameters
        ----------
        free
            Kept blocks whose lengths may move; each that does costs what its disturbance does.
        """
        rows = [
            (place, *each)
            for place, (kept, at) in enumerate(order)
            for each in (self._kept_rows(at, free=at in free) if kept else self._new_rows(at))
        ]
        problem = LengthProblem(
            blocks=tuple(block for _, block, _ in rows),
            supply=self._supply,
            orders=self._orders,
            gains=tuple(gains for _, _, gains in rows),
            paper_per_m=self.case.mill.jumbo.width_mm / self._making.unit_mm,
        )
        laying = balance(problem, max_ways=_WAYS, seed=self.settings.seed).laying
        sets = [replace(each, block=rows[each.block][0]) for each in laying.sets]
        blocks = [(self.kept if kept else self._new)[at] for kept, at in order]
        laid = Counter(each.block for each in sets)
        blocks = [replace(b, sets=b.sets[: laid[place]]) for place, b in enumerate(blocks)]
        placed = on_jumbos(self.case, blocks, sets, laying.butts, self.name)
        late, set_ups, moves = self._wound_cost(placed, sets)
        cost = self.objective.cost(problem.loss(laying), set_ups, moves)
        cost += self.disturbance * blocks_changed(self.kept, placed.blocks)
        return (laying.unlaid_sets, len(late), cost), placed, order, late

    def _new_rows(self, at: int) -> Iterator[tuple[LengthBlock, tuple[SetGain, ...]]]:
        block = self._new[at]
        row = self._rows[False, at]
        m = block.length_m
        yield row or (LengthBlock(sets=len(block.sets), length_m=m, min_m=m, max_m=m), ())

    def _kept_rows(
        self, at: int, *, free: bool
    ) -> Iterator[tuple[LengthBlock, tuple[SetGain, ...]]]:
        """Each set at its own length, which may move where it is free."""
        row = self._rows[True, at]
        for each in self.kept[at].sets:
            m = each.length_m
            held = LengthBlock(sets=1, length_m=m, min_m=m, max_m=m)
            if row is None:
                yield held, ()
            elif free and row[0].min_m <= m <= row[0].max_m:
                yield replace(row[0], sets=1, length_m=m), row[1]
            else:
                yield held, row[1]

    def _wound_cost(
        self, placed: OnJumbos, sets: Sequence[LaidSet]
    ) -> tuple[frozenset[str], int, int]:
        """Orders late, set-ups and knife moves."""
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
        late = frozenset(
            number
            for number, due in self._due.items()
            if due is not None and number in finished and finished[number] > due
        )
        set_ups = sum(block.set_up for block in blocks)
        return late, set_ups, sum(block.knife_moves for block in blocks)


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
