"""Which things go into which bins, so that what goes in is worth most: a multiple knapsack.

S. Martello, P. Toth, Knapsack Problems, 1990, chapter 6. Small cases, solved by CP-SAT.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import FOUND, cp_model, run_cp_sat

_EFFORT = 2.0  # deterministic seconds for each of the two questions
_Pair = tuple[int, int]


def assign(
    worth: Sequence[int],
    sizes: Mapping[_Pair, int],
    capacities: Sequence[int],
    liking: Mapping[_Pair, int],
) -> dict[int, int]:
    """Put things into bins, worth most in all; of such answers the one that is liked most.

    Parameters
    ----------
    worth
        Of each thing, above 0.
    sizes
        What thing i takes of bin j, for each pair (i, j) that is allowed.
    capacities
        Of the bins.
    liking
        Of each pair that is allowed, 0 or more.

    Returns
    -------
    dict
        The bin of each thing that goes in. Nothing that is left would go in beside them.
    """
    model = cp_model.CpModel()
    put = {pair: model.new_bool_var(f"put {pair}") for pair in sorted(sizes)}
    for i in range(len(worth)):
        model.add_at_most_one(put[pair] for pair in put if pair[0] == i)
    for j, capacity in enumerate(capacities):
        model.add(sum(sizes[pair] * put[pair] for pair in put if pair[1] == j) <= capacity)
    total = sum(worth[i] * put[i, j] for i, j in put)
    model.maximize(total)
    held = _solved(model, put)
    model.add(total >= sum(worth[i] for i in held))
    for pair, var in put.items():
        model.add_hint(var, held.get(pair[0]) == pair[1])
    model.maximize(sum(liking[pair] * put[pair] for pair in put))
    held = _solved(model, put) or held
    return _filled(held, sizes, capacities)


def _solved(model: cp_model.CpModel, put: Mapping[_Pair, cp_model.IntVar]) -> dict[int, int]:
    solver, status = run_cp_sat(model, Budget(), effort=_EFFORT)
    if status not in FOUND:
        return {}
    return {i: j for (i, j), var in put.items() if solver.boolean_value(var)}


def _filled(
    held: dict[int, int], sizes: Mapping[_Pair, int], capacities: Sequence[int]
) -> dict[int, int]:
    """What the solver had no work left for goes in where it fits."""
    left = list(capacities)
    for i, j in held.items():
        left[j] -= sizes[i, j]
    for (i, j), size in sorted(sizes.items()):
        if i not in held and size <= left[j]:
            held[i] = j
            left[j] -= size
    return held
