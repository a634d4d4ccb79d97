"""What one more piece of any width would cost, from the prices of a run and one table a class.

Let the prices of a `Certificate` satisfy its condition (A), and let V(u, p, e) be the most that p
pieces of total width u, e of which may stand at an edge, are worth at them. A piece of a new width
w in class c, m of them in a set, leaves SCALE · cost_c - V for the m pieces to pay, so ::

    marginal_c(w) = min over m = 1, 2, … and allowed (u, p, e) of (SCALE · cost_c - V(u, p, e)) / m

By the duality of linear programs, a demand for a small quantity q of the new piece raises the
least loss of the linear program, the piece's own worth not counted, by at least q · marginal_c(w)
above the bound of the certificate; where the prices are optimal and unique the two are equal.
Worths are rounded up so that those of a set take 28 bits and tables are quick: the value may be
less by a part in some millions of a set, never more.

"Allowed" is what `WindingClass` says of width, stations, broke reels and no-edge pieces; pairs and
barred patterns are left aside, which can only lower the value.

References
----------
P. C. Gilmore, R. E. Gomory (1961), "A linear programming approach to the cutting-stock problem",
Operations Research 9, 849-859.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.instance import SCALE, Instance, WindingClass
from trimopt.cutting.model.outcome import Certificate

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]

#: Worths of a set take at most so many bits; an unreached state stays below half of UNREACHED.
_BITS, UNREACHED = 28, -(1 << 30)


def marginal_loss(instance: Instance, prices: Certificate, winding_class: int) -> Floats:
    """Least loss that one more piece of each width brings, its own worth not counted.

    Parameters
    ----------
    instance, prices
        A run and prices that prove its bound.

    Returns
    -------
    array of float, shape (width of the class,)
        In units of loss, for widths 1, 2, …; infinite where a piece does not fit.
    """
    limits = instance.classes[winding_class]
    least = np.full(limits.width, np.inf)
    budget = float(SCALE * limits.cost * prices.scale)
    unit, tables = _tables(instance, prices, winding_class)
    for guarded, best in tables:
        for broke in range(limits.max_pieces):
            band = _band(limits, broke)
            if band is None:
                continue
            for m in range(1, limits.max_pieces - broke + 1):
                if m > limits.width:
                    break
                # Enough at the edges: the new pieces and broke reels count among them.
                edge = max(0, 2 - m - broke) if guarded else 0
                worth = best[min(edge, len(best) - 1), limits.max_pieces - broke - m]
                reach = _max_window(worth, *band)
                # The room left by m pieces of each width that fits m times.
                found = reach[::-1][m::m]
                pays = np.where(found > UNREACHED // 2, (budget - unit * found) / m, np.inf)
                np.minimum(least[: len(pays)], pays, out=least[: len(pays)])
    return least / prices.scale


def _tables(
    instance: Instance, prices: Certificate, winding_class: int
) -> tuple[float, list[tuple[bool, Ints]]]:
    """V by (edge pieces at least, pieces at most, used width); without no-edge pieces, and with.

    The number is the unit in which they count. Tables hold the best over "at least so many edge
    pieces" and "at most so many pieces".
    """
    limits = instance.classes[winding_class]
    leaders: dict[tuple[int, bool], int] = {}
    for k in instance.options_of(winding_class):
        option = instance.options[k]
        value = prices.piece_price(option)
        if option.width <= limits.width:
            key = option.width, option.no_edge
            leaders[key] = max(leaders.get(key, 0), value)
    greatest = max(leaders.values(), default=0) * limits.max_pieces
    shift = max(0, greatest.bit_length() - _BITS)
    leaders = {key: -(-value >> shift) for key, value in leaders.items()}
    found = []
    for guarded in {False, any(no_edge for _, no_edge in leaders)}:
        chosen = [(w, e, v) for (w, e), v in sorted(leaders.items()) if guarded or not e]
        best = _max_worth(chosen, limits.max_pieces, limits.width, layers=3 if guarded else 1)
        for pieces in range(1, limits.max_pieces + 1):
            np.maximum(best[:, pieces], best[:, pieces - 1], out=best[:, pieces])
        for edge in range(len(best) - 1, 0, -1):
            np.maximum(best[edge - 1], best[edge], out=best[edge - 1])
        found.append((guarded, best))
    return float(1 << shift), found


def _max_worth(
    kinds: list[tuple[int, bool, int]], max_pieces: int, width: int, *, layers: int
) -> Ints:
    """Most worth by (edge pieces, pieces, used width) of any numbers of (width, no edge, worth).

    Row by row of pieces: the row before already holds the kind, so it is taken any number of times
    in one pass. `trimopt.cutting.lp.knapsack_tables` limits each count and can tell the pieces,
    three times as slowly.
    """
    best = np.full((layers, max_pieces + 1, width + 1), UNREACHED, dtype=np.int32)
    best[0, 0, 0] = 0
    widest = max((piece for piece, _, _ in kinds), default=0)
    with_it = np.empty(width + 1, dtype=np.int32)
    for piece, no_edge, worth in kinds:
        for pieces in range(1, max_pieces + 1):
            # No wider than the pieces in it reach, the new one among them.
            end = min(width + 1, (pieces - 1) * widest + piece + 1)
            for came in range(layers):
                went = came if no_edge else min(layers - 1, came + 1)
                source = best[came, pieces - 1, : end - piece]
                target = best[went, pieces, piece:end]
                np.add(source, worth, out=with_it[: end - piece])
                np.maximum(target, with_it[: end - piece], out=target)
    return best


def _band(limits: WindingClass, broke: int) -> tuple[int, int] | None:
    """Least and greatest width left over for which just so many broke reels are needed."""
    if limits.slack is None:
        return (0, limits.width) if broke == 0 else None
    if broke == 0:
        return (0, limits.slack) if limits.slack >= 0 else None
    greatest = limits.width if limits.max_broke is None else limits.max_broke
    low = max(limits.slack + (broke - 1) * greatest + 1, broke * limits.min_broke, 0)
    high = limits.width if limits.max_broke is None else limits.slack + broke * greatest
    return (low, min(high, limits.width)) if low <= min(high, limits.width) else None


def _max_window(values: Ints, low: int, high: int) -> Ints:
    """For each c the most of values[c - high … c - low]; UNREACHED where nothing is there."""
    size = len(values)
    span = high - low + 1
    padded = np.concatenate([np.full(high, UNREACHED, dtype=np.int32), values])
    # Windows by doubling: after k rounds each entry is the most of 2**k that begin there.
    most, length = padded, 1
    for _ in range(int(math.log2(span))):
        most = np.maximum(most[:-length], most[length:])
        length *= 2
    ends = most[: len(padded) - span + 1]
    windows = np.maximum(ends, most[span - length : span - length + len(ends)])
    reached: Ints = windows[:size]
    return reached
