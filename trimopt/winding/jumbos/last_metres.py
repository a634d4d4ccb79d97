"""The last metres: set lengths move inside what their reels allow, so that butts disappear.

Sets on a jumbo that leaves a butt are stretched to use it, or sets are shortened so that one more
fits on an earlier jumbo. The objective is the engine's: paper used, less what is delivered, with
the values of a kg under and over the ordered quantity. Paper put on reels that their order does not
allow is not a saving, so every order stays inside its range, and a change that does not lower the
loss is not made.

Two steps. Ways to end the jumbos come from a Lagrangian relaxation
(`trimopt.winding.jumbos.length_relaxation`), which also bounds the loss; for each way an integer
program finds the best metres (`trimopt.winding.jumbos.metres_program`).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.winding.jumbos.jumbo_ends import Content, all_ends
from trimopt.winding.jumbos.laying import Laying, lay_lengths, lay_sets
from trimopt.winding.jumbos.length_relaxation import price_rounds
from trimopt.winding.jumbos.metres_program import best_lengths, shared_out, swift_lengths
from trimopt.winding.jumbos.metres_relaxation import MetresRelaxation
from trimopt.winding.jumbos.order_slack import LengthProblem
from trimopt.winding.model import StockJumbo

__all__ = ["Balanced", "balance", "balance_at"]

_FEW_WAYS = 64  # so many ways to end the jumbos are all tried
_WORK = 200_000  # ends of jumbos gone on from: a week has a tenth, more sets take no more time
_EFFORT = 0.1  # of each search for metres, in the solver's deterministic seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Balanced:
    """The sets with their new lengths on their jumbos, and what it brought.

    `before` has the sets at their classes' lengths. `loss_paper` is the loss in units of paper,
    None where sets found no paper; `bound_paper` is a lower bound on it over all lengths for this
    running order and these jumbos.
    """

    laying: Laying
    before: Laying
    loss_paper: Fraction | None
    bound_paper: Fraction | None


def balance(
    problem: LengthProblem,
    *,
    rounds: int = 20,
    max_ways: int = 8,
    budget: Budget | None = None,
    seed: int = 0,
) -> Balanced:
    """Choose whole-metre set lengths for a running order so that the loss is least.

    Parameters
    ----------
    problem
        Blocks in running order, jumbos, orders.
    rounds
        Most rounds of prices for the orders' ranges.
    max_ways
        Ways to end the jumbos for which metres are searched; where few are possible, all are.
    budget
        Where it is over, the best lengths so far are given, those of the classes at the least.
    seed
        The same input and seed give the same lengths.

    Returns
    -------
    Balanced
        Never with more loss, and never with an order further outside its range, than the sets at
        their classes' lengths. Where the paper listed does not last for those, sets are shortened
        so that it does, if that can be. Where joined sets lose less, they are taken.

    Raises
    ------
    ValueError
        There is no jumbo.
    """
    budget = budget or Budget()
    blocks, supply, paper_per_m = problem.blocks, problem.supply, problem.paper_per_m
    before = lay_sets(blocks, supply)
    best, best_loss = before, None if before.unlaid else problem.loss(before)
    jumbos = supply.stock if before.unlaid else tuple(butt.jumbo for butt in before.butts)
    usable_m = tuple(jumbo.usable_m for jumbo in jumbos)
    bound_m = -math.inf
    ways: tuple[tuple[Content, ...], ...] = ()
    if jumbos:
        searched = budget.share(1, _WORK)
        loss_m = math.inf if best_loss is None else float(best_loss / paper_per_m)
        bound_m, ways = price_rounds(problem, usable_m, searched, loss_m=loss_m, rounds=rounds)
        ways = ways[:max_ways]
    if not before.unlaid:
        ways = (*ways, _contents(before, jumbos))
    if problem.orders:
        ways = (*ways, *all_ends(blocks, usable_m, max_ways=_FEW_WAYS))
    for sets in _lengths(problem, usable_m, ways, budget, seed=seed):
        after = None if sets is None else lay_lengths(sets, supply)
        if after is None or problem.faults(after.sets):
            continue
        loss = problem.loss(after)
        if best_loss is None or loss < best_loss:
            best, best_loss = after, loss
        if best_loss <= (bound_m + problem.close_m) * paper_per_m:
            break
    if any(block.max_joins for block in blocks):
        joined = lay_sets(blocks, supply, joined=True)
        loss = problem.loss(joined)
        if not joined.unlaid and (best_loss is None or loss < best_loss):
            best, best_loss, bound_m = joined, loss, -math.inf
        elif best_loss is None and joined.unlaid_sets < best.unlaid_sets:
            best = joined
    return Balanced(
        laying=best,
        before=before,
        bound_paper=None if bound_m == -math.inf else Fraction(bound_m) * paper_per_m,
        loss_paper=best_loss,
    )


def balance_at(problem: LengthProblem, contents: Sequence[Content]) -> Balanced:
    """Choose whole-metre set lengths where the sets on each jumbo are known.

    Parameters
    ----------
    contents
        (block, sets) of each jumbo, in the order they are opened.

    Returns
    -------
    Balanced
        The sets at their classes' lengths where that is not worse; without a bound.
    """
    before = lay_sets(problem.blocks, problem.supply)
    laying, loss = before, None if before.unlaid else problem.loss(before)
    usable_m = [jumbo.usable_m for jumbo in problem.supply.first(len(contents))]
    wound = MetresRelaxation(problem).lengths(contents, usable_m)
    after = None if wound is None else lay_lengths(shared_out(wound), problem.supply)
    if after is not None and not problem.faults(after.sets):
        loss_after = problem.loss(after)
        if loss is None or loss_after < loss:
            laying, loss = after, loss_after
    return Balanced(laying=laying, before=before, loss_paper=loss, bound_paper=None)


def _lengths(
    problem: LengthProblem,
    usable_m: Sequence[int],
    ways: Sequence[tuple[Content, ...]],
    budget: Budget,
    *,
    seed: int,
) -> Iterator[list[tuple[int, int]] | None]:
    """(block, length) of every set for each of the ways; once the budget is over, for one more."""
    for contents in dict.fromkeys(ways):
        if budget.over():
            break
        yield best_lengths(problem, usable_m, contents, budget, effort=_EFFORT, seed=seed)
    if budget.stopped:
        yield swift_lengths(problem, usable_m)


def _contents(laying: Laying, jumbos: Sequence[StockJumbo]) -> tuple[Content, ...]:
    on: dict[str, Counter[int]] = {jumbo.name: Counter() for jumbo in jumbos}
    for laid in laying.sets:
        on[laid.segments[0].jumbo][laid.block] += 1
    return tuple(tuple(sorted(on[jumbo.name].items())) for jumbo in jumbos)
