"""From the linear program over patterns to prices that know whole pieces, and their bound."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.hull.program import Hull
from trimopt.cutting.hull.proof import whole_bound
from trimopt.cutting.hull.whole import values_of_pieces, whole_of
from trimopt.cutting.instance import Instance
from trimopt.cutting.master import Point
from trimopt.cutting.outcome import Pattern
from trimopt.cutting.pricing import Pricer
from trimopt.cutting.program import SolverFailedError
from trimopt.cutting.search import Search

__all__ = ["whole_values"]

Floats = NDArray[np.float64]


def whole_values(
    search: Search,
    closer: tuple[Instance, int],
    pricers: Sequence[Pricer],
    point: Point,
    patterns: Iterable[Pattern],
) -> Floats:
    """Prove what prices of whole pieces prove, and give the value of a piece of each option.

    Parameters
    ----------
    search
        Told of the bound and of the work.
    closer
        The run with its ranges drawn in, and the loss to be added to its losses.
    pricers, point, patterns
        One pricer for each class, an optimum of the linear program over patterns, and its patterns.
    """
    instance, more = closer
    options = instance.by_demand()
    wholes = [
        whole_of(demand, places, [instance.options[k] for k in places])
        for demand, places in zip(instance.demands, options, strict=True)
    ]
    yields = np.array([(option.gain, option.worth) for option in instance.options])
    prices = []
    for i, whole in enumerate(wholes):
        price = np.array([point.gain_price[i], point.worth_price[i]])
        prices.append(yields[list(options[i])] @ price if whole.by_counts else price)
    hull = Hull(instance, wholes, pricers, search)
    hull.begin(patterns, prices)
    with suppress(SolverFailedError):  # the prices of before still guide and prove
        prices = hull.solve()
    bound, work = whole_bound(instance, pricers, wholes, prices)
    search.spend(work)
    if bound is not None:
        search.prove(bound + more, "prices and whole pieces")
    return values_of_pieces(wholes, prices, len(instance.options))
