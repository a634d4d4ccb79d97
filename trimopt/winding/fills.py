"""What lengths can fill a jumbo, and so what a set must be charged for the butts that it leaves.

A **fill** is a choice of sets whose lengths together fit on a jumbo. Charges, one for each set
length, are **fair** when no fill of any jumbo is charged more than the jumbo's usable length. Then
for every plan, with charge m for a set, ::

    Σ m of the sets on a finished jumbo <= its usable metres
    Σ m of the sets on the last jumbo   <= metres wound off it + credit

where the credit is the most by which the charges of a fill exceed its lengths. So jumbo metres
used >= Σ m of all sets - credit: a lower bound on the sum of charges is one on jumbo metres, with
the butts in it. A share of the butt (20 km sets beside 30 km sets on a jumbo of 80) is not fair:
30, 30 and 20 fill it. Fair charges are the dual prices of the fractional packing of lengths into
jumbos (Gilmore and Gomory 1961), made whole and checked against every fill by an exact table.

References
----------
Gilmore, Gomory (1961), "A linear programming approach to the cutting-stock problem".
Lueker (1983), "Bin packing with items uniformly distributed": dual feasible functions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray
from ortools.math_opt.python import mathopt

from trimopt.cutting.optimum import optimum

__all__ = ["Charges", "fair_charges", "least_metres"]

_SCALE = 1000
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Charges:
    """Fair charges in 1/`scale` metres, in step with `lengths_m`; see the module text."""

    lengths_m: tuple[int, ...]
    usable_m: tuple[int, ...]
    charge: tuple[int, ...]
    credit: int  # in 1/scale metres
    scale: int = _SCALE


def _most_of(lengths: Sequence[int], values: Sequence[int], room: int) -> Ints:
    """For every capacity 0..room the most value of a fill."""
    best = np.zeros(room + 1, dtype=np.int64)
    useful = [(m, v) for m, v in zip(lengths, values, strict=True) if v > 0 and m <= room]
    if not useful:
        return best
    # One more set at a time; a fill has no more sets than the shortest length allows.
    for _ in range(room // min(m for m, _ in useful)):
        more = best.copy()
        for m, v in useful:
            np.maximum(more[m:], best[:-m] + v, out=more[m:])
        if np.array_equal(more, best):
            break
        best = more
    return best


def _trace(lengths: Sequence[int], values: Sequence[int], best: Ints, at: int) -> tuple[int, ...]:
    """Sets of each length in a fill of capacity `at` with the most value."""
    counts = [0] * len(lengths)
    while best[at] > 0:
        if at and best[at - 1] == best[at]:
            at = int(np.searchsorted(best, best[at]))
        for k, (m, v) in enumerate(zip(lengths, values, strict=True)):
            if v > 0 and m <= at and best[at - m] + v == best[at]:
                counts[k] += 1
                at -= m
                break
    return tuple(counts)


def fair_charges(
    lengths_m: Sequence[int], usable_m: Sequence[int], sets: Sequence[float]
) -> Charges:
    """Fair charges whose sum over a plan with so many sets of each length is greatest.

    Parameters
    ----------
    lengths_m
        Different set lengths, whole metres.
    usable_m
        Usable lengths of all kinds of jumbo that there are.
    sets
        How many sets of each length the charges are made for; any others are charged fairly too.

    Raises
    ------
    ValueError
        No set length fits on any jumbo, or a length is not positive.
    """
    lengths = tuple(lengths_m)
    kinds = tuple(sorted(set(usable_m), reverse=True))
    if not kinds or min(lengths, default=0) < 1 or min(lengths) > kinds[0]:
        raise ValueError(f"no set of {lengths} m fits on a jumbo of {kinds} m")
    values = _duals(lengths, kinds, sets)
    values = _made_fair(lengths, kinds, values)
    values = _lifted(lengths, kinds, values, sets)
    over = [max(0, v - _SCALE * m) for m, v in zip(lengths, values, strict=True)]
    credit = int(_most_of(lengths, over, kinds[0])[-1])
    return Charges(lengths_m=lengths, usable_m=kinds, charge=tuple(values), credit=credit)


def _duals(lengths: tuple[int, ...], kinds: tuple[int, ...], sets: Sequence[float]) -> list[int]:
    """Dual prices of the fractional packing, in 1/_SCALE metres, by column generation."""
    model = mathopt.Model()
    model.objective.is_maximize = True
    # The dual program: a row for each fill found so far.
    charge = [
        model.add_variable(lb=0.0, ub=float(kinds[0]) if m <= kinds[0] else 0.0) for m in lengths
    ]
    for variable, many in zip(charge, sets, strict=True):
        model.objective.set_linear_coefficient(variable, float(many) + 1e-3)
    for room in kinds:
        for k, m in enumerate(lengths):
            if m <= room:
                row = model.add_linear_constraint(ub=float(room))
                row.set_coefficient(charge[k], float(room // m))
    solver = mathopt.IncrementalSolver(model, mathopt.SolverType.GLOP)
    limit = mathopt.SolveParameters(time_limit=timedelta(seconds=30))
    values = [0] * len(lengths)
    for _ in range(400):
        result = optimum(lambda: solver.solve(params=limit))
        if result is None:
            break
        found = result.variable_values()
        values = [round(found[variable] * _SCALE) for variable in charge]
        best = _most_of(lengths, values, kinds[0])
        fresh = False
        for room in kinds:
            if best[room] > _SCALE * room + len(lengths) * 10:
                row = model.add_linear_constraint(ub=float(room))
                for variable, count in zip(
                    charge, _trace(lengths, values, best, room), strict=True
                ):
                    row.set_coefficient(variable, float(count))
                fresh = True
        if not fresh:
            break
    return values


def _made_fair(lengths: tuple[int, ...], kinds: tuple[int, ...], values: list[int]) -> list[int]:
    """The same, scaled down until every fill of every jumbo is charged no more than it."""
    while True:
        best = _most_of(lengths, values, kinds[0])
        worst = max(kinds, key=lambda room: best[room] / room)
        most = int(best[worst])
        if most <= _SCALE * worst:
            return values
        values = [v * _SCALE * worst // most for v in values]


def _lifted(
    lengths: tuple[int, ...], kinds: tuple[int, ...], values: list[int], sets: Sequence[float]
) -> list[int]:
    """Each charge raised as far as all others leave it fair, the most used lengths first."""
    values = list(values)
    for k in sorted(range(len(lengths)), key=lambda k: (-sets[k], -lengths[k])):
        others = [0 if at == k else v for at, v in enumerate(values)]
        best = _most_of(lengths, others, kinds[0])
        limits = [
            (_SCALE * room - int(best[room - many * lengths[k]])) // many
            for room in kinds
            for many in range(1, room // lengths[k] + 1)
        ]
        if limits:
            values[k] = max(values[k], min(limits))
    return values


def least_metres(charges: Charges, charged: int) -> tuple[int, int]:
    """From a lower bound on the sum of charges to one on jumbos opened and on jumbo metres used.

    Parameters
    ----------
    charges
        Fair charges.
    charged
        A proven lower bound on the sum of charges, in 1/scale metres.

    Returns
    -------
    tuple
        Jumbos, and usable metres used: whole jumbos and what is wound off the last.
    """
    scale, longest = charges.scale, charges.usable_m[0]
    if charged <= 0:
        return 0, 0
    jumbos = -(-charged // (scale * longest))
    metres = -((charges.credit - charged) // scale)
    if len(charges.usable_m) == 1:
        # All but the last jumbo take at most their own length of charges; the last must take the
        # rest, and a fill charged so much has at least this length.
        rest = charged - (jumbos - 1) * scale * longest
        best = _most_of(charges.lengths_m, charges.charge, longest)
        shortest = int(np.searchsorted(best, rest))
        metres = max(metres, (jumbos - 1) * longest + min(shortest, longest))
    return jumbos, max(0, metres)
