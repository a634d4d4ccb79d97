"""Blocks split in two, where the butts that it saves are worth more than the set-up.

Sets of a pattern stay together, so a running order may be unable to fill the jumbos: three sets of
30 km and one of 20 km lie on jumbos of 80 km without a butt only where the 20 km set comes between
them. Where the mill file allows it, each block is tried in two parts, the second in every place of
the running order, by the exact program of jumbo ends; the most promising are laid out whole, and
one is taken where it costs less with its set-up and knife moves at the mill's prices.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from trimopt.budget import Budget
from trimopt.cutting import Cut, Pattern
from trimopt.making import Making
from trimopt.mill.model import Mill
from trimopt.plan.model import Settings
from trimopt.plan.planning.along_jumbos import length_problem
from trimopt.plan.planning.knife_lots import lots_of
from trimopt.plan.planning.run_costs import Costs, costs_for
from trimopt.plan.planning.running_order import Wound, best_running_order
from trimopt.winding.jumbos.jumbo_ends import METRE, jumbo_ends
from trimopt.winding.jumbos.length_relaxation import cautious_worth
from trimopt.winding.model import JumboSupply, Lot

__all__ = ["Split", "with_splits"]

_MAX_SPLITS = 4
_LAID_OUT = 3  # most promising splits that are laid out whole

_Order = list[tuple[int, int]]  # (place of a lot, sets) in running order


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """A run wound with some blocks in two parts: which, and what it saves after all costs."""

    cuts: tuple[Cut, ...]
    wound: Wound
    set_ups: int = 0  # more than without
    butt_m: int = 0  # less than without
    saved: float = 0.0  # money, set-ups and knife moves paid


def with_splits(
    making: Making,
    mill: Mill,
    cuts: tuple[Cut, ...],
    wound: Wound,
    supply: JumboSupply,
    *,
    settings: Settings,
    max_set_ups: int | None,
    budget: Budget,
    held: Collection[Pattern] = (),
) -> Split:
    """Split blocks while it pays.

    Parameters
    ----------
    cuts, wound
        The run without splits; all of its sets have found paper.
    settings
        Their prices of a tonne of trim, a set-up and a knife move decide.
    max_set_ups
        No split that takes more.
    budget
        Where it is over, no more is split.
    held
        Patterns whose sets keep their length.
    """
    best = Split(cuts=cuts, wound=wound)
    costs = costs_for(making, mill, settings)
    for _ in range(_MAX_SPLITS):
        if costs.butts(best.wound) <= costs.set_up or budget.over():
            break
        found = None
        for split in _promising(making, mill, best, supply, costs, budget=budget):
            after = best_running_order(
                making,
                mill,
                split,
                lots_of(making, split, held),
                supply,
                settings=settings,
                max_set_ups=max_set_ups,
                budget=budget.share(1 / _LAID_OUT),
            )
            if _together(after.lots):
                continue
            if max_set_ups is not None and after.arrangement.set_ups > max_set_ups:
                continue
            saved = costs.total(best.wound) - costs.total(after)
            if saved > 1e-6 and (found is None or saved > found.saved - best.saved):
                found = Split(
                    cuts=split,
                    wound=after,
                    set_ups=after.arrangement.set_ups - wound.arrangement.set_ups,
                    butt_m=wound.laying.lost_m - after.laying.lost_m,
                    saved=best.saved + saved,
                )
        if found is None:
            break
        best = found
    return best


def _together(lots: Sequence[Lot]) -> bool:
    """Whether two neighbours are one pattern: then nothing was split."""
    return any(
        one.strips == other.strips and one.length_m == other.length_m
        for one, other in pairwise(lots)
    )


def _promising(
    making: Making, mill: Mill, split: Split, supply: JumboSupply, costs: Costs, *, budget: Budget
) -> list[tuple[Cut, ...]]:
    """Cuts with one more block in two parts, those first whose jumbos end best."""
    lots = split.wound.lots
    problem = length_problem(making, mill, split.cuts, lots, supply)
    blocks, worth = problem.blocks, cautious_worth(problem)
    jumbos = supply.first(len(supply.stock) + len(split.wound.laying.butts) + 1)
    usable_m = [jumbo.usable_m for jumbo in jumbos]

    def ends_m(order: _Order) -> float:
        in_order = [replace(blocks[at], sets=sets) for at, sets in order]
        ends = jumbo_ends(in_order, usable_m, [worth[at] for at, _ in order])
        return float("inf") if ends is None else ends.cost / METRE

    before = ends_m([(at, lot.sets) for at, lot in enumerate(lots)])
    least: dict[tuple[int, int], float] = {}
    for at, sets, order in _splits(lots):
        if budget.over():
            break
        key = lots[at].number, sets
        least[key] = min(ends_m(order), least.get(key, float("inf")))
    a_metre = costs.metre_kg * costs.a_kg
    paying = [
        (cost, key) for key, cost in least.items() if (before - cost) * a_metre > costs.set_up
    ]
    return [_split_cuts(split.cuts, *key) for _, key in sorted(paying)[:_LAID_OUT]]


def _splits(lots: Sequence[Lot]) -> Iterator[tuple[int, int, _Order]]:
    """(lot, sets of its first part, order) with the second part in every place."""
    whole = [(at, lot.sets) for at, lot in enumerate(lots)]
    for at, lot in enumerate(lots):
        for sets in range(1, lot.sets):
            rest = [*whole[:at], (at, sets), *whole[at + 1 :]]
            for place in range(len(rest) + 1):
                if place not in (at, at + 1):
                    yield at, sets, [*rest[:place], (at, lot.sets - sets), *rest[place:]]


def _split_cuts(cuts: tuple[Cut, ...], place: int, sets: int) -> tuple[Cut, ...]:
    cut = cuts[place]
    parts = replace(cut, sets=sets), replace(cut, sets=cut.sets - sets)
    return (*cuts[:place], parts[0], *cuts[place + 1 :], parts[1])
