"""Sets on stretches of paper that must be used up, beside sets of which there is paper enough.

A mixed integer program over two pools: patterns that any set may have, and for each stretch those
that it can hold. Sets on a stretch may have any length in their range: the number of sets and their
metres together say what they cost and give. A jumbo that is begun costs all its stretches, what
its sets do not take is its butt, and `reward` is taken off the objective for it, so that odd paper
is used as far as that costs no more. Where no other set follows, one jumbo may be left in the
middle. One that was begun before costs what is left of it whatever is wound. One set may lie over
two stretches that follow each other, or more, joined between them: the first is then wound to its
end, those in between are in it whole.

It chooses and proves nothing, so floats will do: metres are rounded afterwards. Of many columns
those of least reduced cost are in it, and nodes of the tree end it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

from ortools.linear_solver import linear_solver_pb2, pywraplp

from trimopt.budget import Budget
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.search.pool_column import PoolColumn, column_of

_UNIT = 1e-4  # of the objective: figures of a handy size
_LACK = 10  # times its worth: what a demand that is left short costs for what it lacks
_SLIP = 1e-6
_MAX_COLUMNS = 200  # of whole numbers: those of least reduced cost
_LEAST_S = 0.3  # of time: what is found in less may leave a third of a jumbo


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperStretch:
    """A stretch: its metres, what a metre costs, and what using it is worth, units of cost.

    Stretches of one `jumbo` follow each other, and all are used or none; those of one that is
    `begun` are. `clear_m` are the metres beside which none of some bands lies, by these bands.
    """

    jumbo: str
    length_m: int
    cost_per_m: int
    reward: int
    clear_m: Mapping[frozenset[int], int]
    begun: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchColumn:
    """Sets of a pattern on a stretch: the lengths that one may have, what sets and metres give.

    Neither column costs anything: the stretch is paid for. Its sets lie beside no band of `avoids`.
    """

    stretch: int
    min_m: int
    max_m: int
    each_set: PoolColumn
    each_metre: PoolColumn
    avoids: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinColumn:
    """A set joined between stretches, from one to a later one: as a column, `each_set` at its cost.

    No part of it is shorter than `min_part_m`.
    """

    first: int
    last: int
    min_m: int
    max_m: int
    min_part_m: int
    each_set: PoolColumn
    each_metre: PoolColumn

    @property
    def joins(self) -> int:
        """How many joins it has."""
        return self.last - self.first


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchSets:
    """Sets and metres of each column; joined sets by their columns, with metres by stretch."""

    sets: tuple[int, ...]
    metres: tuple[int, ...]
    joined: tuple[tuple[int, tuple[tuple[int, int], ...]], ...] = ()


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
    """
    program = _StretchProgram(instance, may_lack=others_m is not None)
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
        for bands, clear_m in stretch.clear_m.items():
            program.solver.Add(sum(m for c, m in here if c.avoids >= bands) <= clear_m)
        over = [e.chosen for e in spans if s in e.metres and s + 1 in e.metres]
        if over:
            program.solver.Add(sum(over) <= 1)
            program.solver.Add(sum(taken) >= stretch.length_m * sum(over))
    program.solver.Add(sum(left for _, left in jumbos.values()) + rest <= 1)
    if not program.solved(budget, nodes):
        return None
    found = _Rounded(
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
class _Joined:
    """A chosen joined set, its column with its number, and its metres before they are rounded."""

    number: int
    column: JoinColumn
    wound_m: float
    first_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rounded:
    """Whole metres of the sets that were chosen.

    Metres of each column are rounded down, and what that leaves of a full stretch is given back, or
    to the joined set that begins there, which gives it back on its last stretch.
    """

    stretches: Sequence[PaperStretch]
    columns: Sequence[StretchColumn]
    sets: tuple[int, ...]
    wound_m: Sequence[float]
    joined: Sequence[_Joined]

    def found(self) -> StretchSets | None:
        """The sets and their metres; None: a joined set has no whole ones."""
        whole = [
            max(column.min_m * many, min(column.max_m * many, int(metres + _SLIP)))
            for column, many, metres in zip(self.columns, self.sets, self.wound_m, strict=True)
        ]
        parts: dict[int, dict[int, int]] = {}
        begun = {each.column.first: each for each in self.joined}
        for s, stretch in enumerate(self.stretches):
            room_m = stretch.length_m - sum(on.get(s, 0) for on in parts.values())
            each = begun.get(s)
            first_m = 0 if each is None else int(each.first_m + _SLIP)
            left_m = self._filled(s, whole, room_m - first_m, full=each is not None)
            if each is not None:
                on = self._parts(each, first_m + left_m)
                if on is None:
                    return None
                parts[each.number] = on
        joined = tuple((number, tuple(sorted(on.items()))) for number, on in parts.items())
        return StretchSets(sets=self.sets, metres=tuple(whole), joined=joined)

    def _filled(self, s: int, whole: list[int], room_m: int, *, full: bool) -> int:
        """Give metres to the sets of a full stretch; what is left of it."""
        here = [j for j, c in enumerate(self.columns) if c.stretch == s and self.sets[j]]
        full = full or sum(self.wound_m[j] for j in here) > room_m - 1
        left = room_m - sum(whole[j] for j in here) if full else 0
        for j in here:
            more = min(left, self.columns[j].max_m * self.sets[j] - whole[j])
            whole[j] += more
            left -= more
        return left

    def _parts(self, each: _Joined, first_m: int) -> dict[int, int] | None:
        """Its metres by stretch, so many on the first; None where they cannot be."""
        column = each.column
        on = {s: self.stretches[s].length_m for s in range(column.first, column.last)}
        on[column.first] = first_m
        wanted = max(column.min_m, min(column.max_m, int(each.wound_m + _SLIP)))
        least = max(column.min_part_m, column.min_m - sum(on.values()))
        on[column.last] = max(least, wanted - sum(on.values()))
        fits = on[column.last] <= self.stretches[column.last].length_m
        return on if fits and sum(on.values()) <= column.max_m else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _JoinSpan:
    """Joined sets of one span in the program, at most one of which is chosen."""

    columns: Sequence[tuple[int, JoinColumn]]
    wound: Sequence[tuple[pywraplp.Variable, pywraplp.LinearExpr]]  # their number and metres
    chosen: pywraplp.LinearExpr
    metres: Mapping[int, pywraplp.LinearExpr]  # by stretch

    def found(self) -> _Joined | None:
        """What was chosen of them."""
        for (number, column), (many, wound) in zip(self.columns, self.wound, strict=True):
            if round(many.solution_value()):
                return _Joined(
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

        Both what is paid for it and the reward are for its whole length.
        """
        used, left = jumbo
        whole_m = stretch.length_m
        paid = SCALE * (stretch.cost_per_m * whole_m - stretch.reward)
        before = self.objective.GetCoefficient(used)
        self.objective.SetCoefficient(used, before + _UNIT * paid / SCALE)
        kept = self._cost(-SCALE * stretch.cost_per_m, whole_m)
        self.solver.Add(sum(metres) + kept <= whole_m * used)
        self.solver.Add(kept <= whole_m * left)

    def solved(self, budget: Budget, nodes: int) -> bool:
        """Whether a solution was found."""
        self.objective.SetMinimization()
        # Cuts take longer than they save; so does presolving where columns are few, and where they
        # are many more than one strong branching each. The clock counts processor seconds, or a
        # busy machine would leave odd jumbos unwound.
        limits = f"limits/totalnodes = {nodes}\npresolving/maxrounds = 0"
        if len(self.whole) > _MAX_COLUMNS:
            for dear in self.cheapest(self.whole)[_MAX_COLUMNS:]:
                self.whole[dear].SetUb(0)
            limits = f"limits/totalnodes = {nodes // 2}\nbranching/relpscost/maxreliable = 1"
        self.solver.SetSolverSpecificParametersAsString(
            f"{limits}\nseparating/maxroundsroot = 0\ntiming/clocktype = 1"
        )
        if budget.left_s < inf:
            self.solver.SetTimeLimit(round(1000 * max(_LEAST_S, budget.left_s)))
        status = self.solver.Solve()
        budget.over()
        return status in {pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE}

    def cheapest(self, columns: Sequence[pywraplp.Variable]) -> list[int]:
        """Places of columns, those first that the relaxation uses, then by their reduced cost."""
        model = linear_solver_pb2.MPModelProto()
        self.solver.ExportModelToProto(model)
        for variable in model.variable:
            variable.is_integer = False
        relaxed = pywraplp.Solver.CreateSolver("GLOP")
        relaxed.LoadModelFromProto(model)
        relaxed.Solve()
        own = [relaxed.variable(each.index()) for each in columns]
        cost = [(each.solution_value() < _SLIP, each.reduced_cost()) for each in own]
        return sorted(range(len(columns)), key=cost.__getitem__)
