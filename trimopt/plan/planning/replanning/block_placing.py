"""New blocks among kept ones: no order later, then the least butts, set-ups and knife moves.

Kept blocks stand in their order, with their layouts and set lengths. New ones are moved among them
until no place of one costs less; their lengths are such that jumbos are filled. Where a butt is
left all the same, the lengths of kept blocks move if that is worth the change.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from functools import cached_property

from trimopt.budget import Budget
from trimopt.cutting import Cut
from trimopt.making import PreparedRun
from trimopt.plan.model import Block, Settings
from trimopt.plan.planning.objective import Objective
from trimopt.plan.planning.order_tally import tallies
from trimopt.plan.planning.replanning.issued_places import in_places
from trimopt.plan.planning.replanning.kept_sets import (
    BlockPieces,
    OnJumbos,
    blocks_changed,
    on_jumbos,
    same_metres,
    supply_from,
)
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.schedule.block_knives import laid_blocks, laid_sets, set_up_between
from trimopt.plan.planning.schedule.run_lots import length_rows, lots_of, order_slacks
from trimopt.plan.planning.schedule.run_winding import WoundRun
from trimopt.winding import (
    JumboSupply,
    Laying,
    LengthBlock,
    LengthProblem,
    OrderSlack,
    SetGain,
    balance,
    timetable,
)

_WAYS = 3  # to end the jumbos that are tried for each order
_RELAXED = 4  # best orders in which lengths of kept blocks may move
_WORK = 800  # sets that are laid for all orders together

_Set = tuple[int, int]  # a kept block, and the place of a set in it
_Order = tuple[tuple[bool, int], ...]  # (of the kept, its place among them or the new), as they run
_Row = tuple[int, LengthBlock, tuple[SetGain, ...]]  # sets of the block at a place in the order
_Rank = tuple[int, int, float]  # sets without paper, orders late, cost
_Placed = tuple[_Rank, OnJumbos, _Order, frozenset[str]]  # and the orders that are late


@dataclass(frozen=True, kw_only=True)
class BlockPlacing:
    """Kept blocks of a run, and the sets that were wound for what its orders lack beside them.

    New blocks with the reels of a block in `issued` are laid out as it was.
    """

    case: Standing
    kept: tuple[Block, ...]
    issued: tuple[Block, ...]
    wound: WoundRun | None
    name: str  # of nominal jumbos, before their number
    settings: Settings
    start: datetime
    before: Block | None
    objective: Objective
    disturbance: float

    def best(self, budget: Budget, *, swift: bool = False) -> OnJumbos:
        """The blocks in the order that costs least, on their jumbos.

        Parameters
        ----------
        swift
            New blocks stand behind all others unless that makes an order late.
        """
        budget = budget.share(1.0, 0 if swift else _WORK)
        if not (self.kept or self._new):
            return on_jumbos(self.case, (), (), (), self.name)
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
            in_places = None if met else self._in_places(order)
            laid = [self._laid(order), *([] if in_places is None else [in_places])]
            met[order] = min(laid, key=lambda each: each[0])
            budget.work += self._sets
        improved = bool(self._new)
        while improved and not budget.over():
            least = min(met, key=lambda order: met[order][0])
            for near in self._near(least, met[least][3]):
                self._meet(near, met, budget)
            improved = min(met, key=lambda order: met[order][0]) != least
        first, *others = sorted(met.values(), key=lambda each: each[0])[:_RELAXED]
        best = self._relaxed(first, budget)
        for other in others:
            if budget.over():
                break
            best = min(best, self._relaxed(other, budget), key=lambda each: each[0])
        return best[1]

    def _meet(self, order: _Order, met: dict[_Order, _Placed], budget: Budget) -> None:
        if order not in met and not (met and budget.over()):
            met[order] = self._laid(order)
            budget.work += self._sets

    @cached_property
    def _sets(self) -> int:
        return sum(len(block.sets) for block in (*self.kept, *self._new))

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
        late, set_ups, moves = self._wound_cost(placed)
        loss = wound.order.loss_area or Fraction(0)
        rank = laying.unlaid_sets, len(late), self.objective.cost(loss, set_ups, moves)
        return rank, placed, tuple((False, at) for at in range(len(self._new))), late

    def _relaxed(self, found: _Placed, budget: Budget) -> _Placed:
        """The same order, with lengths of kept sets moved where that pays.

        First of those that share a jumbo with a butt, so that others stay; then of all, and of
        each block.
        """
        every = self._sets_of(range(len(self.kept)))
        beside = self._beside_butts(found)
        for free in dict.fromkeys(
            (beside, every, *(self._sets_of((at,)) for at in range(len(self.kept))))
        ):
            # All at once are tried whatever the time: a butt left is tonnes.
            if (budget.over() and free not in (beside, every)) or not found[1].with_butts:
                break
            if not self._new and same_metres(self.kept, found[1].blocks):
                break
            found = min(found, self._laid(found[2], free), key=lambda each: each[0])
            budget.work += self._sets
        return found

    def _sets_of(self, blocks: Iterable[int]) -> frozenset[_Set]:
        return frozenset((at, place) for at in blocks for place in range(len(self.kept[at].sets)))

    def _beside_butts(self, found: _Placed) -> frozenset[_Set]:
        """The kept sets on jumbos that leave a butt."""
        _, placed, order, _ = found
        return frozenset(
            (at, place)
            for (kept, at), block in zip(order, placed.blocks, strict=False)
            for place, row in enumerate(block.sets)
            if kept and placed.with_butts & {*row.jumbos}
        )

    @cached_property
    def _new(self) -> tuple[Block, ...]:
        return (
            ()
            if self.wound is None
            else _in_layouts_of((*self.issued, *self.kept), self.wound.plan.blocks)
        )

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
        engine = BlockPieces(self._making)
        rows: dict[tuple[bool, int], tuple[LengthBlock, tuple[SetGain, ...]] | None] = {}
        for kept, blocks in ((True, self.kept), (False, self._new)):
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

    def _laid(self, order: _Order, free: frozenset[_Set] = frozenset()) -> _Placed:
        """The blocks in an order, end to end on their jumbos, and what that costs.

        Parameters
        ----------
        free
            Kept sets whose lengths may move; each block of which one does costs its disturbance.
        """
        rows = [
            (place, *each)
            for place, (kept, at) in enumerate(order)
            for each in (self._kept_rows(at, free) if kept else self._new_rows(at))
        ]
        laying, loss = self._balanced(rows, self._supply)
        blocks = [(self.kept if kept else self._new)[at] for kept, at in order]
        placed = self._on_jumbos(self.case, blocks, rows, laying)
        return self._ranked(order, placed, laying.unlaid_sets, loss)

    def _in_places(self, order: _Order) -> _Placed | None:
        """Kept blocks where they were issued, and behind them the new ones in their order."""
        found = in_places(self.case, self.kept)
        if found is None:  # sets for orders that are saved stand before the kept ones
            return None
        kept, jumbos = found
        behind = self.case.after(kept, jumbos)
        new = [at for is_kept, at in order if not is_kept]
        rows = [(place, *row) for place, at in enumerate(new) for row in self._new_rows(at)]
        laying, loss = self._balanced(rows, supply_from(behind))
        placed = self._on_jumbos(behind, [self._new[at] for at in new], rows, laying)
        loss += self._paper_per_m * (behind.taken_m - self.case.taken_m)
        ended = behind.opened[max(0, len(self.case.opened) - 1) : -1]
        left = frozenset(j.name for j in ended if behind.reached_m[j.name] < j.usable_m)
        placed = replace(
            placed,
            blocks=(*kept, *placed.blocks),
            jumbos={**jumbos, **placed.jumbos},
            with_butts=left | placed.with_butts,
        )
        every = tuple((True, at) for at in range(len(self.kept)))
        order = (*every, *((False, at) for at in new))
        return self._ranked(order, placed, laying.unlaid_sets, loss)

    def _balanced(self, rows: Sequence[_Row], supply: JumboSupply) -> tuple[Laying, Fraction]:
        """The best lengths of rows in running order, and the loss with them."""
        problem = LengthProblem(
            blocks=tuple(block for _, block, _ in rows),
            supply=supply,
            orders=self._orders,
            gains=tuple(gains for _, _, gains in rows),
            paper_per_m=self._paper_per_m,
        )
        if not rows:
            nothing = Laying(sets=(), butts=())
            return nothing, problem.loss(nothing)
        laying = balance(problem, max_ways=_WAYS, seed=self.settings.seed).laying
        return laying, problem.loss(laying)

    def _on_jumbos(
        self, case: Standing, blocks: Sequence[Block], rows: Sequence[_Row], laying: Laying
    ) -> OnJumbos:
        """Blocks whose rows were laid; of a block with a set that finds no paper its first ones."""
        laid = Counter(rows[each.block][0] for each in laying.sets)
        blocks = [replace(b, sets=b.sets[: laid[place]]) for place, b in enumerate(blocks)]
        return on_jumbos(case, blocks, laying.sets, laying.butts, self.name)

    def _ranked(self, order: _Order, placed: OnJumbos, unlaid: int, loss: Fraction) -> _Placed:
        late, set_ups, moves = self._wound_cost(placed)
        cost = self.objective.cost(loss, set_ups, moves)
        cost += self.disturbance * blocks_changed(self.kept, placed.blocks)
        return (unlaid, len(late), cost), placed, order, late

    @cached_property
    def _paper_per_m(self) -> Fraction:
        return self.case.mill.jumbo.width_mm / self._making.unit_mm

    def _new_rows(self, at: int) -> Iterator[tuple[LengthBlock, tuple[SetGain, ...]]]:
        block = self._new[at]
        row = self._rows[False, at]
        m = block.length_m
        yield row or (LengthBlock(sets=len(block.sets), length_m=m, min_m=m, max_m=m), ())

    def _kept_rows(
        self, at: int, free: frozenset[_Set]
    ) -> Iterator[tuple[LengthBlock, tuple[SetGain, ...]]]:
        """Each set at its own length, which may move where it is free."""
        row = self._rows[True, at]
        for place, each in enumerate(self.kept[at].sets):
            m = each.length_m
            held = LengthBlock(sets=1, length_m=m, min_m=m, max_m=m)
            if row is None:
                yield held, ()
            elif (at, place) in free and row[0].min_m <= m <= row[0].max_m:
                yield replace(row[0], sets=1, length_m=m), row[1]
            else:
                yield held, row[1]

    def _wound_cost(self, placed: OnJumbos) -> tuple[frozenset[str], int, int]:
        """Orders late, set-ups and knife moves, these counted as places where no knife stood."""
        case, blocks = self.case, list[Block]()
        last = case.head[-1] if case.head else self.before
        for block in placed.blocks:
            stood = block.knives_mm if last is None else last.knives_mm
            set_up = last is None or set_up_between(last, block, self.settings)
            moves = len({*block.knives_mm} - {*stood})
            blocks.append(replace(block, set_up=set_up, knife_moves=moves))
            last = block
        sets = laid_sets(blocks)
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


def _in_layouts_of(issued: Sequence[Block], new: Sequence[Block]) -> tuple[Block, ...]:
    """New blocks, each that has the reels of an issued one laid out as it is."""
    known = {_reels(block): block for block in issued}
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
