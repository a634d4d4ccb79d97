"""What running orders cost at the least, and the least of all orders: a shortest path."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from trimopt.budget import Budget


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Least moves from lot to lot over all layouts.

    `min_moves[i][j]` are those from lot i to lot j, `first_moves[i]` those to lot i as the first.
    """

    min_moves: Sequence[Sequence[int]]
    first_moves: Sequence[int]

    def cost(self, order: Sequence[int]) -> int:
        """Least moves of a running order."""
        return self.first_moves[order[0]] + sum(self.min_moves[a][b] for a, b in pairwise(order))


def path_bound(steps: Steps, budget: Budget, *, effort: float = 1.0) -> tuple[int, list[int]]:
    """The least cost of all running orders, and an order of little cost.

    `effort` is deterministic seconds for the integer program, which is stopped with the budget.

    Returns
    -------
    tuple
        A proven lower bound, and the best order that was found (of that cost, where it is proven).
    """
    least, firsts = steps.min_moves, steps.first_moves
    n = len(least)
    if n <= 1:
        return sum(firsts), list(range(n))
    if len({least[i][j] for i in range(n) for j in range(n) if i != j}) == 1:
        order = sorted(range(n), key=lambda i: firsts[i])
        return firsts[order[0]] + (n - 1) * least[0][1], order
    if budget.over():
        return 0, list(range(n))
    # Heavy; not at the top of a command.
    from ortools.sat.python import cp_model  # noqa: PLC0415

    from trimopt.cutting.cp_sat import FOUND, run_cp_sat  # noqa: PLC0415

    model = cp_model.CpModel()
    arcs = []
    terms: list[cp_model.LinearExprT] = []
    # A path through all lots is a circuit through them and a start, which is node n.
    for i in range(n):
        arcs.append((n, i, model.new_bool_var("")))
        terms.append(firsts[i] * arcs[-1][2])
        arcs.append((i, n, model.new_bool_var("")))
        for j in range(n):
            if i != j:
                arcs.append((i, j, model.new_bool_var("")))
                terms.append(least[i][j] * arcs[-1][2])
    model.add_circuit(arcs)
    model.minimize(sum(terms))
    solver, status = run_cp_sat(model, budget, effort=effort, seed=1)
    order = list(range(n))
    if status in FOUND:
        follows = {i: j for i, j, arc in arcs if solver.boolean_value(arc)}
        order = []
        at = follows[n]
        while at != n:
            order.append(at)
            at = follows[at]
    return max(0, round(solver.best_objective_bound)), order
