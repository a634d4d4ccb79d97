"""Sets on stretches of paper that must be used up, beside sets of which there is paper enough.

A mixed integer program over two pools: patterns that any set may have, and for each stretch those
that it can hold. Sets on a stretch may have any length in their range: the number of sets and their
metres together say what they cost and give. A jumbo that is begun costs all its stretches, what
its sets do not take is its butt, and `reward` is taken off the objective for it, so that odd paper
is used up as far as that costs no more. Where no other set follows, one jumbo may be left in the
middle. One that was begun before costs what is left of it whatever is wound. One set may lie over
two stretches that follow each other, or more, joined between them: the first is then wound to its
end, those in between are in it whole.

It chooses and proves nothing, so floats will do: metres are rounded afterwards. Of many columns
those of least reduced cost are in it, and nodes of the tree end it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import inf

from ortools.linear_solver import linear_solver_pb2, pywraplp

from trimopt.budget import Budget
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.search.pool_column import PoolColumn, column_of
from trimopt.cutting.search.stretch_sets import (
    JoinColumn,
    JoinedSet,
    PaperStretch,
    RoundedSets,
    StretchColumn,
    StretchSets,
)

_UNIT = 1e-4  # of the objective: figures of a handy size
_LACK = 10  # times its worth: what a demand that is left short costs for what it lacks
_SLIP = 1e-6
_MAX_COLUMNS = 200  # of whole numbers: those of least reduced cost
_LEAST_S = 0.3  # of time: what is found in less may leave a third of a jumbo


def sets_on_stretches(
    instance: Instance,
    stretches: Sequence[PaperStretch],
    columns: Sequence[StretchColumn],
    others: Sequence[Pattern],
    *,
    others_m: int | None,
    length_m: Sequence[int],
    budget: Budget,
    nodes: int,
    joins: Sequence[JoinColumn] = (),
    max_columns: int | None = None,
) -> StretchSets | None:
    """Choose the sets of least loss; None where none were found.

    Parameters
    ----------
    instance
        The run's demands, and the classes of the other patterns.
    columns, others
        The pools.
    others_m
        Metres that there are for the others. None: enough, and they must be able to meet every
        demand; else a demand may be left short, though that costs more than any set.
    length_m
        Metres of a set of each winding class.
    joins
        Sets over several stretches. Where their metres cannot be rounded, none is chosen.
    max_columns
        In whole numbers, those of least reduced cost; None: as many as a good choice takes.
    """
    program = _StretchProgram(instance, may_lack=others_m is not None)
    program.max_columns = max_columns or _MAX_COLUMNS
    wound = [program.wind(column) for column in columns]
    spans = [program.span(stretches, alike) for alike in _by_span(joins)]
    # Other sets come after all stretches. Where there are any, every jumbo is wound to its end;
    # where there are none, the last one begun may be left in the middle.
    free = [(column_of(instance, each), length_m[each.winding_class]) for each in others]
    rest = program.rest(free, others_m)
    begun = {stretch.jumbo: stretch.begun for stretch in stretches}
    jumbos = {name: program.jumbo(begun=each) for name, each in begun.items()}
    for s, stretch in enumerate(stretches):
        here = [(c, m) for c, (_, m) in zip(columns, wound, strict=True) if c.stretch == s]
        taken = [*(m for _, m in here), *(e.metres[s] for e in spans if s in e.metres)]
        program.stretch(stretch, jumbos[stretch.jumbo], taken)
        for bands, clear in stretch.clear_m.items():
            program.clear(clear, [m for c, m in here if c.avoids >= bands], taken)
        over = [e.chosen for e in spans if s in e.metres and s + 1 in e.metres]
        program.join_over(stretch, over, taken)
    program.left_last([*jumbos.values(), (rest, rest)])
    if not program.solved(budget, nodes):
        return None
    found = RoundedSets(
        stretches=stretches,
        columns=columns,
        sets=tuple(round(many.solution_value()) for many, _ in wound),
        wound_m=[metres.solution_value() for _, metres in wound],
        joined=[each for span in spans if (each := span.found()) is not None],
    ).found()
    if found is None:
        return sets_on_stretches(
            instance,
            stretches,
            columns,
            others,
            others_m=others_m,
            length_m=length_m,
            budget=budget,
            nodes=nodes,
            max_columns=max_columns,
        )
    return found


def best_first(instance: Instance, patterns: Sequence[Pattern]) -> list[Pattern]:
    """Patterns as they fit a plan of all of them that may have parts of sets."""
    program = _StretchProgram(instance, may_lack=True)
    program.objective.SetMinimization()
    columns = [program.column(column_of(instance, each), whole=False) for each in patterns]
    return [patterns[place] for place in program.cheapest(columns)]


def _most(columns: Sequence[PoolColumn]) -> int:
    """Sets of these columns that are enough for every demand."""
    counts: dict[int, int] = {}
    for each in columns:
        for i in each.yields:
            counts[i] = max(counts.get(i, 0), each.max_count)
    return sum(counts.values())


def _by_span(joins: Sequence[JoinColumn]) -> list[list[tuple[int, JoinColumn]]]:
    """Columns of one span together, each behind its number."""
    found: dict[tuple[int, int], list[tuple[int, JoinColumn]]] = {}
    for number, column in enumerate(joins):
        found.setdefault((column.first, column.last), []).append((number, column))
    return list(found.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class _JoinSpan:
    """Joined sets of one span in the program, at most one of which is chosen."""

    columns: Sequence[tuple[int, JoinColumn]]
    wound: Sequence[tuple[pywraplp.Variable, pywraplp.LinearExpr]]  # their number and metres
    chosen: pywraplp.LinearExpr
    metres: Mapping[int, pywraplp.LinearExpr]  # by stretch

    def found(self) -> JoinedSet | None:
        """What was chosen of them."""
        for (number, column), (many, wound) in zip(self.columns, self.wound, strict=True):
            if round(many.solution_value()):
                return JoinedSet(
                    number=number,
                    column=column,
                    wound_m=wound.solution_value(),
                    first_m=self.metres[column.first].solution_value(),
                )
        return None


class _StretchProgram:
    """The program: columns, and the loss of what they give to the demands."""

    def __init__(self, instance: Instance, *, may_lack: bool) -> None:
        self.solver = pywraplp.Solver.CreateSolver("SCIP")
        self.objective = self.solver.Objective()
        self.whole: list[pywraplp.Variable] = []  # numbers of sets
        self.max_columns = _MAX_COLUMNS
        self.made, self.worth = [], []
        dearest = [0.0] * len(instance.demands)  # worth of a unit of yield
        for option in instance.options if may_lack else ():
            dearest[option.demand] = max(dearest[option.demand], option.worth / option.gain)
        for demand, worth in zip(instance.demands, dearest, strict=True):
            high = inf if demand.high is None else demand.high
            made = self.solver.Constraint(demand.low, high)
            surplus = self._cost(SCALE * demand.surplus_worth)
            made.SetCoefficient(surplus, -1)
            if may_lack:
                made.SetCoefficient(self._cost(_LACK * SCALE * worth, demand.low), 1)
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
        self.whole += [number] * whole
        for i, amounts in column.yields.items():
            for row, amount in zip((self.made[i], self.worth[i]), amounts, strict=True):
                if amount:
                    row.SetCoefficient(number, amount)
        return number

    def rest(
        self, others: Sequence[tuple[PoolColumn, int]], max_m: int | None
    ) -> pywraplp.Variable:
        """Put sets of so many metres in that lie on no stretch; whether there are any."""
        some = self.solver.BoolVar("")
        columns = [column for column, _ in others]
        many = [self.column(column, whole=True) for column in columns]
        self.solver.Add(sum(many) <= _most(columns) * some)
        if max_m is not None:
            metres = (length_m * n for (_, length_m), n in zip(others, many, strict=True))
            self.solver.Add(sum(metres) <= max_m)
        return some

    def span(
        self, stretches: Sequence[PaperStretch], columns: Sequence[tuple[int, JoinColumn]]
    ) -> _JoinSpan:
        """Put the joined sets of a span in."""
        wound = [self.wind(column) for _, column in columns]
        chosen = sum(many for many, _ in wound)
        _, one = columns[0]
        on = {s: stretches[s].length_m * chosen for s in range(one.first + 1, one.last)}
        for s in (one.first, one.last):
            on[s] = self._cost(0, stretches[s].length_m)
            self.solver.Add(on[s] <= stretches[s].length_m * chosen)
            self.solver.Add(on[s] >= one.min_part_m * chosen)
        self.solver.Add(sum(on.values()) == sum(metres for _, metres in wound))
        return _JoinSpan(columns=columns, wound=wound, chosen=chosen, metres=on)

    def wind(
        self, column: StretchColumn | JoinColumn
    ) -> tuple[pywraplp.Variable, pywraplp.LinearExpr]:
        """Put sets in that may have any length in their range; gives their number and metres."""
        shortest = column.each_set.with_others(column.each_metre, column.min_m)
        many = self.column(shortest, whole=True)
        if column.max_m == column.min_m:
            return many, column.min_m * many
        more = self.column(column.each_metre, whole=False)
        self.solver.Add(more <= (column.max_m - column.min_m) * many)
        return many, column.min_m * many + more

    def jumbo(self, *, begun: bool) -> tuple[pywraplp.Variable, pywraplp.Variable]:
        """Put a jumbo in: whether it is used, and whether it is left in the middle."""
        used = self._cost(0, 1, whole=True)
        used.SetLb(float(begun))
        return used, self._cost(0, 1, whole=True)

    def stretch(
        self,
        stretch: PaperStretch,
        jumbo: tuple[pywraplp.Variable, pywraplp.Variable],
        metres: Sequence[pywraplp.LinearExpr],
    ) -> None:
        """Put a stretch of a jumbo in, with the metres wound off it.

        Both what is paid for it and the reward are for its whole length, less what is left of it.
        """
        used, left = jumbo
        whole_m = stretch.length_m
        paid = SCALE * (stretch.cost_per_m * whole_m - stretch.reward)
        before = self.objective.GetCoefficient(used)
        self.objective.SetCoefficient(used, before + _UNIT * paid / SCALE)
        kept = self._cost(-paid / whole_m, whole_m)
        self.solver.Add(sum(metres) + kept <= whole_m * used)
        self.solver.Add(kept <= whole_m * left)

    def join_over(
        self,
        stretch: PaperStretch,
        joined: Sequence[pywraplp.LinearExpr],
        metres: Sequence[pywraplp.LinearExpr],
    ) -> None:
        """Let at most one set go on behind a stretch, which is then wound to its end."""
        if joined:
            self.solver.Add(sum(joined) <= 1)
            self.solver.Add(sum(metres) >= stretch.length_m * sum(joined))

    def left_last(self, jumbos: Sequence[tuple[pywraplp.Variable, pywraplp.Variable]]) -> None:
        """Let none but the last that is used be left in the middle."""
        for (_, left), (used, _) in combinations(jumbos, 2):
            self.solver.Add(left + used <= 1)

    def clear(
        self,
        spans: Sequence[tuple[int, int]],
        clear: Sequence[pywraplp.LinearExpr],
        metres: Sequence[pywraplp.LinearExpr],
    ) -> None:
        """Let these metres of those wound off a stretch lie in spans of it.

        Sets lie end to end: into a span they come where all before it is wound.
        """
        inside = []
        for start, end in spans:
            inside.append(self._cost(0, end - start))
            if start:
                come = self.solver.BoolVar("")
                self.solver.Add(inside[-1] <= (end - start) * come)
                self.solver.Add(start * come + inside[-1] <= sum(metres))
        self.solver.Add(sum(clear) <= sum(inside))

    def solved(self, budget: Budget, nodes: int) -> bool:
        """Whether a solution was found."""
        self.objective.SetMinimization()
        # Cuts take longer than they save, and where columns are many so does more than a little
        # strong branching. The clock counts processor seconds, or a busy machine would leave odd
        # jumbos unwound.
        limits = f"limits/totalnodes = {nodes}"
        if len(self.whole) > self.max_columns:
            for dear in self.cheapest(self.whole)[self.max_columns :]:
                self.whole[dear].SetUb(0)
            limits += "\nbranching/relpscost/maxreliable = 4"
        self.solver.SetSolverSpecificParametersAsString(
            f"{limits}\nseparating/maxroundsroot = 0\ntiming/clocktype = 1"
        )
        if budget.left_s < inf:
            self.solver.SetTimeLimit(round(1000 * max(_LEAST_S, budget.left_s)))
        status = self.solver.Solve()
        budget.over()
        return status in {pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE}

    def cheapest(self, columns: Sequence[pywraplp.Variable]) -> list[int]:
        """Places of columns, those first that the relaxation uses, then by their reduced cost.

        None where the relaxation has no optimum: the program will say so itself.
        """
        model = linear_solver_pb2.MPModelProto()
        self.solver.ExportModelToProto(model)
        for variable in model.variable:
            variable.is_integer = False
        relaxed = pywraplp.Solver.CreateSolver("GLOP")
        relaxed.LoadModelFromProto(model)
        if relaxed.Solve() != pywraplp.Solver.OPTIMAL:
            return []
        own = [relaxed.variable(each.index()) for each in columns]
        cost = [(each.solution_value() < _SLIP, each.reduced_cost()) for each in own]
        return sorted(range(len(columns)), key=cost.__getitem__)
