"""A run on the winder: running order, layouts, jumbos and last metres, butts against knife moves.

The order with fewest knife moves may leave butts that another order would not, and the other way
round. So orders are searched along the jumbo too (`trimopt.winding.jumbos.order_along_jumbos`), the
best of them are balanced with every order's range kept, and the blocks are laid out again with that
running order kept: blocks that lie whole on one jumbo may still change places. Of all that were
tried, the one that costs least is taken, knife moves at their price in metres of jumbo.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import pairwise

from trimopt.budget import Budget
from trimopt.mill.model import Winder
from trimopt.winding.jumbos.last_metres import Balanced, balance, balance_at
from trimopt.winding.jumbos.laying import Content, lay_lengths
from trimopt.winding.jumbos.metres_relaxation import MetresRelaxation
from trimopt.winding.jumbos.nominal_ends import REACHES
from trimopt.winding.jumbos.order_along_jumbos import WORK, order_blocks
from trimopt.winding.jumbos.order_slack import LengthProblem
from trimopt.winding.knives.arrangement import arrange
from trimopt.winding.knives.order_costs import MovePrices, Running
from trimopt.winding.model import Arrangement, Lot

_MAX_LAID_OUT = 2  # orders that are laid out again
_MAX_SETS = 2_000  # of a run that is searched: more fill their jumbos among themselves
_CLOSE = 10  # times what metres are searched for; a run so near its least loss is left as it is
_ARRANGE_SHARE, _ORDER_SHARE = 0.7, 0.3  # of the time that is left


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduledRun:
    """Blocks in running order with their layouts, and their sets on jumbos.

    `order` gives the lots' positions in running order; blocks of `balanced` count in that order.
    `cost_m` is the loss, the knife moves and the set-ups above the fewest, in metres of jumbo.
    """

    arrangement: Arrangement
    balanced: Balanced
    order: tuple[int, ...]
    cost_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """How far to look: orders tried, ways to judge them, those searched in whole metres."""

    tries: int
    ways: int = len(REACHES)
    whole: int = 12
    work: int  # of laying out again


#: Where time is over, whatever the clock says: a tenth of a second for ninety sets.
_SWIFT = _Look(tries=200, ways=1, whole=1, work=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    lots: tuple[Lot, ...]
    problem: LengthProblem  # in the order of the lots
    running: Running
    prices: MovePrices
    move_m: float
    budget: Budget
    seed: int
    look: _Look
    laid_out: Callable[..., Arrangement]  # `arrange`, for this winder

    def balanced(self, order: Sequence[int]) -> Balanced:
        return balance(self.problem.in_order(order), budget=self.budget)

    def balanced_at(self, order: Sequence[int], contents: Sequence[Content]) -> Balanced:
        """The same where the jumbos' ends are known."""
        place = {lot: at for at, lot in enumerate(order)}
        ends = tuple(tuple(sorted((place[lot], many) for lot, many in row)) for row in contents)
        return balance_at(self.problem.in_order(order), ends)

    def cost_m(self, balanced: Balanced, moves: float = 0) -> float:
        """Loss and moves, metres of jumbo; infinite where sets found no paper."""
        if balanced.loss_paper is None or balanced.laying.unlaid:
            return float("inf")
        return float(balanced.loss_paper / self.problem.paper_per_m) + self.move_m * moves

    def scheduled(
        self, arrangement: Arrangement, balanced: Balanced, order: Sequence[int]
    ) -> ScheduledRun:
        set_ups = float(self.prices.set_up) * self.running.set_ups_more(order)
        return ScheduledRun(
            arrangement=arrangement,
            balanced=balanced,
            order=tuple(order),
            cost_m=self.cost_m(balanced, arrangement.moves + set_ups),
        )


def schedule_run(
    lots: Sequence[Lot],
    problem: LengthProblem,
    winder: Winder,
    web_mm: Fraction,
    *,
    first: Arrangement,
    balanced: Balanced,
    known: Sequence[Content] = (),
    knives_at_mm: tuple[Fraction | None, ...] = (),
    prices: MovePrices | None = None,
    move_m: float = 1.0,
    tries: int = 4000,
    work: int = 500,
    budget: Budget | None = None,
    seed: int = 0,
) -> ScheduledRun:
    """Schedule a run with the least loss along the jumbo and few knife moves.

    Parameters
    ----------
    lots, problem
        The same blocks, for the knives and for the jumbos, in the same order. A lot's `precedence`
        is kept.
    winder, web_mm, knives_at_mm, prices
        As for `arrange`.
    first, balanced
        The lots arranged for fewest knife moves, and that order with its last metres balanced.
    known
        Sets by lot on each jumbo, in running order, that are tried beside those found.
    move_m
        What a knife move is worth in metres of jumbo. The default lets it break ties.
    work
        Of laying out again, a second time where the first gave nothing.
    budget
        Where it is over, the best so far is given, or one found in no time that fills the jumbos.
    seed
        The same input, seed, tries and work give the same run.

    Returns
    -------
    ScheduledRun
        Never dearer than `first` as it is balanced.
    """
    prices = prices or MovePrices()
    task = _Task(
        lots=tuple(lots),
        problem=problem,
        running=Running(lots, prices),
        prices=prices,
        move_m=move_m,
        budget=budget or Budget(),
        seed=seed,
        look=_Look(tries=tries, work=work),
        laid_out=partial(
            arrange,
            winder=winder,
            web_mm=web_mm,
            seed=seed,
            knives_at_mm=knives_at_mm,
            prices=prices,
            bounded=False,
        ),
    )
    place = {lot.number: at for at, lot in enumerate(lots)}
    plain = task.scheduled(first, balanced, [place[block.lot] for block in first.blocks])
    if not lots or _is_close(problem, balanced):
        return plain
    found = plain if task.budget.over() else _searched(task, plain, known)
    if task.budget.over():
        swift = replace(task, budget=Budget(anyway=True), look=_SWIFT)
        found = _searched(swift, found, known)
    return found


def _searched(task: _Task, plain: ScheduledRun, known: Sequence[Content]) -> ScheduledRun:
    """The run in another order where one costs less; as it is where none was found."""
    place = {lot.number: at for at, lot in enumerate(task.lots)}
    for order, found in _promising(task, plain, known):
        if task.cost_m(found) >= plain.cost_m:
            break
        arrangement = task.laid_out(
            _kept_in_order(task.lots, order, found),
            budget=task.budget.share(_ARRANGE_SHARE, task.look.work),
        )
        new = tuple(place[block.lot] for block in arrangement.blocks)
        moved = _moved(task, found, order, new)
        # What is proven of knife moves is proven over all orders, so the first bound holds.
        arrangement = replace(arrangement, moves_bound=plain.arrangement.moves_bound)
        run = task.scheduled(arrangement, moved, new)
        if run.cost_m < plain.cost_m:
            return run
    return plain


def _is_close(problem: LengthProblem, balanced: Balanced) -> bool:
    """Whether no running order loses much less than this, or none is sought."""
    if balanced.loss_paper is None:
        return False
    if sum(block.sets for block in problem.blocks) > _MAX_SETS:
        return True
    loss_m = float(balanced.loss_paper / problem.paper_per_m)
    return loss_m <= MetresRelaxation(problem).free_loss_m() + _CLOSE * problem.close_m


def _promising(
    task: _Task, first: ScheduledRun, known: Sequence[Content]
) -> list[tuple[tuple[int, ...], Balanced]]:
    """The best orders along the jumbo, balanced."""
    problem = task.problem
    crew_m = _crew_cost(task, first)
    levels = [lot.precedence for lot in task.lots]
    by_length = sorted(
        range(len(task.lots)), key=lambda at: (levels[at], -problem.blocks[at].length_m, at)
    )
    orders = order_blocks(
        problem,
        starts=[first.order, by_length],
        known=known,
        levels=levels,
        extra=crew_m,
        tries=task.look.tries,
        ways=task.look.ways,
        budget=task.budget.share(_ORDER_SHARE, WORK),
        seed=task.seed,
    )
    found = {
        one.order: task.balanced_at(one.order, one.contents)
        for one in orders[: task.look.whole]
        if one.along_m < float("inf")
    }
    ranked = sorted(found.items(), key=lambda row: (task.cost_m(row[1]) + crew_m(row[0]), row[0]))
    return ranked[:_MAX_LAID_OUT]


def _crew_cost(task: _Task, first: ScheduledRun) -> Callable[[Sequence[int]], float]:
    """What an order costs the crew, metres of jumbo: knives as laid out first, urgent lots late."""
    knives = {
        at: frozenset(block.layout.knives_mm)
        for at, block in zip(first.order, first.arrangement.blocks, strict=True)
    }
    count = len(task.lots)
    moves = [[len(knives[b] - knives[a]) for b in range(count)] for a in range(count)]

    def crew_m(order: Sequence[int]) -> float:
        between = sum(moves[a][b] for a, b in pairwise(order))
        return task.move_m * (between + task.running.extra(order) / task.running.move)

    return crew_m


def _kept_in_order(
    lots: Sequence[Lot], order: Sequence[int], balanced: Balanced
) -> tuple[Lot, ...]:
    """The lots with precedences that keep the order; neighbours whole on one jumbo share theirs.

    Lots of different precedence never do.
    """
    on: list[set[str]] = [set() for _ in order]
    for laid in balanced.laying.sets:
        on[laid.block] |= {segment.jumbo for segment in laid.stretches}
    level = dict.fromkeys(order, 0)
    for at, (before, lot) in enumerate(pairwise(order), start=1):
        together = (
            len(on[at]) == 1
            and on[at] == on[at - 1]
            and lots[lot].precedence == lots[before].precedence
        )
        level[lot] = level[before] + (not together)
    return tuple(replace(lot, precedence=level[at]) for at, lot in enumerate(lots))


def _moved(task: _Task, balanced: Balanced, order: Sequence[int], new: tuple[int, ...]) -> Balanced:
    """The same sets with blocks that share a jumbo in their new places."""
    if tuple(order) == new:
        return balanced
    lengths: dict[int, list[int]] = {}
    for laid in balanced.laying.sets:
        lengths.setdefault(order[laid.block], []).append(laid.length_m)
    sets = [(at, length) for at, lot in enumerate(new) for length in lengths[lot]]
    joins = [task.problem.blocks[lot].max_joins for lot in new]
    laying = lay_lengths(sets, task.problem.supply, max_joins=joins)
    if laying is None or laying.lost_m > balanced.laying.lost_m:
        return task.balanced(new)
    return replace(balanced, laying=laying)
