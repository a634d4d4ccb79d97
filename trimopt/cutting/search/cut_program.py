"""The linear program over columns of which a plan has whole numbers, with cuts, and its proof.

Mixed-integer cuts (`trimopt.cutting.lp.mixed_integer_cuts`) are added until they raise it no
further. What it proves is summed up anew from its duals, made whole: for each demand the least over
its ways of what a way costs beyond them, and the duals of the cuts, where no pattern and no surplus
costs less than nothing. A column that then costs so much more than nothing, or than the best way of
its demand, that no plan with it is wanted is left out of every part that is made of the columns.

References
----------
E. Balas, S. Ceria, G. Cornuéjols, N. Natraj (1996), "Gomory cuts revisited", Operations Research
Letters 19, 1-9 (rounds of many cuts).
A. Neumaier, O. Shcherbina (2004), "Safe bounds in linear and mixed-integer linear programming",
Mathematical Programming 99, 283-296.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.linear_program import LinearProgram, SolverFailedError
from trimopt.cutting.lp.mixed_integer_cuts import RIGHT, mixed_integer_cuts
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.products import product, whole_product
from trimopt.cutting.search.search_state import Search

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

UNITS = 1 << 26
"""Of D: in which costs and duals are whole."""
TOTAL = UNITS * RIGHT
"""Of D: in which what a program proves is whole."""

_SAFE = 1e-5  # of D, by which a set is cheaper in the program: more than its duals err by
_ALL = 1.01  # of D: no more of it need be proven
_DEAR = 100.0  # times D, for what no column gives
_WORK = 800.0  # of a step of the solver, for each row
_NEAR = 20  # a column that costs less than so small a part of D is in the program of a part at once
_CELLS = 0.5  # work of a cell of a product of tables


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PoolColumns:
    """Columns of whole numbers with what they cost beyond the prices, in units of D, down.

    `rows` has pieces of options, then a row for each demand that is made in one way; `made` is the
    place of that demand among them, -1 of patterns and surplus. `span` is D, `patterns` has
    None for what is no pattern.
    """

    rows: Floats
    rights: Floats
    costs: Ints
    made: Ints
    span: int
    patterns: tuple[Pattern | None, ...]

    def only(self, kept: Flags) -> PoolColumns:
        """Return some of the columns."""
        places = np.flatnonzero(kept).tolist()
        return replace(
            self,
            rows=self.rows[:, kept],
            costs=self.costs[kept],
            made=self.made[kept],
            patterns=tuple(self.patterns[j] for j in places),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """Some of the columns, cuts that hold for them, and columns that a program begins with, if any.

    The first `limits` of the cuts are those that make it a part. No plan of these columns costs
    less than `proven`, in `TOTAL`.
    """

    columns: PoolColumns
    cuts: Floats
    rights: Floats
    known: Ints
    limits: int = 0
    proven: int = 0

    @classmethod
    def of(cls, columns: PoolColumns) -> Part:
        """All columns, without cuts."""
        cuts = np.zeros((0, len(columns.costs)))
        known = np.zeros(0, dtype=np.int64)
        return cls(columns=columns, cuts=cuts, rights=np.zeros(0), known=known)


class CutProgram:
    """The linear program over some of the columns; the rest are priced. Costs are shares of D."""

    def __init__(self, search: Search, part: Part) -> None:
        columns = part.columns
        self.search, self.columns = search, columns
        self.params = search.params.pool_bound
        self.equations = len(columns.rights)
        self.rows = np.vstack([columns.rows, part.cuts])  # whole numbers, cuts at the end
        self.rights = np.concatenate([columns.rights, part.rights])
        self.costs = columns.costs / UNITS - np.where(columns.made < 0, _SAFE, 0.0)
        self.units = np.repeat([1.0, float(RIGHT)], [self.equations, len(part.cuts)])  # of a row
        self.known: list[int] = []
        self.places: list[int] = []  # of the known columns in the program
        self.duals, self.cost = np.zeros(len(self.rows)), 0.0
        self.limits = part.limits
        self.proven = part.proven  # the most that was proven, in `TOTAL`
        self.beyond = np.zeros(len(self.costs), dtype=np.int64)  # the least of a plan with a column
        self._program = LinearProgram()
        for right in columns.rights.tolist():
            self._outside(self._program.row(right, right), (1.0, -1.0))
        for right in part.rights.tolist():
            self._outside(self._program.row(right / RIGHT, inf), (1.0,))
        begun = np.argsort(self.costs, kind="stable")[: self.params.columns_begun]
        self._add(part.known if len(part.known) else begun)

    def _outside(self, row: int, signs: tuple[float, ...]) -> None:
        for sign in signs:
            self._program.column(_DEAR, [(row, sign)])

    def _add(self, columns: Ints) -> None:
        for j in columns.tolist():
            column = self.rows[:, j] / self.units
            parts = [(int(row), float(column[row])) for row in np.flatnonzero(column)]
            self.places.append(self._program.column(float(self.costs[j]), parts))
            self.known.append(j)

    def run(self, max_rounds: float = inf) -> None:
        """Add cuts round by round, until nothing is left below the bound or they bring little."""
        params, costs = self.params, [self._optimum()]
        end = self.search.budget.work + params.work
        while costs[-1] < 1 and self.search.budget.work < end and len(costs) <= max_rounds:
            if not self._cut():
                return
            costs.append(self._optimum())
            idle = costs[-1 - params.idle_rounds :][: params.idle_rounds]
            if len(idle) == params.idle_rounds and costs[-1] - idle[0] < params.min_progress:
                return

    def _optimum(self) -> float:
        """Cost over all columns; what it proves is kept, as a later program may fail or err."""
        cost = self._priced()
        self._prove()
        return cost

    def point(self) -> Floats:
        """Sets, ways and surplus at the optimum, before anything is changed."""
        point = np.zeros(len(self.costs))
        point[self.known] = self._program.values(self.places)
        return point

    def part(self, kept: Flags, limit: tuple[Floats, float] | None = None) -> Part | None:
        """The part of some of its columns; None where a demand has no way left.

        Parameters
        ----------
        limit
            Small whole numbers, one a column, and what their sum over a plan is no less than.
        """
        columns = self.columns.only(kept)
        if len(np.unique(columns.made[columns.made >= 0])) < self.columns.rights.sum():
            return None
        cut = slice(self.equations, len(self.rows))
        stays = (self.duals[cut] > 0) | (np.arange(len(self.rows) - self.equations) < self.limits)
        cuts, rights = self.rows[cut][stays][:, kept], self.rights[cut][stays]
        if limit is not None:
            cuts = np.vstack([RIGHT * limit[0][kept], cuts])
            rights = np.concatenate([[RIGHT * limit[1]], rights])
        places, near = np.cumsum(kept) - 1, kept & (self.beyond < self.proven + TOTAL // _NEAR)
        return Part(
            columns=columns,
            cuts=cuts,
            rights=rights,
            known=np.array([places[j] for j in self.known if near[j]], dtype=np.int64),
            limits=self.limits + (limit is not None),
            proven=self.proven,
        )

    def cost_without(self, gone: Flags) -> float:
        """What the known columns cost without some; infinite where no solver says."""
        closed = [p for p, j in zip(self.places, self.known, strict=True) if gone[j]]
        before, cost = self._program.iterations, inf
        for place in closed:
            self._program.set_max(place, 0.0)
        with suppress(SolverFailedError):
            cost = self._program.solve().cost
        for place in closed:
            self._program.set_max(place, inf)
        steps = self._program.iterations - before + 10
        self.search.budget.spend(_WORK * steps * len(self.rows))
        return cost

    def _priced(self) -> float:
        while True:
            before = self._program.iterations
            found = self._program.solve()
            self.duals, self.cost = found.rows / self.units, found.cost
            reduced = self.costs - product(self.duals, self.rows)
            steps = self._program.iterations - before + 10
            self.search.budget.spend(_WORK * steps * len(self.rows) + _CELLS * self.rows.size)
            new = np.argsort(reduced, kind="stable")[: self.params.columns_added]
            new = new[reduced[new] < -_SAFE / 4]
            new = new[~np.isin(new, self.known)]
            if not len(new):
                return found.cost
            self._add(new)

    def _cut(self) -> int:
        """Add the cuts that the point breaks most; how many."""
        values = self._program.values()
        known = np.array(self.known)
        point = values[self.places]
        multipliers = self._tableau(np.abs(point - np.round(point)))
        if not len(multipliers) or len(self.rows) - self.equations >= self.params.max_cuts:
            return 0
        among = self.rows[:, known]
        chosen = self._most_broken(multipliers, among, point)
        if not chosen:
            return 0
        cuts, rights = mixed_integer_cuts(
            multipliers[chosen], self.rows, self.rights, self.equations
        )
        self.search.budget.spend(2 * _CELLS * (len(chosen) + 1) * self.rows.size)
        self.rows = np.vstack([self.rows, cuts])
        self.rights = np.concatenate([self.rights, rights])
        self.units = np.concatenate([self.units, np.full(len(cuts), float(RIGHT))])
        for cut, right in zip(cuts, rights.tolist(), strict=True):
            row = self._program.row(right / RIGHT, inf)
            self._outside(row, (1.0,))
            for place, j in zip(self.places, self.known, strict=True):
                if cut[j]:
                    self._program.part(row, place, float(cut[j]) / RIGHT)
        return len(cuts)

    def _tableau(self, missing: Floats) -> Floats:
        """Rows of the basis' inverse, of the columns that are furthest from whole, some times."""
        columns, rows = self._program.basis()
        basic = np.zeros((len(self.rows), len(columns) + len(rows)))
        for q, column in enumerate(columns):
            for row, part in self._program.parts_of(column).items():
                basic[row, q] = part
        for q, row in enumerate(rows):
            basic[row, len(columns) + q] = -1.0
        if basic.shape[0] != basic.shape[1]:
            return np.zeros((0, len(self.rows)))
        at = dict(zip(self.places, missing.tolist(), strict=True))
        share = np.array([at.get(column, 0.0) for column in columns])
        best = np.argsort(-share, kind="stable")[: self.params.candidates]
        best = best[share[best] > self.params.min_missing]
        try:
            inverse = np.round(np.linalg.inv(basic) * UNITS) / UNITS
        except np.linalg.LinAlgError:
            return np.zeros((0, len(self.rows)))
        # A row taken some times over has other fractions, and so another cut.
        return np.concatenate([times * inverse[best] for times in self.params.multiples])

    def _most_broken(self, multipliers: Floats, among: Floats, point: Floats) -> list[int]:
        """Places of the multipliers whose cuts are broken most, none much like a better one."""
        cuts, rights = mixed_integer_cuts(multipliers, among, self.rights, self.equations)
        norms = np.sqrt((cuts * cuts).sum(axis=1)) + 1.0
        missing = rights - product(cuts, point)
        depth = missing / norms
        depth[missing < self.params.min_broken * RIGHT] = 0.0
        unit = cuts / norms[:, None]
        chosen: list[int] = []
        for q in np.argsort(-depth, kind="stable").tolist():
            if depth[q] <= 0 or len(chosen) == self.params.cuts_a_round:
                break
            if not chosen or product(unit[chosen], unit[q]).max() < self.params.max_alike:
                chosen.append(q)
        return chosen

    def _prove(self) -> None:
        """Keep by how much the duals raise the bound, from whole numbers alone."""
        columns, cut = self.columns, slice(self.equations, len(self.duals))
        # Where no plan is left, duals are large; a share of them proves all that is asked.
        duals = self.duals * min(1.0, _ALL / max(_ALL, self.cost))
        # Down, so that no pattern costs less than in the program.
        prices = np.floor(duals[: self.equations] * UNITS)
        prices[columns.rights > 0] = 0.0  # the least over the ways is taken itself
        whole = np.maximum(0.0, np.floor(duals[cut] * RIGHT * UNITS))
        of_pieces = whole_product(prices, columns.rows)
        of_cuts = whole_product(whole, self.rows[cut])
        right = whole_product(whole, self.rights[cut])
        size = whole_product(np.abs(prices), np.abs(columns.rows))
        sums = whole_product(whole, np.abs(self.rows[cut])).max(initial=0.0)
        if (
            max(sums, whole_product(whole, np.abs(self.rights[cut]))) >= 2.0**53
            or size.max() >= 2.0**43
        ):
            return  # sums would not be exact
        left = (columns.costs - of_pieces.astype(np.int64)) * RIGHT - of_cuts.astype(np.int64)
        if left[columns.made < 0].min(initial=0.0) < 0:
            return
        total = int(right)
        for at in range(int(columns.rights.sum())):
            own = columns.made == at
            least = int(left[own].min())
            total += least
            left[own] -= least
        self.proven = max(self.proven, total)
        self.beyond = np.maximum(self.beyond, left + total)
