"""A proven least number of patterns from a linear program over patterns with their sets.

A column is a pattern a with the number n of its sets; it counts as one pattern, makes n times what
a set makes, and costs n times the reduced cost of the pattern at the engine's prices. A plan that
loses at most L has Σ n · reduced <= L - bound, so ::

    least Σ y   with   Σ n · made_i · y >= low_i  for every demand,   Σ n · reduced · y <= L - bound

holds for it. What makes the program strong is that n sets of a pattern may not make more of a
demand than its `high`, and as much of a surplus as the prices leave room for. Its dual prices
pi, sigma prove ::

    patterns >= (Σ low_i · pi_i - (L - bound) · sigma) / theta,
    theta = most that a column is worth, max n · (Σ a · (gain · pi + sigma · value) - sigma · cost)

where for one set of caps only the largest n needs to be looked at.

References
----------
The columns are those of F. Vanderbeck, "Exact algorithm for minimising the number of setups in the
one-dimensional cutting stock problem", Operations Research 48 (2000) 915-926.
"""

from __future__ import annotations

from math import ceil, inf

import numpy as np
from numpy.typing import NDArray

from trimopt.budget import Budget
from trimopt.cutting.lp.knapsack_tables import steps
from trimopt.cutting.lp.linear_program import LinearProgram, SolverFailedError
from trimopt.cutting.model.cuts import Pattern
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.loss import over_price_of
from trimopt.cutting.model.outcome import Certificate
from trimopt.cutting.setups.build_tables import BuildTables

__all__ = ["fewest_by_columns"]


Floats = NDArray[np.float64]
#: Count by option, number of sets, reduced cost of a set.
Column = tuple[dict[int, int], int, float]


def fewest_by_columns(
    tables: BuildTables, proof: Certificate | None, gap: float, budget: Budget
) -> int:
    """No plan within the gap of the engine's bound has fewer patterns; 0 where nothing is proven.

    Parameters
    ----------
    tables
        The instance, its values those of the engine's prices.
    proof
        These prices; None: each piece is priced by its share of the width (textbook form only).
    gap
        Loss of the plans that count, less the bound that the prices prove.
    budget
        Looked at before each round.
    """
    # cuts that may be one pattern would be counted as several
    most = None if tables.shared else _max_made(tables, proof, gap + 1.0)
    if most is None:
        return 0
    blocks = _blocks(tables, most)
    cells = sum(tables.classes[c].width * len(tables.classes[c].options) for c, _ in blocks)
    if not blocks or cells > tables.params.bound_cells:
        return 0
    return _ColumnProgram(tables, most, gap + 1.0, blocks).run(budget)


def _max_made(tables: BuildTables, proof: Certificate | None, gap: float) -> list[int] | None:
    """The most of each demand that a plan within the gap makes; None where it has no limit."""
    most = []
    for i, demand in enumerate(tables.instance.demands):
        options = [tables.instance.options[k] for k in tables.by_demand[i]]
        if not options:
            return None
        g, w = min(tables.value[k] / tables.gain[k] for k in tables.by_demand[i]), 0.0
        if proof is not None:
            g, w = proof.gain_price[i] / proof.scale, proof.worth_price[i] / proof.scale
        elif any(option.worth for option in options):
            return None
        over = over_price_of(demand)
        if tables.strict[i] and demand.high is not None:
            most.append(demand.high)
            continue
        price = []
        for option in options:
            r = option.worth / option.gain
            if demand.high is not None:
                price.append(g + w * r + (SCALE - over) * (demand.surplus_worth - r))
            else:
                price.append(g + w * r - (SCALE - over) * r)
        least = min(price)
        start = demand.high if demand.high is not None else demand.low
        if least <= 1e-6 * max(1.0, abs(g)) or (demand.high is None and options[0].worth):
            return None
        most.append(start + int(gap / least + 1e-6))
    return most


def _blocks(tables: BuildTables, most: list[int]) -> list[tuple[int, int]]:
    """(class, sets) where the caps of a class change: between two only the larger counts."""
    blocks = []
    for c, limits in enumerate(tables.classes):
        counts: set[int] = set()
        for k in limits.options:
            whole = most[tables.demand[k]] // tables.gain[k]
            fits = limits.width // tables.width[k]
            counts.update(whole // t for t in range(1, min(fits, whole) + 1))
        blocks += [(c, n) for n in sorted(counts) if n > 0]
    return blocks


class _ColumnProgram:
    """The linear program and its pricing."""

    def __init__(
        self, tables: BuildTables, most: list[int], gap: float, blocks: list[tuple[int, int]]
    ) -> None:
        self.tables = tables
        self.most = most
        self.gap = gap
        self.blocks = blocks
        self.demands = [i for i, low in enumerate(tables.low) if low > 0]
        self.columns: list[Column] = []

    def run(self, budget: Budget) -> int:
        """Generate columns until the bound cannot rise, or time is over."""
        best = 0
        for c, n in self.blocks:
            for k in self.tables.classes[c].options:
                cap = self.most[self.tables.demand[k]] // (self.tables.gain[k] * n)
                cap = min(cap, self.tables.classes[c].width // self.tables.width[k])
                if cap:
                    self.columns.append(self._column(c, n, {k: cap}))
        for _ in range(self.tables.params.bound_rounds):
            if budget.over():
                break
            solved = self._solve()
            if solved is None:
                break
            pi, sigma, value = solved
            theta, found = self._price(pi, sigma)
            if value <= 0:
                break
            # sums of some tens of doubles: far more accurate than the part in a million taken off
            proven = (value - 1e-6 * abs(value)) / max(1.0, theta * (1 + 1e-9))
            best = max(best, ceil(proven - 1e-6))
            if not found or ceil(value - 1e-6) <= best:
                break
            self.columns += found
        return best

    def _column(self, c: int, n: int, counts: dict[int, int]) -> Column:
        return counts, n, max(0.0, self.tables.reduced(Pattern(c, tuple(counts.items()))))

    def _solve(self) -> tuple[Floats, float, float] | None:
        tables = self.tables
        program = LinearProgram()
        rows = {i: program.row(tables.low[i], inf) for i in self.demands}
        room = program.row(-inf, 1.0)
        for counts, n, reduced in self.columns:
            made: dict[int, int] = {}
            for k, count in counts.items():
                i = tables.demand[k]
                made[i] = made.get(i, 0) + n * count * tables.gain[k]
            parts = [(rows[i], float(amount)) for i, amount in made.items() if i in rows]
            program.column(1.0, [*parts, (room, n * reduced / self.gap)])
        program.column(1e3, [(rows[i], tables.low[i]) for i in self.demands])  # what is short
        try:
            duals = program.solve().rows
        except SolverFailedError:
            return None
        pi = np.zeros(len(tables.low))
        for i in self.demands:
            pi[i] = max(0.0, duals[rows[i]])
        sigma = max(0.0, -duals[room]) / self.gap
        value = float(sum(tables.low[i] * pi[i] for i in self.demands) - self.gap * sigma)
        return pi, sigma, value

    def _price(self, pi: Floats, sigma: float) -> tuple[float, list[Column]]:
        """The most that a column is worth, and columns that are worth more than one."""
        tables = self.tables
        theta = 0.0
        found = []
        for c, n in self.blocks:
            worth, counts = self._best(c, n, pi, sigma)
            value = n * (worth - sigma * tables.classes[c].cost * SCALE)
            if value > 1.0 + 1e-7:
                found.append(self._column(c, n, counts))
            theta = max(theta, value)
        return theta, found

    def _best(self, c: int, n: int, pi: Floats, sigma: float) -> tuple[float, dict[int, int]]:
        """Most valuable pattern of a class for so many sets: a table over the used width."""
        tables = self.tables
        limits = tables.classes[c]
        best = np.zeros(limits.width + 1)
        taken = []
        for k in limits.options:
            i = tables.demand[k]
            price = pi[i] * tables.gain[k] + sigma * tables.value[k]
            most = min(self.most[i] // (tables.gain[k] * n), limits.width // tables.width[k])
            for take in steps(most if price > 0 else 0):
                shift = take * tables.width[k]
                other = best[: limits.width + 1 - shift] + take * price
                better = other > best[shift:]
                np.maximum(best[shift:], other, out=best[shift:])
                taken.append((k, take, shift, better))
        counts: dict[int, int] = {}
        at = limits.width
        for k, take, shift, better in reversed(taken):
            if at >= shift and better[at - shift]:
                counts[k] = counts.get(k, 0) + take
                at -= shift
        return float(best[limits.width]), counts
