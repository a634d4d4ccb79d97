"""How many sets of a plan stay when the demands have changed: an integer program over a pool.

Columns are the sets that there are, and patterns beside them. What changes has a price: a kind of
set of which not all stay, and each pattern that the winder is set up for.
"""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import FOUND, run_cp_sat
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.search.pool_column import PoolColumn, column_of
from trimopt.cutting.search.pool_program import PoolProgram

_EFFORT = 0.4  # of the search, in the solver's deterministic seconds
_GAP = 0.001  # of the paper of the sets that there are


def sets_that_stay(
    instance: Instance,
    kept: Sequence[PoolColumn],
    others: Sequence[Pattern],
    *,
    pinned: Sequence[bool],
    change: int,
    set_up: int,
    budget: Budget,
    seed: int,
) -> tuple[int, ...] | None:
    """How many of each kind of set stay, so that loss, changes and set-ups cost least.

    Parameters
    ----------
    kept
        The sets that there are, `max_count` of each kind, with what one gives to the demands.
    others
        Patterns that may be wound beside them.
    pinned
        Whether all of a kind must stay.
    change, set_up
        What it costs where not all of a kind stay, and where a kind or pattern is wound at all, in
        units of cost.

    Returns
    -------
    tuple of int
        Of each kind; None where nothing was found.
    """
    columns = [*kept, *(column_of(instance, pattern) for pattern in others)]
    program = PoolProgram(instance.demands, columns)
    if not program.whole:
        return None
    model, price = program.model, 0
    for place, (column, number) in enumerate(zip(columns, program.columns, strict=True)):
        used = model.new_bool_var("")
        model.add(number <= column.max_count * used)
        price += set_up * used
        if place < len(kept):
            changed = model.new_bool_var("")
            model.add(number >= column.max_count * (1 - changed))
            price += change * changed
            if pinned[place]:
                model.add(changed == 0)
    model.minimize(program.objective + SCALE * price)
    gap = _GAP * SCALE * sum(column.cost * column.max_count for column in kept)
    solver, status = run_cp_sat(model, budget, effort=_EFFORT, seed=seed, gap=gap)
    if status not in FOUND:
        return None
    return tuple(solver.value(number) for number in program.columns[: len(kept)])
