"""Whole sets of known patterns: an integer program over a pool, limited by work."""

from __future__ import annotations

from collections.abc import Sequence

from ortools.sat.python import cp_model

from trimopt.cutting.instance import SCALE
from trimopt.cutting.outcome import Pattern
from trimopt.cutting.search import Search

__all__ = ["choose_sets"]


def choose_sets(
    search: Search,
    pool: Sequence[Pattern],
    *,
    effort: float,
    seed: int,
    hint: dict[Pattern, int] | None = None,
    above: int | None = None,
) -> int | None:
    """Find the best whole plan over a pool of patterns.

    Parameters
    ----------
    search
        Takes the plan found.
    pool
        The patterns that may be used.
    effort
        Limit in the solver's own deterministic time.
    seed
        Of the solver.
    hint
        A plan to begin from.
    above
        A proven bound on the loss.

    Returns
    -------
    int or None
        A proven lower bound on the loss of plans over the pool, in exact arithmetic; None where
        the solver proved nothing.
    """
    instance = search.instance
    model = cp_model.CpModel()
    made: list[list[tuple[int, cp_model.IntVar]]] = [[] for _ in instance.demands]
    worth: list[list[tuple[int, cp_model.IntVar]]] = [[] for _ in instance.demands]
    terms: list[tuple[int, cp_model.IntVar]] = []
    need = [max(d.low, d.high or 0) for d in instance.demands]
    columns = []
    for pattern in pool:
        gains: dict[int, int] = {}
        worths: dict[int, int] = {}
        for k, count in pattern.pieces:
            option = instance.options[k]
            gains[option.demand] = gains.get(option.demand, 0) + option.gain * count
            worths[option.demand] = worths.get(option.demand, 0) + option.worth * count
        most = max(-(-max(1, need[i]) // gain) for i, gain in gains.items())
        if hint:
            most = max(most, hint.get(pattern, 0))
        column = model.new_int_var(0, most, "")
        columns.append(column)
        for i, gain in gains.items():
            made[i].append((gain, column))
            if worths[i]:
                worth[i].append((worths[i], column))
        terms.append(
            (SCALE * (instance.classes[pattern.winding_class].cost - sum(worths.values())), column)
        )
    for i, demand in enumerate(instance.demands):
        total = sum(gain * column for gain, column in made[i])
        greatest = sum(gain * column.proto.domain[1] for gain, column in made[i])
        if not made[i]:
            if demand.low > 0:
                return None
            continue
        model.add(total >= demand.low)
        back = 0
        if demand.high is not None and greatest > demand.high:
            surplus = model.new_int_var(0, greatest - demand.high, "")
            model.add(total - surplus <= demand.high)
            terms.append((SCALE * demand.surplus_worth, surplus))
            back = demand.surplus_worth * surplus
        if demand.ordered is not None and (demand.under_price or demand.over_price):
            net = sum(w * column for w, column in worth[i]) - back
            span = demand.ordered + sum(w * column.proto.domain[1] for w, column in worth[i])
            under = model.new_int_var(0, 2 * span + 1, "")
            over = model.new_int_var(0, 2 * span + 1, "")
            model.add(net + under - over == demand.ordered)
            terms += [(demand.under_price, under), (demand.over_price, over)]
    objective = sum(weight * column for weight, column in terms)
    if above is not None:
        model.add(objective >= above)
    if search.loss is not None:
        model.add(objective <= search.loss)
    model.minimize(objective)
    if hint:
        for pattern, column in zip(pool, columns, strict=True):
            model.add_hint(column, hint.get(pattern, 0))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = effort
    solver.parameters.random_seed = seed
    if search.seconds_left < 1e9:
        solver.parameters.max_time_in_seconds = max(0.01, search.seconds_left)
    status = solver.solve(model)
    search.spend(int(1e8 * solver.response_proto.deterministic_time))
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        sets = {p: solver.value(c) for p, c in zip(pool, columns, strict=True)}
        search.take(sets, "integer program")
    if status == cp_model.OPTIMAL:
        return round(solver.objective_value)
    if status == cp_model.INFEASIBLE:
        return search.loss
    return None
