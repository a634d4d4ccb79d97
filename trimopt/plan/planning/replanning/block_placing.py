"""New blocks among kept ones: no order later, then the least butts, set-ups and knife moves.

Kept blocks stand in their order, with their layouts and set lengths. New ones are moved among them
until no place of one costs less; their lengths are such that jumbos are filled. Where a butt is
left all the same, the lengths of kept blocks move if that is worth the change.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from functools import cached_property

from trimopt.book.model import Instruction
from trimopt.budget import Budget
from trimopt.interrupt import asked_to_stop
from trimopt.plan.model import Block, Settings
from trimopt.plan.planning.objective import Objective
from trimopt.plan.planning.replanning.block_lengths import (
    BlockLengths,
    BlockOrder as _Order,
    KeptSet as _Set,
    LengthRow,
)
from trimopt.plan.planning.replanning.issued_places import in_places
from trimopt.plan.planning.replanning.kept_sets import OnJumbos, on_jumbos, supply_from
from trimopt.plan.planning.replanning.sets_changed import changes_of, same_metres
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.schedule.block_knives import set_up_between, times_of
from trimopt.plan.planning.schedule.run_winding import WoundRun
from trimopt.winding import Laying

_RELAXED = 4  # best orders in which lengths of kept blocks may move
_AT_LEAST = 2  # orders are laid: new blocks behind all others, and where they fill the jumbos
_WORK = 800  # sets that are laid for all orders together
_SAVED = 2_400  # the same where that may save an order, once no time is left
_FEWER = 300  # the same for fewer sets of other lengths

_Rank = tuple[int, int, float]  # sets without paper, orders late, cost
_Placed = tuple[_Rank, OnJumbos, _Order, frozenset[str]]  # and the orders that are late


@dataclass(frozen=True, kw_only=True)
class BlockPlacing:
    """Kept blocks of a run, and the sets that were wound for what its orders lack beside them.

    New blocks with the reels of a block in `issued` are laid out as it was. `budget` ends the
    search with the best so far. Swiftly placed, new blocks stand behind all others, or where they
    fill the jumbos, unless that makes an order late.
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
    budget: Budget
    pins: tuple[Instruction, ...] = ()
    swift: bool = False

    def best(self) -> OnJumbos:
        """The blocks in the order that costs least, on their jumbos."""
        fewer = self.budget.share(1.0, _FEWER)
        budget = self.budget.share(1.0, 0 if self.swift else _WORK)
        if not (self.kept or self._new):
            return on_jumbos(self.case, (), (), (), self.name)
        met: dict[_Order, _Placed] = {}
        if not self.kept and self.wound is not None:
            placed = self._as_wound(self.wound)
            if not placed[3] or self.wound.chosen.odd is not None:
                return placed[1]
            met[placed[2]] = placed
        if self.kept:
            self._begin(met, budget)
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
        return self._moved_less(best, fewer)[1]

    def _begin(self, met: dict[_Order, _Placed], budget: Budget) -> None:
        """Lay the first orders; however little time there is, none is late that a place saves.

        Of many sets not every place is tried then, and of none after Ctrl-C.
        """
        for order in dict.fromkeys(self._starts()):
            enough = budget.over() and len(met) >= _AT_LEAST
            if enough and min(met.values(), key=lambda each: each[0])[3] <= self._late_anyway:
                break
            if enough and self.budget.over() and (budget.work >= _SAVED or asked_to_stop()):
                break
            in_places = None if met else self._in_places(order)
            laid = [self._laid(order), *([] if in_places is None else [in_places])]
            met[order] = min(laid, key=lambda each: each[0])
            budget.work += self._sets

    def _meet(self, order: _Order, met: dict[_Order, _Placed], budget: Budget) -> None:
        if order not in met and not (met and budget.over()):
            met[order] = self._laid(order)
            budget.work += self._sets

    @cached_property
    def _lengths(self) -> BlockLengths:
        classes = () if self.wound is None else self.wound.chosen.making.classes
        return BlockLengths(
            case=self.case,
            kept=self.kept,
            new=self._new,
            lengths=tuple((each.core_mm, each.length_m) for each in classes),
            pins=self.pins,
        )

    @cached_property
    def _filled(self) -> Mapping[_Order, Sequence[int]]:
        """Orders in which new blocks fill the jumbos, with the jumbo of each set."""
        budget = self.budget.share(1.0)
        return self._lengths.filled(*self._parted, budget, swift=self.swift)

    @cached_property
    def _late_anyway(self) -> frozenset[str]:
        """Orders that kept blocks alone make late, so wherever new ones stand."""
        return self._wound_cost(OnJumbos(blocks=self.kept, jumbos={}, with_butts=frozenset()))[0]

    @cached_property
    def _sets(self) -> int:
        return sum(len(block.sets) for block in (*self.kept, *self._new))

    @cached_property
    def _parted(self) -> tuple[_Order, _Order]:
        """What stands: kept blocks, new ones that are cut alike beside their own; and the others.

        Of these the most urgent first.
        """
        order: _Order = tuple((True, at) for at in range(len(self.kept)))
        loose: _Order = ()
        for at in sorted(range(len(self._new)), key=self._urgency):
            beside = self._beside(order, at)
            if beside is None:
                loose = (*loose, (False, at))
            else:
                order = (*order[:beside], (False, at), *order[beside:])
        return order, loose

    def _starts(self) -> Iterator[_Order]:
        """The new blocks behind all others, where they fill the jumbos, and all in each place."""
        order, loose = self._parted
        # Behind all others first: there they leave the jumbos of the others as they are.
        yield (*order, *loose)
        yield from self._filled
        for place in range(len(order) - 1 if loose else 0, -1, -1):
            yield (*order[:place], *loose, *order[place:])

    def _near(self, order: _Order, late: frozenset[str]) -> Iterator[_Order]:
        """Orders with a new block elsewhere: where any is late, one with a late order, earlier."""
        late -= self._late_anyway
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

    def _moved_less(self, found: _Placed, budget: Budget) -> _Placed:
        """The same order, with as many kept sets at their own lengths again as pays.

        Half of them are held, then a quarter, down to single ones.
        """
        moved = self._moved(found)
        size = len(moved) // 2
        while size:
            for held in [moved[at : at + size] for at in range(0, len(moved), size)]:
                if budget.over():
                    return found
                free = frozenset(self._moved(found)) - {*held}
                found = min(found, self._laid(found[2], free), key=lambda each: each[0])
                budget.work += self._sets
            size //= 2
        return found

    def _moved(self, found: _Placed) -> list[_Set]:
        """The kept sets with other lengths than issued, as they run."""
        return [
            (at, place)
            for at, block in _kept_of(found)
            for place, row in enumerate(block.sets)
            if row.length_m != self.kept[at].sets[place].length_m
        ]

    def _sets_of(self, blocks: Iterable[int]) -> frozenset[_Set]:
        return frozenset((at, place) for at in blocks for place in range(len(self.kept[at].sets)))

    def _beside_butts(self, found: _Placed) -> frozenset[_Set]:
        """The kept sets on jumbos that leave a butt."""
        return frozenset(
            (at, place)
            for at, block in _kept_of(found)
            for place, row in enumerate(block.sets)
            if found[1].with_butts & {*row.jumbos}
        )

    @cached_property
    def _new(self) -> tuple[Block, ...]:
        return (
            ()
            if self.wound is None
            else in_layouts_of((*self.issued, *self.kept), self.wound.plan.blocks)
        )

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
        lengths = self._lengths
        rows = [
            (place, row) for place, item in enumerate(order) for row in lengths.rows(item, free)
        ]
        jumbos = () if free or len(order) == len(self.kept) else self._filled.get(order, ())
        laying, loss = lengths.balanced(
            [row for _, row in rows], lengths.supply, jumbos, self.budget
        )
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
        rows = [
            (place, row) for place, at in enumerate(new) for row in self._lengths.rows((False, at))
        ]
        laying, loss = self._lengths.balanced(
            [row for _, row in rows], supply_from(behind), budget=self.budget
        )
        placed = self._on_jumbos(behind, [self._new[at] for at in new], rows, laying)
        loss += self._lengths.paper_per_m * (behind.taken_m - self.case.taken_m)
        ended = behind.opened[max(0, len(self.case.opened) - 1) : -1]
        left = frozenset(j.name for j in ended if behind.reached_m[j.name] < j.usable_m)
        placed = replace(
            placed,
            blocks=(*kept, *placed.blocks),
            places=(*range(len(kept)), *(len(kept) + place for place in placed.places)),
            jumbos={**jumbos, **placed.jumbos},
            with_butts=left | placed.with_butts,
        )
        every = tuple((True, at) for at in range(len(self.kept)))
        order = (*every, *((False, at) for at in new))
        return self._ranked(order, placed, laying.unlaid_sets, loss)

    def _on_jumbos(
        self,
        case: Standing,
        blocks: Sequence[Block],
        rows: Sequence[tuple[int, LengthRow]],
        laying: Laying,
    ) -> OnJumbos:
        """Blocks whose rows were laid; of a block with a set that finds no paper its first ones."""
        laid = Counter(rows[each.block][0] for each in laying.sets)
        blocks = [replace(b, sets=b.sets[: laid[place]]) for place, b in enumerate(blocks)]
        return on_jumbos(case, blocks, laying.sets, laying.butts, self.name)

    def _ranked(self, order: _Order, placed: OnJumbos, unlaid: int, loss: Fraction) -> _Placed:
        late, set_ups, moves = self._wound_cost(placed)
        cost = self.objective.cost(loss, set_ups, moves)
        cost += self.disturbance * changes_of(self.kept, placed.blocks).weight
        return (unlaid, len(late), cost), placed, order, late

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
        sets = [block for block in blocks for _ in block.sets]
        times = times_of(blocks, case.mill.winder, self.start).sets
        finished: dict[str, datetime] = {}
        for block, time in zip(sets, times, strict=True):
            for position in block.positions:
                finished[position.order] = time.finish
        late = frozenset(
            number
            for number, due in self._due.items()
            if due is not None and number in finished and finished[number] > due
        )
        set_ups = sum(block.set_up for block in blocks)
        return late, set_ups, sum(block.knife_moves for block in blocks)


def _kept_of(found: _Placed) -> Iterator[tuple[int, Block]]:
    """Kept blocks as placed, as they run; of one whose sets find no paper there is none."""
    _, placed, order, _ = found
    for place, block in zip(placed.places, placed.blocks, strict=True):
        kept, at = order[place]
        if kept:
            yield at, block


def in_layouts_of(issued: Sequence[Block], new: Sequence[Block]) -> tuple[Block, ...]:
    """New blocks, each that has the reels of an issued one laid out as it is, on its own cores."""
    known = {_reels(block): block for block in issued}
    return tuple(
        block if (same := known.get(_reels(block))) is None else _laid_as(same, block)
        for block in new
    )


def _laid_as(same: Block, block: Block) -> Block:
    """In a set of mixed cores, which core a reel is on depends on the length."""
    cores = {(p.order, p.width_mm): p.core_mm for p in block.positions}
    return replace(
        block,
        positions=tuple(replace(p, core_mm=cores[p.order, p.width_mm]) for p in same.positions),
        edge_front_mm=same.edge_front_mm,
        edge_back_mm=same.edge_back_mm,
        knives_mm=same.knives_mm,
        beam_mm=same.beam_mm,
    )


def _reels(block: Block) -> object:
    return block.core_mm, frozenset(
        Counter((p.order, p.ups, p.sheeter, p.width_mm) for p in block.positions).items()
    )
