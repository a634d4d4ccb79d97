"""Whole sets of known patterns: an integer program over a pool, limited by work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ortools.sat.python import cp_model

from trimopt.cutting.instance import SCALE, Demand, Instance
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
    program = _Program(instance, pool, hint or {})
    if not program.whole:
        return None
    model, columns, objective = program.model, program.columns, program.objective
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
    if not program.bounded:
        return None
    if status == cp_model.OPTIMAL:
        optimum: int = round(solver.objective_value)
        return optimum
    if status == cp_model.INFEASIBLE:
        return search.loss
    return None


class _Program:
    """The integer program: sets of each pattern, and the loss as its objective.

    `whole` is False where a demand that must be made has no pattern, `bounded` where making ever
    more of a demand may pay, so that the limits on the sets prove nothing.
    """

    def __init__(
        self, instance: Instance, pool: Sequence[Pattern], hint: Mapping[Pattern, int]
    ) -> None:
        self.instance = instance
        self.model = cp_model.CpModel()
        self.columns: list[cp_model.IntVar] = []
        self.terms: list[tuple[int, cp_model.IntVar]] = []
        self.constant = 0
        self.whole = self.bounded = True
        count = len(instance.demands)
        self.made: list[list[tuple[int, cp_model.IntVar, int]]] = [[] for _ in range(count)]
        self.worth: list[list[tuple[int, cp_model.IntVar, int]]] = [[] for _ in range(count)]
        for pattern in pool:
            self._column(pattern, hint.get(pattern, 0))
        for i, demand in enumerate(instance.demands):
            self._demand(i, demand)
        self.objective = sum(weight * column for weight, column in self.terms) + self.constant

    def _column(self, pattern: Pattern, hinted: int) -> None:
        gains: dict[int, int] = {}
        worths: dict[int, int] = {}
        for k, count in pattern.pieces:
            option = self.instance.options[k]
            gains[option.demand] = gains.get(option.demand, 0) + option.gain * count
            worths[option.demand] = worths.get(option.demand, 0) + option.worth * count
        most = hinted
        for i, gain in gains.items():
            demand = self.instance.demands[i]
            most = max(most, -(-max(1, demand.low, demand.high or 0) // gain))
        column = self.model.new_int_var(0, most, "")
        self.columns.append(column)
        for i, gain in gains.items():
            self.made[i].append((gain, column, most))
            if worths[i]:
                self.worth[i].append((worths[i], column, most))
        cost = self.instance.classes[pattern.winding_class].cost
        self.terms.append((SCALE * (cost - sum(worths.values())), column))

    def _demand(self, i: int, demand: Demand) -> None:
        if demand.high is None and self.worth[i]:
            self.bounded = False
        if not self.made[i] and demand.low > 0:
            self.whole = False
        total = sum(gain * column for gain, column, _ in self.made[i])
        greatest = sum(gain * most for gain, _, most in self.made[i])
        if self.made[i]:
            self.model.add(total >= demand.low)
        back = 0
        if demand.high is not None and greatest > demand.high:
            surplus = self.model.new_int_var(0, greatest - demand.high, "")
            self.model.add(total - surplus <= demand.high)
            self.terms.append((SCALE * demand.surplus_worth, surplus))
            back = demand.surplus_worth * surplus
        if demand.ordered is None or not (demand.under_price or demand.over_price):
            return
        if not self.made[i]:
            self.constant += demand.under_price * max(0, demand.ordered)
            return
        net = sum(worth * column for worth, column, _ in self.worth[i]) - back
        span = demand.ordered + sum(worth * most for worth, _, most in self.worth[i])
        if demand.high is not None:
            span += demand.surplus_worth * max(0, greatest - demand.high)
        under = self.model.new_int_var(0, span, "")
        over = self.model.new_int_var(0, span, "")
        self.model.add(net + under - over == demand.ordered)
        self.terms += [(demand.under_price, under), (demand.over_price, over)]
