"""The last metres: set lengths move inside what their reels allow, so that butts disappear.

Sets on a jumbo that leaves a butt are stretched to use it, or sets are shortened so that one more
fits on an earlier jumbo. What it brings is judged as the engine judges a plan: paper used, less
what is delivered, with the values of a kg under and over the ordered quantity. Paper put on reels
that their order does not allow is not a saving, so every order stays inside its range, and a
change that does not lower the loss is not made.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.budget import Budget
from trimopt.winding.jumbos.jumbo_ends import all_ends
from trimopt.winding.jumbos.laying import JumboSupply, Laying, LengthBlock, lay_lengths, lay_sets
from trimopt.winding.jumbos.length_relaxation import (
    SetsOnJumbos,
    best_metres,
    price_rounds,
    swift_metres,
)
from trimopt.winding.jumbos.order_slack import Case, OrderRoom, SetGain, room_faults
from trimopt.winding.model import StockJumbo

__all__ = ["Balanced", "OrderRoom", "SetGain", "balance", "room_faults"]

_FEW = 64  # so many ways to end the jumbos are all tried
_WORK = 200_000  # ends of jumbos gone on from: a week has a tenth, more sets take no more time


@dataclass(frozen=True, slots=True, kw_only=True)
class Balanced:
    """The sets with their new lengths on their jumbos, and what it brought.

    `saved_m` is butts before less butts after, `saved_paper` the loss before less the loss after,
    in units of paper; both are 0 where the sets at their classes' lengths found no paper.
    `bound_paper` is a lower bound on `loss_paper` over all lengths for this running order and these
    jumbos.
    """

    laying: Laying
    before: Laying
    saved_m: int
    saved_paper: Fraction
    loss_paper: Fraction | None
    bound_paper: Fraction | None

    @property
    def lengths_m(self) -> tuple[int, ...]:
        """The new set lengths, in running order."""
        return tuple(laid.length_m for laid in self.laying.sets)


def balance(
    blocks: Sequence[LengthBlock],
    stock: Sequence[StockJumbo] = (),
    nominal: StockJumbo | None = None,
    *,
    rooms: Sequence[OrderRoom] = (),
    gains: Sequence[Sequence[SetGain]] = (),
    paper_per_m: Fraction = Fraction(1),
    in_order: bool = False,
    joins_allowed: bool = False,
    min_part_m: int = 1,
    rounds: int = 20,
    max_ways: int = 8,
    work: float = 0.1,
    budget: Budget | None = None,
    seed: int = 0,
) -> Balanced:
    """Choose whole-metre set lengths for a running order so that the loss is least.

    Parameters
    ----------
    blocks
        Blocks in running order with the lengths that their reels allow.
    stock, nominal
        Jumbos, as for `lay_sets`.
    rooms
        What each order has and allows.
    gains
        For each block, what a metre on one of its sets gives to which order. Empty: a metre wound
        is worth what it uses, so that only butts count.
    paper_per_m
        Paper used by a metre of jumbo, in the unit of `worth` (its full width times one metre).
    in_order, joins_allowed, min_part_m
        As for `lay_sets`. Where joined sets lose less than moved lengths, they are taken.
    rounds
        Most rounds of prices for the orders' ranges.
    max_ways
        Ways to end the jumbos for which metres are searched; where few are possible, all are.
    work
        Most work of each search for metres, in the solver's deterministic seconds.
    budget
        Where it is over, the best lengths so far are given, those of the classes at the least.
    seed
        The same input, seed and work give the same lengths.

    Returns
    -------
    Balanced
        Never with more loss, and never with an order further outside its range, than the sets at
        their classes' lengths. Where the paper listed does not last for those, sets are shortened
        so that it does, if that can be.

    Raises
    ------
    ValueError
        There are not as many rows of gains as blocks, or no jumbo is given.
    """
    if gains and len(gains) != len(blocks):
        raise ValueError(f"{len(gains)} rows of gains for {len(blocks)} blocks")
    budget = budget or Budget()
    case = Case(
        blocks=tuple(blocks),
        rooms=tuple(rooms),
        gains=tuple(tuple(row) for row in gains),
        paper_per_m=paper_per_m,
    )
    before = lay_sets(blocks, stock, nominal, in_order=in_order)
    supply = JumboSupply(stock, nominal, in_order=in_order)
    jumbos = supply.stock if before.unlaid else tuple(butt.jumbo for butt in before.butts)
    usable_m = tuple(jumbo.usable_m for jumbo in jumbos)
    loss_m = math.inf if before.unlaid else float(case.loss(before) / paper_per_m)
    bound_m = -math.inf
    ways: tuple[SetsOnJumbos, ...] = ()
    if jumbos:
        searched = budget.share(1, _WORK)
        bound_m, ways = price_rounds(case, usable_m, searched, loss_m=loss_m, rounds=rounds)
        ways = ways[:max_ways]
    if not before.unlaid:
        ways = (*ways, _sets_as_laid(before, jumbos))
    if rooms:
        ways = (*ways, *all_ends(blocks, usable_m, most=_FEW))
    best, best_loss = before, None if before.unlaid else case.loss(before)
    for sets in _lengths(case, usable_m, ways, budget, work=work, seed=seed):
        after = None if sets is None else _laid(sets, supply)
        if after is None or room_faults(blocks, after.sets, rooms, case.gains):
            continue
        loss = case.loss(after)
        if best_loss is None or loss < best_loss:
            best, best_loss = after, loss
        if best_loss <= (bound_m + case.close_m) * paper_per_m:
            break
    if joins_allowed and any(block.max_joins for block in blocks):
        joined = lay_sets(
            blocks,
            stock,
            nominal,
            in_order=in_order,
            joins_allowed=True,
            min_part_m=min_part_m,
        )
        loss = case.loss(joined)
        if not joined.unlaid and (best_loss is None or loss < best_loss):
            best, best_loss, bound_m = joined, loss, -math.inf
        elif best_loss is None and _missing(joined) < _missing(best):
            best = joined
    mended = before.unlaid or best_loss is None
    return Balanced(
        laying=best,
        before=before,
        saved_m=0 if mended else before.lost_m - best.lost_m,
        saved_paper=Fraction(0) if best_loss is None or mended else case.loss(before) - best_loss,
        bound_paper=None if bound_m == -math.inf else Fraction(bound_m) * paper_per_m,
        loss_paper=best_loss,
    )


def _lengths(
    case: Case,
    usable_m: Sequence[int],
    ways: Sequence[SetsOnJumbos],
    budget: Budget,
    *,
    work: float,
    seed: int,
) -> Iterator[list[tuple[int, int]] | None]:
    """(block, length) of every set for each of the ways; once the budget is over, for one more."""
    for sets_on in dict.fromkeys(ways):
        if budget.over():
            break
        yield best_metres(case, usable_m, sets_on, budget, work=work, seed=seed)
    if budget.stopped:
        yield swift_metres(case, usable_m)


def _missing(laying: Laying) -> int:
    return sum(row.sets for row in laying.unlaid)


def _laid(sets: Sequence[tuple[int, int]], supply: JumboSupply) -> Laying | None:
    laid, butts = lay_lengths(sets, supply)
    if None in laid:
        return None
    return Laying(sets=tuple(s for s in laid if s is not None), butts=butts)


def _sets_as_laid(laying: Laying, jumbos: Sequence[StockJumbo]) -> SetsOnJumbos:
    on: dict[str, dict[int, int]] = {jumbo.name: {} for jumbo in jumbos}
    for laid in laying.sets:
        content = on[laid.stretches[0].jumbo]
        content[laid.block] = content.get(laid.block, 0) + 1
    return tuple(tuple(sorted(on[jumbo.name].items())) for jumbo in jumbos)
