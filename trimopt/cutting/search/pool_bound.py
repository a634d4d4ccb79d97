"""What whole sets prove beyond prices, where every pattern that a better plan can hold is known.

At prices that prove a bound B, a plan that loses less than B + D holds no pattern, no way to make a
demand and no piece of surplus whose reduced cost is D or more. Those below are columns of which a
plan has whole numbers: the pieces of each option come out alike on both sides, and each demand is
made in one way. Mixed-integer cuts (`trimopt.cutting.lp.mixed_integer_cuts`) are added to the
program over them until they raise it no further; where it rises by E, B + min(D, E) is proven.

Demands whose ways are not listed stay at their prices. E is summed up anew from the program's
duals, made whole: for each demand the least over its ways of what a way costs beyond them, and the
duals of the cuts, where no pattern and no surplus costs less than nothing.

References
----------
E. Balas, S. Ceria, G. Cornuéjols, N. Natraj (1996), "Gomory cuts revisited", Operations Research
Letters 19, 1-9 (rounds of many cuts).
A. Neumaier, O. Shcherbina (2004), "Safe bounds in linear and mixed-integer linear programming",
Mathematical Programming 99, 283-296.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.convexified import Guide
from trimopt.cutting.lp.convexified.order_production import min_surplus_loss
from trimopt.cutting.lp.linear_program import LinearProgram, SolverFailedError
from trimopt.cutting.lp.mixed_integer_cuts import RIGHT, mixed_integer_cuts
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.products import product, whole_product
from trimopt.cutting.search.pattern_enumeration import near_patterns
from trimopt.cutting.search.search_state import Search, paper_cost

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_UNITS = 1 << 26  # of D: in which costs and duals are whole
_SAFE = 1e-5  # of D, by which a set is cheaper in the program: more than its duals err by
_ALL = 1.01  # of D: no more of it need be proven
_DEAR = 100.0  # times D, for what no column gives
_WORK = 800.0  # of a step of the solver, for each row
_CELLS = 0.5  # work of a cell of a product of tables


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PoolColumns:
    """Columns of whole numbers with what they cost beyond the prices, in units of D, down.

    `rows` has pieces of options, then a row for each demand that is made in one way; `made` is the
    place of that demand among them, -1 of patterns and surplus. `span` is D.
    """

    rows: Floats
    rights: Floats
    costs: Ints
    made: Ints
    span: int


def prove_by_cuts(search: Search, guide: Guide, pricers: Sequence[Pricer], margin: float) -> None:
    """Raise the bound towards a gap at which a search is content, by cuts over a pool.

    Only where the patterns that a plan below such a bound can hold are few enough to be known.

    Parameters
    ----------
    margin
        What floats may err by in a reduced cost, in units of loss.
    """
    wanted = search.params.pool_bound.patterns
    if guide.bound is None or search.loss is None or not wanted:
        return
    # A program over fewer columns proves more, so none is asked for beyond the rise that closes.
    paper = paper_cost(search.instance, search.cuts)
    span = search.loss - guide.bound - int(search.params.restarts.target_gap * paper)
    for _ in range(search.params.pool_bound.spans):
        most = span + margin
        near = near_patterns(
            pricers, guide.values, search, wanted=wanted // 4, max_cost=most, all_or_none=True
        )
        if near.complete >= most:
            break
        span //= 2
    else:
        return
    columns = pool_columns(guide, near.patterns, span)
    if columns is not None:
        rise = raised_bound(search, columns)
        search.prove(guide.bound + rise, "all patterns that could serve, and cuts")


def pool_columns(guide: Guide, patterns: Sequence[Pattern], span: int) -> PoolColumns | None:
    """All columns whose reduced costs are below `span`, in units of loss.

    None without prices, or where no demand has its pieces listed.
    """
    hull, prices = guide.hull, guide.prices
    listed = [] if hull is None else [i for i, whole in enumerate(hull.wholes) if whole.by_counts]
    if hull is None or prices is None or span <= 0 or not listed:
        return None
    options = [k for i in listed for k in hull.wholes[i].options]
    place = {k: row for row, k in enumerate(options)}
    worth = prices.of_pieces(hull.wholes, len(hull.instance.options))
    instance, scale = hull.instance, prices.scale
    columns: list[tuple[int, int, list[tuple[int, int]]]] = []  # cost, demand, parts
    for pattern in patterns:
        cost = SCALE * instance.classes[pattern.winding_class].cost * scale
        cost -= sum(worth[k] * n for k, n in pattern.pieces)
        columns.append((cost, -1, [(place[k], n) for k, n in pattern.pieces if k in place]))
    for at, i in enumerate(listed):
        whole, demand = hull.wholes[i], instance.demands[i]
        own = [place[k] for k in whole.options]
        for k in whole.options:
            cost = min_surplus_loss(demand, instance.options[k]) * scale + worth[k]
            columns.append((cost, -1, [(place[k], -1)]))
        worths = np.array([worth[k] for k in whole.options], dtype=object)
        ways = whole_product(whole.ways.astype(object), worths)
        costs = ways + whole.loss.astype(object) * scale
        costs -= costs.min()
        for way in np.flatnonzero(costs < span * scale):
            parts = [(row, -int(n)) for row, n in zip(own, whole.ways[way], strict=True) if n]
            columns.append((int(costs[way]), at, [*parts, (len(options) + at, 1)]))
    # What holds no listed piece is in no row, and costs no less than nothing.
    kept = [column for column in columns if column[0] < span * scale and column[2]]
    rows = np.zeros((len(options) + len(listed), len(kept)))
    for j, (_, _, parts) in enumerate(kept):
        for row, n in parts:
            rows[row, j] = n
    return PoolColumns(
        rows=rows,
        rights=np.repeat([0.0, 1.0], [len(options), len(listed)]),
        costs=np.array([cost * _UNITS // (span * scale) for cost, _, _ in kept], dtype=np.int64),
        made=np.array([at for _, at, _ in kept], dtype=np.int64),
        span=span,
    )


def raised_bound(search: Search, columns: PoolColumns) -> int:
    """Return how much more than the prices is proven, in units of loss; no less than 0."""
    program = _CutProgram(search, columns)
    with suppress(SolverFailedError):
        program.run()
    return program.rise


class _CutProgram:
    """The linear program over some of the columns; the rest are priced. Costs are shares of D."""

    def __init__(self, search: Search, columns: PoolColumns) -> None:
        self.search, self.columns = search, columns
        self.params = search.params.pool_bound
        self.equations = len(columns.rights)
        self.rows, self.rights = columns.rows, columns.rights  # whole numbers, cuts at the end
        self.costs = columns.costs / _UNITS - np.where(columns.made < 0, _SAFE, 0.0)
        self.units = np.ones(self.equations)  # of a row in the program
        self.known: list[int] = []
        self.places: list[int] = []  # of the known columns in the program
        self.duals, self.cost = np.zeros(self.equations), 0.0
        self.rise = 0  # the most that was proven
        self._program = LinearProgram()
        for right in self.rights.tolist():
            self._outside(self._program.row(right, right), (1.0, -1.0))
        self._add(np.argsort(self.costs, kind="stable")[: self.params.columns_begun])

    def _outside(self, row: int, signs: tuple[float, ...]) -> None:
        for sign in signs:
            self._program.column(_DEAR, [(row, sign)])

    def _add(self, columns: Ints) -> None:
        for j in columns.tolist():
            column = self.rows[:, j] / self.units
            parts = [(int(row), float(column[row])) for row in np.flatnonzero(column)]
            self.places.append(self._program.column(float(self.costs[j]), parts))
            self.known.append(j)

    def run(self) -> None:
        """Add cuts round by round, until nothing is left below the bound or they bring little."""
        params, costs = self.params, [self._optimum()]
        end = self.search.budget.work + params.work
        while costs[-1] < 1 and self.search.budget.work < end and self._cut():
            costs.append(self._optimum())
            idle = costs[-1 - params.idle_rounds :][: params.idle_rounds]
            if len(idle) == params.idle_rounds and costs[-1] - idle[0] < params.min_progress:
                return

    def _optimum(self) -> float:
        """Cost over all columns; what it proves is kept, as a later program may fail or err."""
        cost = self._priced()
        self.rise = max(self.rise, self.proven())
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
            inverse = np.round(np.linalg.inv(basic) * _UNITS) / _UNITS
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

    def proven(self) -> int:
        """By how much the duals raise the bound, in units of loss, from whole numbers alone."""
        columns, cut = self.columns, slice(self.equations, len(self.duals))
        # Where no plan is left, duals are large; a share of them proves all that is asked.
        duals = self.duals * min(1.0, _ALL / max(_ALL, self.cost))
        # Down, so that no pattern costs less than in the program.
        prices = np.floor(duals[: self.equations] * _UNITS)
        prices[columns.rights > 0] = 0.0  # the least over the ways is taken itself
        whole = np.maximum(0.0, np.floor(duals[cut] * RIGHT * _UNITS))
        of_pieces = whole_product(prices, columns.rows)
        of_cuts = whole_product(whole, self.rows[cut])
        right = whole_product(whole, self.rights[cut])
        size = whole_product(np.abs(prices), np.abs(columns.rows))
        if max(of_cuts.max(initial=0.0), right) >= 2.0**53 or size.max() >= 2.0**43:
            return 0  # sums would not be exact
        left = (columns.costs - of_pieces.astype(np.int64)) * RIGHT - of_cuts.astype(np.int64)
        if left[columns.made < 0].min(initial=0.0) < 0:
            return 0
        total = int(right)
        for at in range(int(columns.rights.sum())):
            total += int(left[columns.made == at].min())
        # The bound of the prices was rounded up by less than one.
        return max(0, min(columns.span, columns.span * total // (_UNITS * RIGHT) - 1))
