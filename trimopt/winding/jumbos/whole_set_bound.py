"""The joint bound of small parts: whole sets of any length, searched through.

The linear program over the ends of the ranges of length (`trimopt.winding.jumbos.joint_bound`)
mixes fractions of sets. Of a few orders on a core of their own whole sets are few, and two sets are
much more than a set and a third. So here the sets of a pattern are a whole number n, and their
metres together are any whole number from n times the shortest to n times the longest length that
the pattern may have. Cost, yield and worth of a reel are straight lines in its length, so these two
numbers say all of what sets of a pattern, each of a length of its own, cost and give: every plan of
the run is one of the integer program, with the same loss.

Two things are relaxed: a pattern's lengths reach from the shortest to the longest over all cores
and classes that hold it, and a set of great mass is as wide as the program's classes are. Sheets
are rounded down to chops, which is no straight line, so a part with sheets gets what prices prove.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trimopt.budget import Budget
from trimopt.cutting import Instance, Outcome
from trimopt.cutting.lp.bound_certificate import surplus_pays
from trimopt.cutting.model.cuts import Across, pieces_across
from trimopt.cutting.search.pattern_enumeration import all_patterns
from trimopt.cutting.search.pool_column import PoolColumn, column_of

_MAX_LOOKED, _MAX_POOL = 3_000, 200  # patterns looked at, and searched over
_EFFORT = 0.1  # of the solver's deterministic seconds, each some three of the clock


def _metre(metres: int, short: PoolColumn, long: PoolColumn) -> PoolColumn | None:
    """What a metre more of a set costs and gives; None where that is no straight line."""
    cost, uneven = divmod(long.cost - short.cost, metres)
    yields = {}
    for i, (gain, worth) in short.yields.items():
        more_gain, gain_left = divmod(long.yields[i][0] - gain, metres)
        more_worth, worth_left = divmod(long.yields[i][1] - worth, metres)
        yields[i] = more_gain, more_worth
        uneven = uneven or gain_left or worth_left
    return None if uneven else PoolColumn(cost=cost, yields=yields, max_count=0)


def whole_sets_bound(
    instance: Instance,
    lengths_m: Sequence[int],
    outcome: Outcome,
    budget: Budget,
) -> int | None:
    """Bound the loss of a part of reels over whole sets of every length in range.

    Parameters
    ----------
    instance
        The part over the ends of all ranges, as `trimopt.winding.jumbos.joint_bound` gives it, its
        demands as the run has them.
    lengths_m
        The length of each of its classes.

    Returns
    -------
    int or None
        None where there are too many patterns, or nothing more was proven in the work allowed.
    """
    prices = outcome.certificate
    if prices is None or outcome.loss is None or surplus_pays(instance, prices):
        return None
    patterns = all_patterns(instance, max_looked=_MAX_LOOKED)
    if patterns is None:
        return None
    # One more than the gap: the bound of the prices was rounded up. A set of any length loses no
    # less than the cheaper of its ends, so a pattern counts where one of its classes does.
    most = (outcome.loss - outcome.price_bound + 1) * prices.scale
    near = {
        pieces_across(instance, p) for p in patterns if prices.reduced_cost(instance, p) <= most
    }
    if len(near) > _MAX_POOL:
        return None
    ends: dict[Across, dict[int, PoolColumn]] = {across: {} for across in sorted(near)}
    for pattern in patterns:
        if (across := pieces_across(instance, pattern)) in ends:
            ends[across].setdefault(lengths_m[pattern.winding_class], column_of(instance, pattern))
    return _searched(instance, lengths_m, ends, outcome, budget)


def _searched(
    instance: Instance,
    lengths_m: Sequence[int],
    ends: dict[Across, dict[int, PoolColumn]],
    outcome: Outcome,
    budget: Budget,
) -> int | None:
    # Slow to import, and not every run has small parts.
    from trimopt.cutting.cp_sat import FOUND, run_cp_sat  # noqa: PLC0415
    from trimopt.cutting.search.pool_program import PoolProgram, proven_by  # noqa: PLC0415

    columns: list[PoolColumn] = []
    hints: list[int] = []
    more_metres: list[tuple[int, int]] = []  # place of the sets, and metres more of each
    planned = _planned(instance, lengths_m, outcome)
    for across, found in ends.items():
        short_m, long_m = min(found), max(found)
        short, more_m = found[short_m], long_m - short_m
        many, metres = planned.get(across, (0, 0))
        # Of more sets one could be left out: no order lacks it, and reels are less than their set.
        sets = max(many, short.max_count)
        columns.append(replace(short, max_count=sets))
        hints.append(many)
        if not more_m:
            continue
        # The metres of all these sets beyond the shortest length are a second whole number: it
        # gives what a metre of the pattern gives, and is at most `more_m` for each set.
        metre = _metre(more_m, short, found[long_m])
        if metre is None:
            return None
        more_metres.append((len(columns) - 1, more_m))
        columns.append(replace(metre, max_count=sets * more_m))
        hints.append(metres - many * short_m)
    program = PoolProgram(instance.demands, columns)
    if not (program.whole and program.bounded):
        return None
    for place, more_m in more_metres:
        program.model.add(program.columns[place + 1] <= more_m * program.columns[place])
    assert outcome.loss is not None
    program.model.add(program.objective >= outcome.price_bound)
    program.model.add(program.objective <= outcome.loss)
    program.model.minimize(program.objective)
    for column, hint in zip(program.columns, hints, strict=True):
        program.model.add_hint(column, hint)
    solver, status = run_cp_sat(program.model, budget, effort=_EFFORT)
    return proven_by(solver) if status in FOUND else None


def _planned(
    instance: Instance, lengths_m: Sequence[int], outcome: Outcome
) -> dict[Across, tuple[int, int]]:
    """Sets of the plan and their metres."""
    planned: dict[Across, tuple[int, int]] = {}
    for cut in outcome.cuts:
        across = pieces_across(instance, cut.pattern)
        sets, metres = planned.get(across, (0, 0))
        more_m = cut.sets * lengths_m[cut.pattern.winding_class]
        planned[across] = sets + cut.sets, metres + more_m
    return planned
