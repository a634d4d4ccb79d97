"""A run on the winder: running order, layouts, jumbos and last metres, butts against knife moves.

The order with fewest knife moves may leave butts that another order would not, and the other way
round. So orders are searched along the jumbo too (`trimopt.winding.jumbos.order_along_jumbos`), the
best of them are balanced with every order's range kept, and the blocks are laid out again with that
order held to: blocks that lie whole on one jumbo may still change places. Of all that were tried,
the one that costs least is taken, knife moves at their price in metres of jumbo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from trimopt.budget import Budget
from trimopt.mill.model import Winder
from trimopt.winding.jumbos.last_metres import Balanced, balance
from trimopt.winding.jumbos.laying import JumboSupply, Laying, LengthBlock, lay_lengths
from trimopt.winding.jumbos.length_relaxation import cautious_worth, narrowed
from trimopt.winding.jumbos.order_along_jumbos import WORK, Extra, order_blocks
from trimopt.winding.jumbos.order_slack import Case, OrderRoom, SetGain
from trimopt.winding.knives.arrangement import arrange
from trimopt.winding.knives.order_costs import Prices, Running
from trimopt.winding.model import Arrangement, Lot, StockJumbo

__all__ = ["WoundRun", "wind_run"]

_BOLD = (2.0, 4.0)  # how far ranges reach while orders cannot be seen


@dataclass(frozen=True, slots=True, kw_only=True)
class WoundRun:
    """Blocks in running order with their layouts, and their sets on jumbos.

    `order` gives the lots' positions in running order; blocks of `balanced` count in that order.
    `cost_m` is the loss, the knife moves and the set-ups above the fewest, in metres of jumbo;
    `first_cost_m` that of the order with fewest knife moves, which this one beats or is.
    """

    arrangement: Arrangement
    balanced: Balanced
    order: tuple[int, ...]
    cost_m: float
    first_cost_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    lots: tuple[Lot, ...]
    case: Case  # in the order of the lots
    stock: tuple[StockJumbo, ...]
    nominal: StockJumbo | None
    in_order: bool
    joins_allowed: bool
    min_part_m: int
    move_m: float
    budget: Budget
    seed: int

    def balanced(self, order: Sequence[int], *, swiftly: bool = False) -> Balanced:
        """The lots in this order on the jumbos."""
        case = self.case
        return balance(
            [case.blocks[lot] for lot in order],
            self.stock,
            self.nominal,
            rooms=case.rooms,
            gains=[case.gains[lot] for lot in order] if case.gains else (),
            paper_per_m=case.paper_per_m,
            in_order=self.in_order,
            joins_allowed=self.joins_allowed,
            min_part_m=self.min_part_m,
            rounds=6 if swiftly else 20,
            max_ways=3 if swiftly else 8,
            budget=self.budget,
            seed=self.seed,
        )

    def cost_m(self, balanced: Balanced, moves: float) -> float:
        """Loss and moves, metres of jumbo; infinite where sets found no paper."""
        if balanced.loss_paper is None or balanced.laying.unlaid:
            return float("inf")
        return float(balanced.loss_paper / self.case.paper_per_m) + self.move_m * moves


def wind_run(
    lots: Sequence[Lot],
    blocks: Sequence[LengthBlock],
    winder: Winder,
    web_mm: Fraction,
    *,
    first: Arrangement,
    stock: Sequence[StockJumbo] = (),
    nominal: StockJumbo | None = None,
    rooms: Sequence[OrderRoom] = (),
    gains: Sequence[Sequence[SetGain]] = (),
    paper_per_m: Fraction = Fraction(1),
    knives_at_mm: tuple[Fraction | None, ...] = (),
    prices: Prices | None = None,
    move_m: float = 1.0,
    in_order: bool = False,
    joins_allowed: bool = False,
    min_part_m: int = 1,
    tries: int = 1000,
    work: int = 500,
    budget: Budget | None = None,
    seed: int = 0,
) -> WoundRun:
    """Wind a run with the least loss along the jumbo and few knife moves.

    Parameters
    ----------
    lots, blocks
        The same blocks, for the knives and for the jumbos, in the same order. A lot's `precedence`
        is kept.
    winder, web_mm, knives_at_mm, prices
        As for `arrange`.
    stock, nominal, rooms, gains, paper_per_m, in_order, joins_allowed, min_part_m
        As for `balance`; rooms and gains in the order of the lots.
    first
        The lots arranged for fewest knife moves.
    move_m
        What a knife move is worth in metres of jumbo. The default lets it break ties.
    tries
        Running orders to try for each of two degrees of boldness.
    work
        Of laying out again, a second time where the first gave nothing.
    budget
        Where it is over, the best so far is given.
    seed
        The same input, seed, tries and work give the same run.

    Returns
    -------
    WoundRun
        Never dearer than `first` with its last metres balanced.
    """
    if len(lots) != len(blocks):
        raise ValueError(f"{len(lots)} lots but {len(blocks)} blocks; give one block a lot")
    task = _Task(
        lots=tuple(lots),
        case=Case(
            blocks=tuple(blocks),
            rooms=tuple(rooms),
            gains=tuple(tuple(row) for row in gains),
            paper_per_m=paper_per_m,
        ),
        stock=tuple(stock),
        nominal=nominal,
        in_order=in_order,
        joins_allowed=joins_allowed,
        min_part_m=min_part_m,
        move_m=move_m,
        budget=budget or Budget(),
        seed=seed,
    )
    place = {lot.number: at for at, lot in enumerate(lots)}
    started = tuple(place[block.lot] for block in first.blocks)
    own = task.balanced(started)
    prices = prices or Prices()
    running = Running(lots, prices)

    def crew(arrangement: Arrangement, order: Sequence[int]) -> float:
        return arrangement.moves + float(prices.set_up) * running.set_ups_more(order)

    first_cost = task.cost_m(own, crew(first, started))
    plain = best = WoundRun(
        arrangement=first,
        balanced=own,
        order=started,
        cost_m=first_cost,
        first_cost_m=first_cost,
    )
    if not lots or not own.laying.lost_m:
        return plain
    for order, balanced in _promising(task, started, first, prices, tries):
        if best is not plain or task.cost_m(balanced, 0) >= plain.cost_m:
            break
        levels = _levels([lots[lot] for lot in order], balanced)
        held = tuple(
            replace(lots[lot], precedence=level)
            for lot, level in sorted(zip(order, levels, strict=True))
        )
        arrangement = arrange(
            held,
            winder,
            web_mm,
            budget=task.budget.share(0.7, work),
            seed=seed,
            knives_at_mm=knives_at_mm,
            prices=prices,
        )
        new = tuple(place[block.lot] for block in arrangement.blocks)
        moved = min(
            (_in_order(task, balanced, order, new), task.balanced(new)),
            key=lambda way: task.cost_m(way, 0),
        )
        cost = task.cost_m(moved, crew(arrangement, new))
        if cost < best.cost_m:
            # What is proven of knife moves is proven over all orders, so the first bound holds.
            arrangement = replace(
                arrangement,
                moves_bound=first.moves_bound,
                proven=arrangement.moves <= first.moves_bound,
            )
            best = replace(best, arrangement=arrangement, balanced=moved, order=new, cost_m=cost)
    return best


def _promising(
    task: _Task,
    started: tuple[int, ...],
    first: Arrangement,
    prices: Prices,
    tries: int,
) -> list[tuple[tuple[int, ...], Balanced]]:
    """The two best orders along the jumbo, balanced."""
    supply = JumboSupply(task.stock, task.nominal, in_order=task.in_order)
    extra = _extra(task, started, first, prices)
    levels = [lot.precedence for lot in task.lots]
    by_length = sorted(
        range(len(task.lots)), key=lambda at: (levels[at], -task.case.blocks[at].length_m, at)
    )
    found: dict[tuple[int, ...], Balanced] = {}
    for bold in _BOLD:
        orders = order_blocks(
            narrowed(task.case, bold) if task.case.gains else task.case.blocks,
            supply,
            worth=cautious_worth(task.case),
            starts=[started, by_length],
            levels=levels,
            extra=extra,
            tries=tries,
            budget=task.budget.share(0.3, WORK),
            seed=task.seed,
        )
        for candidate in orders[:2]:
            if candidate.order not in found and candidate.along_m < float("inf"):
                found[candidate.order] = task.balanced(candidate.order, swiftly=True)
        if not task.case.gains:
            break
    ranked = sorted(
        found.items(), key=lambda item: (task.cost_m(item[1], 0) + extra(item[0]), item[0])
    )
    return ranked[:2]


def _extra(task: _Task, started: tuple[int, ...], first: Arrangement, prices: Prices) -> Extra:
    """What an order costs the crew, metres of jumbo: knives as laid out first, urgent lots late."""
    knives = {
        at: frozenset(block.layout.knives_mm)
        for at, block in zip(started, first.blocks, strict=True)
    }
    count = len(task.lots)
    moves = [[len(knives[b] - knives[a]) for b in range(count)] for a in range(count)]
    running = Running(task.lots, prices)

    def extra(order: Sequence[int]) -> float:
        between = sum(moves[a][b] for a, b in pairwise(order))
        return task.move_m * (between + running.extra(order) / running.move)

    return extra


def _levels(lots: Sequence[Lot], balanced: Balanced) -> list[int]:
    """For each lot in running order a level; those whole on one jumbo share theirs.

    Lots of different precedence never do.
    """
    on: list[set[str]] = [set() for _ in lots]
    for laid in balanced.laying.sets:
        on[laid.block] |= {stretch.jumbo for stretch in laid.stretches}
    levels = [0] * len(lots)
    for at in range(1, len(lots)):
        together = (
            len(on[at]) == 1
            and on[at] == on[at - 1]
            and lots[at].precedence == lots[at - 1].precedence
        )
        levels[at] = levels[at - 1] + (not together)
    return levels


def _in_order(
    task: _Task, balanced: Balanced, order: Sequence[int], new: tuple[int, ...]
) -> Balanced:
    """The same sets with blocks that share a jumbo in their new places."""
    if tuple(order) == new:
        return balanced
    lengths: dict[int, list[int]] = {}
    for laid in balanced.laying.sets:
        lengths.setdefault(order[laid.block], []).append(laid.length_m)
    sets = [(at, length) for at, lot in enumerate(new) for length in lengths[lot]]
    joins = [task.case.blocks[lot].max_joins for lot in new] if task.joins_allowed else ()
    laid_sets, butts = lay_lengths(
        sets,
        JumboSupply(task.stock, task.nominal, in_order=task.in_order),
        max_joins=joins,
        min_part_m=task.min_part_m,
    )
    laying = Laying(sets=tuple(one for one in laid_sets if one is not None), butts=butts)
    if len(laying.sets) < len(sets) or laying.lost_m > balanced.laying.lost_m:
        return task.balanced(new)
    return replace(balanced, laying=laying)
