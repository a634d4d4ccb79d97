"""Sets on stretches of paper that must be used up, beside sets of which there is paper enough.

A mixed integer program over two pools: patterns that any set may have, and for each stretch those
that it can hold. Sets on a stretch may have any length in their range: the number of sets and their
metres together say what they cost and give. A stretch that is begun costs its whole length, what
its sets do not take is its butt, and `reward` is taken off the objective for it, so that odd paper
is used as far as that costs no more. Where no other set follows, one stretch may be left in the
middle.

It chooses and proves nothing, so floats will do: metres are rounded afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from ortools.linear_solver import pywraplp

from trimopt.budget import Budget
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.search.pool_column import PoolColumn, column_of

_UNIT = 1e-4  # of the objective: figures of a handy size
_SLIP = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperStretch:
    """A stretch: its metres, what a metre costs, and what using it is worth, units of cost.

    `clear_m` are metres for columns that ask for such.
    """

    length_m: int
    cost_per_m: int
    reward: int
    clear_m: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchColumn:
    """Sets of a pattern on a stretch: the lengths that one may have, what sets and metres give.

    Neither column costs anything: the stretch is paid for.
    """

    stretch: int
    min_m: int
    max_m: int
    each_set: PoolColumn
    each_metre: PoolColumn
    clear: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchSets:
    """Sets and metres of each column."""

    sets: tuple[int, ...]
    metres: tuple[int, ...]


def sets_on_stretches(
    instance: Instance,
    stretches: Sequence[PaperStretch],
    columns: Sequence[StretchColumn],
    others: Sequence[Pattern],
    *,
    budget: Budget,
    nodes: int,
) -> StretchSets | None:
    """Choose the sets of least loss; None where none were found.

    Parameters
    ----------
    instance
        The run's demands, and the classes of the other patterns.
    columns, others
        The pools; together they must be able to meet every demand.
    """
    program = _StretchProgram(instance)
    sets, metres = [], []
    for column in columns:
        many = program.column(column.each_set, whole=True)
        wound = program.column(column.each_metre, whole=False)
        program.solver.Add(wound >= column.min_m * many)
        program.solver.Add(wound <= column.max_m * many)
        sets.append(many)
        metres.append(wound)
    # Other sets come after all stretches. Where there are any, every stretch is wound to its end;
    # where there are none, the last one begun may be left in the middle.
    rest = program.solver.BoolVar("")
    for pattern in others:
        free = column_of(instance, pattern)
        program.solver.Add(program.column(free, whole=True) <= free.max_count * rest)
    last = [
        program.stretch(
            stretch, [m for c, m in zip(columns, metres, strict=True) if c.stretch == s]
        )
        for s, stretch in enumerate(stretches)
    ]
    for s, stretch in enumerate(stretches):
        clear = [m for c, m in zip(columns, metres, strict=True) if c.stretch == s and c.clear]
        if clear:
            program.solver.Add(sum(clear) <= stretch.clear_m)
    program.solver.Add(sum(last) + rest <= 1)
    if not program.solved(budget, nodes):
        return None
    counts = [round(many.solution_value()) for many in sets]
    return StretchSets(
        sets=tuple(counts),
        metres=_whole_metres(
            stretches, columns, counts, [wound.solution_value() for wound in metres]
        ),
    )


def _whole_metres(
    stretches: Sequence[PaperStretch],
    columns: Sequence[StretchColumn],
    sets: Sequence[int],
    wound_m: Sequence[float],
) -> tuple[int, ...]:
    """Metres of each column rounded down, and what that leaves of a full stretch given back."""
    whole = [
        max(column.min_m * many, min(column.max_m * many, int(metres + _SLIP)))
        for column, many, metres in zip(columns, sets, wound_m, strict=True)
    ]
    for s, stretch in enumerate(stretches):
        here = [j for j, column in enumerate(columns) if column.stretch == s and sets[j]]
        full = sum(wound_m[j] for j in here) > stretch.length_m - 1
        left = stretch.length_m - sum(whole[j] for j in here) if full else 0
        for j in here:
            more = min(left, columns[j].max_m * sets[j] - whole[j])
            whole[j] += more
            left -= more
    return tuple(whole)


class _StretchProgram:
    """The program: columns, and the loss of what they give to the demands."""

    def __init__(self, instance: Instance) -> None:
        self.solver = pywraplp.Solver.CreateSolver("SCIP")
        self.objective = self.solver.Objective()
        self.made, self.worth = [], []
        for demand in instance.demands:
            high = inf if demand.high is None else demand.high
            made = self.solver.Constraint(demand.low, high)
            surplus = self._cost(SCALE * demand.surplus_worth)
            made.SetCoefficient(surplus, -1)
            ordered = demand.ordered or 0
            net = self.solver.Constraint(ordered, ordered)
            net.SetCoefficient(surplus, -demand.surplus_worth)
            net.SetCoefficient(self._cost(demand.under_price), 1)
            net.SetCoefficient(self._cost(demand.over_price), -1)
            self.made.append(made)
            self.worth.append(net)

    def _cost(self, loss: float, most: float = inf, *, whole: bool = False) -> pywraplp.Variable:
        variable = self.solver.Var(0, most, whole, "")
        self.objective.SetCoefficient(variable, _UNIT * loss / SCALE)
        return variable

    def column(self, column: PoolColumn, *, whole: bool) -> pywraplp.Variable:
        """Put a column in."""
        number = self._cost(column.loss, column.max_count, whole=whole)
        for i, amounts in column.yields.items():
            for row, amount in zip((self.made[i], self.worth[i]), amounts, strict=True):
                if amount:
                    row.SetCoefficient(number, amount)
        return number

    def stretch(
        self, stretch: PaperStretch, metres: Sequence[pywraplp.Variable]
    ) -> pywraplp.Variable:
        """Put a stretch in, with the metres wound off it; gives whether it is left in the middle.

        Both what is paid for it and the reward are for its whole length.
        """
        whole_m = stretch.length_m
        used = self._cost(SCALE * (stretch.cost_per_m * whole_m - stretch.reward), 1, whole=True)
        left = self._cost(0, 1, whole=True)
        kept = self._cost(-SCALE * stretch.cost_per_m, whole_m)
        self.solver.Add(sum(metres) + kept <= whole_m * used)
        self.solver.Add(kept <= whole_m * left)
        return left

    def solved(self, budget: Budget, nodes: int) -> bool:
        """Whether a solution was found."""
        self.objective.SetMinimization()
        # The same nodes give the same answer; the clock only ends a search that lasts too long.
        self.solver.SetSolverSpecificParametersAsString(f"limits/totalnodes = {nodes}")
        if budget.left_s < inf:
            self.solver.SetTimeLimit(max(1, round(1000 * budget.left_s)))
        status = self.solver.Solve()
        budget.over()
        return status in {pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE}
