"""Blocks split in two, where the butts that it saves are worth more than the set-up.

Sets of a pattern stay together, so a running order may be unable to fill the jumbos: three sets of
30 km and one of 20 km lie on jumbos of 80 km without a butt only where the 20 km set comes between
them. Where the mill file allows it, each block is tried in two parts, the second in every place of
the running order, by the exact program of jumbo ends; the most promising are laid out whole, and
one is taken where it costs less with its set-up and knife moves at the mill's prices.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from trimopt.cutting import Cut
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.schedule.run_lots import length_problem
from trimopt.plan.planning.schedule.running_order import RunningOrder, best_running_order
from trimopt.winding.jumbos.cautious_lengths import cautious_worth
from trimopt.winding.jumbos.jumbo_ends import METRE, jumbo_ends
from trimopt.winding.model import Lot

_MAX_SPLITS = 4
_LAID_OUT = 3  # most promising splits that are laid out whole

_Order = list[tuple[int, int]]  # (place of a lot, sets) in running order


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """A run wound with some blocks in two parts, and what that saves after all costs."""

    cuts: tuple[Cut, ...]
    order: RunningOrder
    set_ups: int = 0  # more than without
    butt_m: int = 0  # less than without
    saved: float = 0.0  # money, set-ups and knife moves paid


def with_splits(run: ChosenRun, cuts: tuple[Cut, ...], order: RunningOrder) -> Split:
    """Split blocks while it pays at the mill's prices; none beyond the cap on set-ups.

    Parameters
    ----------
    run
        Its budget bounds the search.
    cuts, order
        The run without splits; all of its sets have found paper.
    """
    best = Split(cuts=cuts, order=order)
    for _ in range(_MAX_SPLITS):
        butts_cost = best.order.laying.lost_m * run.objective.per_m  # no split saves more
        if butts_cost <= run.objective.set_up or run.budget.over():
            break
        found = None
        for split in _promising(run, best):
            after = best_running_order(run, split, run.budget.share(1 / _LAID_OUT))
            if _together(after.lots):
                continue
            if run.max_set_ups is not None and after.arrangement.set_ups > run.max_set_ups:
                continue
            saved = best.order.cost(run.objective) - after.cost(run.objective)
            if saved > 1e-6 and (found is None or saved > found.saved - best.saved):
                found = Split(
                    cuts=split,
                    order=after,
                    set_ups=after.arrangement.set_ups - order.arrangement.set_ups,
                    butt_m=order.laying.lost_m - after.laying.lost_m,
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


def _promising(run: ChosenRun, split: Split) -> list[tuple[Cut, ...]]:
    """Cuts with one more block in two parts, those first whose jumbos end best."""
    lots = split.order.lots
    problem = length_problem(run.making, run.mill, split.cuts, lots, run.supply, beside=run.beside)
    worth = cautious_worth(problem)
    jumbos = run.supply.first(len(run.supply.stock) + len(split.order.laying.butts) + 1)
    usable_m = [jumbo.usable_m for jumbo in jumbos]

    def ends_m(order: _Order) -> float:
        in_order = [replace(problem.blocks[at], sets=sets) for at, sets in order]
        ends = jumbo_ends(in_order, usable_m, [worth[at] for at, _ in order])
        return float("inf") if ends is None else ends.cost / METRE

    before = ends_m([(at, lot.sets) for at, lot in enumerate(lots)])
    min_ends_m: dict[tuple[int, int], float] = {}
    for at, sets, order in _splits(lots):
        if run.budget.over():
            break
        key = lots[at].number, sets
        min_ends_m[key] = min(ends_m(order), min_ends_m.get(key, float("inf")))
    paying = [
        (metres, key)
        for key, metres in min_ends_m.items()
        if (before - metres) * run.objective.per_m > run.objective.set_up
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
