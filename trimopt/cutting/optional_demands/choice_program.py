"""Whole sets and whole choices over a pool of patterns: an integer program, limited by work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ortools.sat.python.cp_model import IntVar

from trimopt.cutting.cp_sat import FOUND, run_cp_sat
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.optional_demands.choosing import Choosing
from trimopt.cutting.search.pool_column import PoolColumn, column_of
from trimopt.cutting.search.pool_program import PoolProgram
from trimopt.cutting.search.search_state import Search


def whole_choice(
    asked: Choosing,
    search: Search,
    pool: Sequence[Pattern],
    begin: tuple[frozenset[int], Mapping[Pattern, int]],
    *,
    seed: int,
) -> tuple[frozenset[int], dict[Pattern, int]] | None:
    """The best whole choice over a pool that the solver finds, and sets; None where it finds none.

    Parameters
    ----------
    begin
        A choice with its plan to begin from.
    """
    chosen, now = begin
    instance = asked.instance
    optional = sorted(asked.declined)
    columns = [column_of(instance, p, min_count=now.get(p, 0)) for p in pool]
    without = [
        PoolColumn(
            cost=asked.declined[i] + (instance.demands[i].ordered or 0),
            yields={i: (instance.demands[i].low, instance.demands[i].ordered or 0)},
            max_count=1,
        )
        for i in optional
    ]
    program = PoolProgram(instance.demands, [*columns, *without])
    if not program.whole:
        return None
    sets = program.columns[: len(pool)]
    declined = dict(zip(optional, program.columns[len(pool) :], strict=True))
    for i, column in declined.items():
        held = [(most, x) for _, x, most in program.made[i] if x is not column]
        most = sum(count for count, _ in held)
        program.model.add(sum(x for _, x in held) <= most * (1 - column))
        program.model.add_hint(column, i not in chosen)
    for pattern, column in zip(pool, sets, strict=True):
        program.model.add_hint(column, now.get(pattern, 0))
    _limit(asked, program, dict(zip(pool, zip(sets, columns, strict=True), strict=True)))
    program.model.minimize(program.objective)
    effort = search.params.choice.effort
    solver, status = run_cp_sat(program.model, search.budget, effort=effort, seed=seed)
    search.budget.spend(int(1e8 * solver.response_proto.deterministic_time))
    if status not in FOUND:
        return None
    best = frozenset(i for i, column in declined.items() if not solver.value(column))
    return best, {p: solver.value(x) for p, x in zip(pool, sets, strict=True)}


def _limit(
    asked: Choosing, program: PoolProgram, columns: Mapping[Pattern, tuple[IntVar, PoolColumn]]
) -> None:
    """The limits, as `SetLimit.used` counts."""
    known = {cut.pattern for cut in asked.kept}
    changes: list[IntVar] = []
    if any(limit.change for limit in asked.limits):
        for pattern, (sets, column) in columns.items():
            if pattern not in known:
                changes.append(program.model.new_bool_var(""))
                program.model.add(sets <= column.max_count * changes[-1])
    for limit in asked.limits:
        used = sum(limit.use[p.winding_class] * sets for p, (sets, _) in columns.items())
        program.model.add(used + limit.change * sum(changes) <= limit.sure)
