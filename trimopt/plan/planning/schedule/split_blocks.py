"""Blocks split in two, where the butts that it saves are worth more than the set-up.

Sets of a pattern stay together, so a running order may be unable to fill the jumbos: three sets of
30 km and one of 20 km lie on jumbos of 80 km without a butt only where the 20 km set comes between
them. Where the mill file allows it, each block is tried in two parts, the second in every place of
the running order, by how well the sets then fill the jumbos; the most promising are laid out whole,
and one is taken where it costs less with its set-up and knife moves at the mill's prices.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from trimopt.cutting import Cut
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.schedule.run_lots import length_problem
from trimopt.plan.planning.schedule.running_order import RunningOrder, best_running_order
from trimopt.winding.jumbos.metres_relaxation import MetresRelaxation
from trimopt.winding.jumbos.nominal_ends import REACHES, NominalEnds
from trimopt.winding.jumbos.order_slack import LengthProblem
from trimopt.winding.model import Lot

_MAX_SPLITS = 4
_LAID_OUT = 3  # most promising splits that are laid out whole


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
    if len(lots) == 1:
        return []  # there is nothing to lie between its parts
    problem = length_problem(run.making, run.mill, split.cuts, lots, run.supply, beside=run.beside)
    wanted_m = MetresRelaxation(problem).free_lengths_m()
    before = _ends_m(problem, wanted_m, [range(len(lots))])
    paying = []
    for at, lot in enumerate(lots):
        for sets in range(1, lot.sets):
            if run.budget.over():
                break
            metres = _ends_m(
                _parted(problem, at, sets), [*wanted_m, wanted_m[at]], _orders(len(lots), at)
            )
            if (before - metres) * run.objective.per_m > run.objective.set_up:
                paying.append((metres, (lot.number, sets)))
    return [_split_cuts(split.cuts, *key) for _, key in sorted(paying)[:_LAID_OUT]]


def _ends_m(
    problem: LengthProblem, wanted_m: Sequence[float], orders: Sequence[Sequence[int]]
) -> float:
    """What the jumbos' ends cost in the best of some running orders, in metres."""
    return float(NominalEnds(problem, *REACHES[-1], wanted_m).costs_m(orders).min())


def _parted(problem: LengthProblem, at: int, sets: int) -> LengthProblem:
    """The problem with so many sets of a block, and the rest of them as a block behind all."""
    blocks = list(problem.blocks)
    rest = replace(blocks[at], sets=blocks[at].sets - sets)
    blocks[at] = replace(blocks[at], sets=sets)
    gains = (*problem.gains, problem.gains[at])
    return replace(problem, blocks=(*blocks, rest), gains=gains)


def _orders(count: int, at: int) -> list[list[int]]:
    """The running order with a second part of one block in every place not beside it."""
    places = (place for place in range(count + 1) if place not in (at, at + 1))
    return [[*range(place), count, *range(place, count)] for place in places]


def _split_cuts(cuts: tuple[Cut, ...], place: int, sets: int) -> tuple[Cut, ...]:
    cut = cuts[place]
    parts = replace(cut, sets=sets), replace(cut, sets=cut.sets - sets)
    return (*cuts[:place], parts[0], *cuts[place + 1 :], parts[1])
