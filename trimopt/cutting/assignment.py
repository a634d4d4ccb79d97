"""Which things go into which bins, so that what goes in is worth most: a multiple knapsack.

S. Martello, P. Toth, Knapsack Problems, 1990, chapter 6. Small cases, solved by CP-SAT.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from trimopt.budget import Budget
from trimopt.cutting.cp_sat import FOUND, cp_model, run_cp_sat

_EFFORT = 2.0  # deterministic seconds for each of the questions
_MAX_TOTAL = 2**53  # of questions asked together
_Pair = tuple[int, int]


def assign(
    worth: Mapping[_Pair, int],
    sizes: Mapping[_Pair, int],
    capacities: Sequence[int],
    likings: Iterable[Mapping[_Pair, int]],
) -> dict[int, int]:
    """Put things into bins, worth most in all; of such answers the one that is liked most.

    Parameters
    ----------
    worth
        Of each pair (i, j) of a thing and a bin that is allowed, above 0.
    sizes
        What thing i takes of bin j, for each of them.
    capacities
        Of the bins.
    likings
        Of some pairs, 0 or more. Of answers worth the same those liked most by the first are taken,
        of these those liked most by the second, and so on.

    Returns
    -------
    dict
        The bin of each thing that goes in. Nothing that is left would go in beside them.
    """
    model = cp_model.CpModel()
    put = {pair: model.new_bool_var(f"put {pair}") for pair in sorted(sizes)}
    for i in {i for i, _ in put}:
        model.add_at_most_one(put[pair] for pair in put if pair[0] == i)
    for j, capacity in enumerate(capacities):
        model.add(sum(sizes[pair] * put[pair] for pair in put if pair[1] == j) <= capacity)
    held: dict[int, int] = {}
    for liking in (worth, *_asked_together(likings)):
        total = sum(value * put[pair] for pair, value in liking.items())
        model.maximize(total)
        held = _solved(model, put) or held
        model.add(total >= sum(liking.get(pair, 0) for pair in held.items()))
        model.clear_hints()
        for (i, j), var in put.items():
            model.add_hint(var, held.get(i) == j)
    return _filled(held, sizes, capacities)


def _asked_together(likings: Iterable[Mapping[_Pair, int]]) -> Iterator[dict[_Pair, int]]:
    """The same likings as fewer questions: one that comes first outweighs all behind it."""
    joined: Counter[_Pair] = Counter()
    for liking in likings:
        behind = _max_total(liking) + 1
        if _max_total(joined) * behind + behind > _MAX_TOTAL:
            yield dict(joined)
            joined = Counter()
        joined = Counter({pair: value * behind for pair, value in joined.items()})
        joined.update(liking)
    yield dict(joined)


def _max_total(liking: Mapping[_Pair, int]) -> int:
    most: dict[int, int] = {}
    for (i, _), value in liking.items():
        most[i] = max(value, most.get(i, 0))
    return sum(most.values())


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
