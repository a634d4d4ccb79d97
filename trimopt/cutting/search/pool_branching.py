"""Branch and bound over columns of which a plan has whole numbers: a proof, and plans.

What cuts leave open is parted in two: by how many pieces of an option the way of its demand has,
which only leaves columns out, and where ways are whole by the sets of a pattern, with a row like
that of a cut; so a proof over a part is one of the same kind. What the program of a part proves
leaves out more columns (reduced-cost fixing), until parts are small. Of two parts the better one is
gone on with until its sets are whole, which is a plan; then the part that proves least.

References
----------
A. H. Land, A. G. Doig (1960), "An automatic method of solving discrete programming problems",
Econometrica 28, 497-520.
H. Crowder, E. L. Johnson, M. Padberg (1983), "Solving large-scale zero-one linear programming
problems", Operations Research 31, 803-834 (columns fixed by their reduced costs).
D. Applegate, R. Bixby, V. Chvátal, W. Cook (1995), "Finding cuts in the TSP", DIMACS 95-05 (the two
programs of a branch solved before it is chosen).
"""

from __future__ import annotations

import heapq
from itertools import count

import numpy as np

from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.model.products import product
from trimopt.cutting.search.cut_program import TOTAL, CutProgram, Flags, Floats, Part
from trimopt.cutting.search.search_state import Search, paper_cost

_NEARLY = 1e-6  # of a piece
_WHOLE = 1e-2  # of a set: what a point may miss, as the plan is looked at anyway
_STEP = "all patterns that could serve, in parts"
_CLOSED = 1.1  # times D: a part whose program costs more is closed, as far as floats know


class PoolBranching:
    """Parts of columns whose reduced costs are below `span`, at prices that prove `base`."""

    def __init__(self, search: Search, base: int, span: int) -> None:
        self.search, self.base, self.span = search, base, span
        self.params = search.params.pool_bound
        self.target = search.params.restarts.target_gap
        self.wanted = 2 * TOTAL  # no plan is, that costs so much or more
        self.low = 0  # no plan costs less
        self._open: list[tuple[int, int, Part]] = []
        self._order = count()
        self._least = 2 * TOTAL  # of the parts that cannot be parted

    def run(self, root: CutProgram) -> None:
        """Part what a program leaves open, until plan and bound are close or work is spent."""
        begun = self.search.budget.work
        end, look, before = begun + self.params.branch_work, self.params.branch_look, root.proven
        going = self._parted(root)
        while self._proved(going) and self.search.budget.work < end:
            if self.search.budget.work > begun + look:  # twice as much, and as long as it pays
                if self.low - before < self.params.min_branch_share * (self.wanted - before):
                    return
                look, before = 2 * look, self.low
            part = heapq.heappop(self._open)[2] if going is None else going
            program, going = CutProgram(self.search, part), None
            try:
                program.run(self.params.branch_rounds)
            except SolverFailedError:
                self._least = min(self._least, program.proven)
                continue
            if program.proven < self.wanted:
                going = self._parted(program)

    def _proved(self, going: Part | None) -> bool:
        """Prove what the parts prove; whether one is left, and plan and bound are not close."""
        search = self.search
        assert search.loss is not None
        gap = int(self.target * paper_cost(search.instance, search.cuts))
        rise = min(self.span, search.loss - gap - self.base) + 2  # for all that is rounded
        self.wanted = min(self.wanted, rise * TOTAL // self.span + 1)
        parts = [proven for proven, _, _ in self._open[:1]] + ([going.proven] if going else [])
        self.low = min(self._least, self.wanted, *parts)
        search.prove(self.base + risen(self.low, self.span), _STEP)
        return self.low < self.wanted and bool(parts) and not search.within(self.target)

    def _parted(self, program: CutProgram) -> Part | None:
        """Part a program's columns in two; give the part to go on with, the other stays open."""
        point, kept = program.point(), program.beyond < self.wanted
        self._offer(program, point)
        sides = self._sides(program, point)
        halves = [(cost, program.part(side & kept)) for cost, side in sides]
        halves = halves or self._by_sets(program, point, kept)
        if not halves:
            self._least = min(self._least, program.proven)
        going = None
        for cost, part in sorted(halves, key=lambda half: half[0]):
            if part is not None and going is None and cost < _CLOSED:
                going = part
            elif part is not None:
                heapq.heappush(self._open, (part.proven, next(self._order), part))
        return going

    def _by_sets(
        self, program: CutProgram, point: Floats, kept: Flags
    ) -> list[tuple[float, Part | None]]:
        """Parts of more and of fewer sets of the pattern that is furthest from whole, if any is."""
        missing = np.where(program.columns.made < 0, np.abs(point - np.round(point)), 0.0)
        furthest = int(missing.argmax())
        if missing[furthest] < 10 * _NEARLY:
            return []
        most, limit = float(np.floor(point[furthest])), np.zeros(len(point))
        limit[furthest] = 1.0
        more = program.part(kept, (limit, most + 1))
        fewer = (
            program.part(kept & (limit == 0)) if not most else program.part(kept, (-limit, -most))
        )
        return [(0.0, more), (1.0, fewer)]

    def _offer(self, program: CutProgram, point: Floats) -> None:
        """Take the plan of the point's sets, where they are whole."""
        sets = {
            pattern: n
            for pattern, n in zip(program.columns.patterns, point.tolist(), strict=True)
            if pattern is not None and n > _NEARLY
        }
        whole = {pattern: round(n) for pattern, n in sets.items()}
        if all(abs(n - whole[pattern]) < _WHOLE for pattern, n in sets.items()):
            self.search.take(whole, _STEP)

    def _sides(self, program: CutProgram, point: Floats) -> list[tuple[float, Flags]]:
        """Columns of the two parts that are to raise the bound most, and what they cost."""
        best: tuple[float, list[tuple[float, Flags]]] | None = None
        for _, low, high in self._choices(program, point):
            sides = [(program.cost_without(gone), ~gone) for gone in (high, low)]
            rises = [min(cost, 1.0) - program.cost + _NEARLY for cost, _ in sides]
            if best is None or rises[0] * rises[1] > best[0]:
                best = rises[0] * rises[1], sides
        return [] if best is None else best[1]

    def _choices(self, program: CutProgram, point: Floats) -> list[tuple[float, Flags, Flags]]:
        """Ways of few and of many pieces of an option, where the point mixes them: most mixed."""
        columns = program.columns
        found = []
        way = columns.made >= 0
        for row in columns.rows[columns.rights == 0]:
            counts = np.where(way, -row, 0.0)
            demand = columns.made[counts > 0][:1]
            if not len(demand):
                continue
            own = columns.made == demand
            most = np.floor(product(counts, point) + _NEARLY)
            low, high = own & (counts <= most), own & (counts > most)
            mixed = float(point[high].sum())
            if min(mixed, 1 - mixed) > 10 * _NEARLY:
                found.append((min(mixed, 1 - mixed), low, high))
        found.sort(key=lambda choice: -choice[0])
        return found[: self.params.branches_tried]


def risen(total: int, span: int) -> int:
    """By how much a bound of prices is raised, in units of loss."""
    # The bound of the prices was rounded up by less than one.
    return max(0, min(span, span * total // TOTAL - 1))
