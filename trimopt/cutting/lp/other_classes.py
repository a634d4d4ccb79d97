"""The bound of a plan that also winds sets of classes whose prices were not proven.

A certificate covers the classes that it was made over (`trimopt.cutting.model.outcome`). Sets of
other classes add Σ sets · (SCALE · cost - Σ pieces (g · gain + w · worth)) to the first sum, of
either sign. Where these sets come to so many metres, that is no less than the metres times the
least, over the classes, of what a metre of their best set adds. The best set is taken over all
choices of pieces that fit the width and the stations: relaxed, so that a plain table can check it.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import numpy as np

from trimopt.cutting.lp.knapsack_tables import fill_pieces
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.outcome import Certificate


def least_a_metre(instance: Instance, proof: Certificate, lengths_m: Mapping[int, int]) -> Fraction:
    """The least that a metre of these classes adds to the loss at the prices, in its units.

    Parameters
    ----------
    lengths_m
        The classes, each with the metres of its sets.
    """
    return min(
        (SCALE * instance.classes[c].cost - Fraction(_best(instance, proof, c), proof.scale))
        / metres
        for c, metres in lengths_m.items()
    )


def _best(instance: Instance, proof: Certificate, c: int) -> int:
    """The most that a set of a class is worth at the prices."""
    limits = instance.classes[c]
    priced: dict[int, int] = {}
    for k in instance.options_of(c):
        option = instance.options[k]
        value = proof.piece_price(option)
        if value > 0 and option.width <= limits.width:
            priced[option.width] = max(value, priced.get(option.width, 0))
    if not priced:
        return 0
    widths = np.array(sorted(priced), dtype=np.int64)
    values = np.array([priced[width] for width in sorted(priced)], dtype=np.int64)
    most = np.minimum(limits.width // widths, limits.max_pieces)
    free = np.zeros(len(widths), dtype=np.bool_)
    table = fill_pieces(widths, values, most, free, (limits.max_pieces, limits.width))
    return max(0, int(table.best.max()))
