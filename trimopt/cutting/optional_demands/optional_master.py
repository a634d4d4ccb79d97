"""The linear program over patterns in which some demands need not be made, under limits on sets.

Beside the patterns of a demand that is optional stands one column more, "declined", of which at
most one is taken: it stands in for the least that the demand wants, and costs what is lost by
declining. A limit is a row over all patterns: what a set of their class uses. Its dual makes a set
dearer for the pricing.

Whole sets and whole choices come from an integer program over a pool of patterns (`whole_choice`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from math import inf

import numpy as np

from trimopt.cutting.cp_sat import FOUND, cp_model, run_cp_sat
from trimopt.cutting.lp.master import LPSolution, Master
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.optional_demands.choosing import Choosing, SetLimit
from trimopt.cutting.search.pool_column import PoolColumn, column_of
from trimopt.cutting.search.pool_program import PoolProgram
from trimopt.cutting.search.search_state import Search

_SETS = 2  # of one pattern, as a rule, where little is added to a plan


@dataclass(slots=True, kw_only=True)
class OptionalMaster(Master):
    """Patterns so far; `declined` is by demand what declining it costs, in units of worth."""

    declined: Mapping[int, int]
    limits: tuple[SetLimit, ...] = ()
    set_prices: list[float] = field(init=False, default_factory=list)
    _limit_rows: list[int] = field(init=False, default_factory=list)
    _declined: dict[int, int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        # Two base classes of one slotted layout: `super()` has no cell in a slotted dataclass.
        Master.__post_init__(self)
        self.set_prices = [float(SCALE * limits.cost) for limits in self.instance.classes]
        self._limit_rows = [
            self._program.row(-inf, limit.possible / self._use_unit(limit)) for limit in self.limits
        ]
        for i, worth in self.declined.items():
            demand, (gain_unit, worth_unit) = self.instance.demands[i], self._units[i]
            gain_row, worth_row = self._rows[i]
            column = self._program.column(
                SCALE * worth / self._loss_unit,
                [
                    (gain_row, demand.low / gain_unit),
                    (worth_row, (demand.ordered or 0) / worth_unit),
                ],
            )
            self._program.set_max(column, 1.0)
            self._declined[i] = column

    @staticmethod
    def _use_unit(limit: SetLimit) -> float:
        return float(max([1, *limit.use]))

    def add(self, pattern: Pattern) -> int:
        """Return the place of a pattern, adding it where it is new."""
        known = len(self.patterns)
        place = Master.add(self, pattern)
        if place == known:
            for row, limit in zip(self._limit_rows, self.limits, strict=True):
                use = limit.use[pattern.winding_class] / self._use_unit(limit)
                self._program.part(row, self._sets[place], use)
        return place

    def solve(self) -> LPSolution:
        """Solve the program; `set_prices` are then what a set of each class costs and uses."""
        point = Master.solve(self)
        prices = np.array([float(SCALE * limits.cost) for limits in self.instance.classes])
        for limit, price in zip(self.limits, self.limit_prices(), strict=True):
            prices += price * np.array(limit.use, dtype=np.float64)
        self.set_prices = prices.tolist()
        return point

    def limit_prices(self) -> list[float]:
        """What a unit of each limit is worth at the last optimum, in units of loss."""
        duals = self._program.duals
        return [
            max(0.0, -float(duals[row])) * self._loss_unit / self._use_unit(limit)
            for row, limit in zip(self._limit_rows, self.limits, strict=True)
        ]

    def chosen_shares(self) -> dict[int, float]:
        """How far each optional demand is made at the last optimum, 0 to 1."""
        values = self._program.values()
        return {i: 1.0 - float(values[column]) for i, column in self._declined.items()}

    def hold(self, *, made: Set[int], declined: Set[int]) -> None:
        """Say which optional demands must be made, and which not; the others are free."""
        for i, column in self._declined.items():
            self._program.set_max(column, 0.0 if i in made else 1.0)
            self._program.set_min(column, 1.0 if i in declined else 0.0)

    def count_changes(self, known: Set[Pattern]) -> None:
        """Let a set of each pattern that is not known use a part of a change too: an estimate."""
        for pattern, place in self.index.items():
            if pattern in known:
                continue
            for row, limit in zip(self._limit_rows, self.limits, strict=True):
                use = limit.use[pattern.winding_class] + limit.change / _SETS
                self._program.part(row, self._sets[place], use / self._use_unit(limit))

    def allow(self, amounts: Sequence[float]) -> None:
        """Set each limit to so much in place of what is possible."""
        for row, limit, amount in zip(self._limit_rows, self.limits, amounts, strict=True):
            self._program.limits(row, -inf, amount / self._use_unit(limit))

    def set_price(self, winding_class: int) -> float:
        """What a pattern of a class must be worth to pay, what it uses of the limits in it."""
        return self.set_prices[winding_class]


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
        # Declined means that no set holds a piece of it: else its pieces would be given away.
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
    asked: Choosing,
    program: PoolProgram,
    columns: Mapping[Pattern, tuple[cp_model.IntVar, PoolColumn]],
) -> None:
    """The limits, as `SetLimit.used` counts."""
    known = {cut.pattern for cut in asked.kept}
    changes: list[cp_model.IntVar] = []
    if any(limit.change for limit in asked.limits):
        for pattern, (sets, column) in columns.items():
            if pattern not in known:
                changes.append(program.model.new_bool_var(""))
                program.model.add(sets <= column.max_count * changes[-1])
    for limit in asked.limits:
        used = sum(limit.use[p.winding_class] * sets for p, (sets, _) in columns.items())
        program.model.add(used + limit.change * sum(changes) <= limit.sure)
