"""From fractions to whole sets: fix some, see what is left as a run of its own, go on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate
from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.lp.master import Master, Point
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.outcome import Pattern, yields_of
from trimopt.cutting.search.search_state import Search
from trimopt.cutting.search.single_order_patterns import own_pattern
from trimopt.cutting.search.small_orders import in_whole_pieces

__all__ = ["dive", "residual"]

_NEARLY = 1e-6
_ROUNDS = 3  # of pricing after each fixing


def residual(instance: Instance, sets: Mapping[Pattern, int]) -> Instance:
    """What is left of a run where some sets are decided."""
    made, worth = [0] * len(instance.demands), [0] * len(instance.demands)
    for pattern, number in sets.items():
        for i, (gain, value) in yields_of(instance, pattern).items():
            made[i] += gain * number
            worth[i] += value * number
    demands = []
    for demand, done, got in zip(instance.demands, made, worth, strict=True):
        over = 0 if demand.high is None else max(0, done - demand.high)
        left = replace(
            demand,
            low=max(0, demand.low - done),
            high=None if demand.high is None else max(0, demand.high - done),
            ordered=None
            if demand.ordered is None
            else demand.ordered - (got - over * demand.surplus_worth),
        )
        demands.append(left)
    return replace(instance, demands=tuple(demands))


def dive(
    instance: Instance,
    search: Search,
    point: Point,
    sets: Mapping[Pattern, float],
    *,
    small: int,
    share: float,
) -> dict[Pattern, int]:
    """Fix whole parts and large fractions, solve what is left, until nothing is.

    What is left of an order soon is a few pieces; from then on it is made of whole ones.

    Parameters
    ----------
    instance
        The run.
    search
        Told of the work.
    point, sets
        An optimum of the linear program to start from, and the sets of each pattern there.
    small
        Orders of at most so many pieces are made of whole ones.
    share
        Fractions at least this large are rounded up together.

    Returns
    -------
    dict
        Sets of each pattern; where no solver answers, those fixed so far.
    """
    fixed: dict[Pattern, int] = {}
    left, parts = instance, sets
    known = list(sets)
    while True:
        left = in_whole_pieces(left, point, parts, most=small)
        if all(demand.low <= 0 for demand in left.demands):
            return fixed
        live = np.array([demand.low > 0 or demand.high != 0 for demand in left.demands])
        pricers = [Pricer(left, o) for o in class_offers(left) if live[o.demand].any()]
        master = Master(left)
        lacking = {i for i, demand in enumerate(left.demands) if demand.low > 0}
        for pattern in known:
            held = {left.options[k].demand for k, _ in pattern.pieces}
            if all(live[i] for i in held):
                master.add(pattern)
                lacking -= held
        for i in sorted(lacking):
            own = own_pattern(left, pricers, i)
            if own is not None:
                master.add(own)
        try:
            point, _ = generate(master, pricers, search, rounds=_ROUNDS)
        except SolverFailedError:
            return fixed
        known = master.patterns
        parts = {p: float(n) for p, n in zip(known, point.sets, strict=False) if n > _NEARLY}
        new = _rounded(left, parts, share)
        if not new:
            return fixed
        for pattern, number in new.items():
            fixed[pattern] = fixed.get(pattern, 0) + number
        left = residual(left, new)


def _rounded(
    instance: Instance, parts: Mapping[Pattern, float], share: float
) -> dict[Pattern, int]:
    """Whole parts, and large fractions rounded up that make nothing beyond its range.

    At least one set, the largest fraction, where there is one.
    """
    new = {p: int(n + _NEARLY) for p, n in parts.items() if n >= 1 - _NEARLY}
    room = [
        None if demand.high is None else max(demand.low, demand.high) for demand in instance.demands
    ]

    def fits(pattern: Pattern, number: int, *, always: bool) -> bool:
        after = {
            i: None if (r := room[i]) is None else r - gain * number
            for i, (gain, _) in yields_of(instance, pattern).items()
        }
        if not always and any(r is not None and r < 0 for r in after.values()):
            return False
        for i, r in after.items():
            room[i] = r
        return True

    for pattern, number in new.items():
        fits(pattern, number, always=True)
    fractions = sorted(
        ((int(n + _NEARLY) - n, p) for p, n in parts.items() if n - int(n + _NEARLY) > _NEARLY)
    )
    for minus, pattern in fractions:
        if new and -minus < share:
            break
        if fits(pattern, 1, always=False):
            new[pattern] = new.get(pattern, 0) + 1
    if not new and fractions:
        new[fractions[0][1]] = 1
    return new
