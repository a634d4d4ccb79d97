"""Whole sets of known patterns: an integer program over a pool, limited by work."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import FOUND, cp_model, run_cp_sat
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE, Demand, Instance
from trimopt.cutting.search.pool_column import PoolColumn, column_of
from trimopt.cutting.search.search_state import Search

_GREATEST = 2**62  # of a figure in the solver, which adds up in 64 bits
_EXACT = 2**50  # where neighbouring floats are a quarter apart


def choose_sets(
    search: Search,
    pool: Sequence[Pattern],
    *,
    effort: float,
    seed: int,
    above: int | None = None,
) -> int | None:
    """Find the best whole plan over a pool of patterns, from the plan that the search has.

    Parameters
    ----------
    effort
        Limit in the solver's own deterministic time.
    above
        A proven bound on the loss.

    Returns
    -------
    int or None
        A proven lower bound on the loss of plans over the pool, in exact arithmetic; None where
        the solver proved nothing.
    """
    instance = search.instance
    hint = {cut.pattern: cut.sets for cut in search.cuts}
    columns_of = [column_of(instance, pattern, min_count=hint.get(pattern, 0)) for pattern in pool]
    program = PoolProgram(instance.demands, columns_of)
    if not program.whole:
        return None
    model, columns, objective = program.model, program.columns, program.objective
    if above is not None:
        model.add(objective >= above)
    if search.loss is not None:
        model.add(objective <= search.loss)
    model.minimize(objective)
    for pattern, column in zip(pool, columns, strict=True):
        model.add_hint(column, hint.get(pattern, 0))
    solver, status = run_cp_sat(model, search.budget, effort=effort, seed=seed)
    search.budget.spend(int(1e8 * solver.response_proto.deterministic_time))
    if status in FOUND:
        sets = {p: solver.value(c) for p, c in zip(pool, columns, strict=True)}
        search.take(sets, "integer program")
    if not program.bounded:
        return None
    if status in FOUND:
        return proven_by(solver)
    return search.loss if status == cp_model.INFEASIBLE else None


def proven_by(solver: cp_model.CpSolver) -> int | None:
    """What a solver that found a plan proved of a whole-number objective; None where unsure.

    It gives the whole number as a float: exact below `_EXACT` but for noise.
    """
    bound: float = solver.best_objective_bound
    return round(bound) if abs(bound) < _EXACT else None


class PoolProgram:
    """The integer program: how many of each column, and the loss as its objective.

    `whole` is False where a demand that must be made has no column or its figures are too great
    for the solver, `bounded` where making ever more of a demand may pay, so that the limits on the
    columns prove nothing.
    """

    def __init__(self, demands: Sequence[Demand], columns: Sequence[PoolColumn]) -> None:
        self.model = cp_model.CpModel()
        self.columns: list[cp_model.IntVar] = []
        self.terms: list[tuple[int, cp_model.IntVar]] = []
        self.constant = 0
        self.whole = self.bounded = True
        self.made: list[list[tuple[int, cp_model.IntVar, int]]] = [[] for _ in demands]
        self.worth: list[list[tuple[int, cp_model.IntVar, int]]] = [[] for _ in demands]
        for column in columns:
            self._column(column)
        for i, demand in enumerate(demands):
            self._demand(i, demand)
        self.objective = sum(weight * column for weight, column in self.terms) + self.constant

    def _column(self, column: PoolColumn) -> None:
        number = self.model.new_int_var(0, column.max_count, "")
        self.columns.append(number)
        for i, (gain, worth) in column.yields.items():
            self.made[i].append((gain, number, column.max_count))
            if worth:
                self.worth[i].append((worth, number, column.max_count))
        self.terms.append((column.loss, number))

    def _demand(self, i: int, demand: Demand) -> None:
        if demand.high is None and self.worth[i]:
            self.bounded = False
        if not self.made[i] and demand.low > 0:
            self.whole = False
        total = sum(gain * column for gain, column, _ in self.made[i])
        greatest = sum(gain * most for gain, _, most in self.made[i])
        beyond = 0 if demand.high is None else max(0, greatest - demand.high)
        span = (demand.ordered or 0) + sum(worth * most for worth, _, most in self.worth[i])
        span += demand.surplus_worth * beyond
        if SCALE * span >= _GREATEST:
            self.whole = False
            return
        if self.made[i]:
            self.model.add(total >= demand.low)
        back = 0
        if demand.high is not None and beyond:
            # What is beyond `high` takes back its worth; the variable is as large as it must be and
            # no larger, as it costs.
            surplus = self.model.new_int_var(0, beyond, "")
            self.model.add(total - surplus <= demand.high)
            self.terms.append((SCALE * demand.surplus_worth, surplus))
            back = demand.surplus_worth * surplus
        if demand.ordered is None or not (demand.under_price or demand.over_price):
            return
        if not self.made[i]:
            self.constant += demand.under_price * max(0, demand.ordered)
            return
        # Below or above what is ordered: one of the two is 0 at an optimum, as both cost something.
        net = sum(worth * column for worth, column, _ in self.worth[i]) - back
        under = self.model.new_int_var(0, span, "")
        over = self.model.new_int_var(0, span, "")
        self.model.add(net + under - over == demand.ordered)
        self.terms += [(demand.under_price, under), (demand.over_price, over)]


_KEPT_EFFORT = 0.4  # of the search, in the solver's deterministic seconds
_KEPT_GAP = 0.001  # of the paper of the sets that there are


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
    """How many sets of a plan stay when the demands have changed, for least loss and changes.

    What changes has a price: a kind of set of which not all stay, and each pattern that the winder
    is set up for.

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
    gap = _KEPT_GAP * SCALE * sum(column.cost * column.max_count for column in kept)
    solver, status = run_cp_sat(model, budget, effort=_KEPT_EFFORT, seed=seed, gap=gap)
    if status not in FOUND:
        return None
    return tuple(solver.value(number) for number in program.columns[: len(kept)])
