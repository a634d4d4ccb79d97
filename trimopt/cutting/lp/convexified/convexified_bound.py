"""What prices of measures prove where demands are made of whole pieces.

With a price π_k of one piece of option k, and x_k pieces made, adding and taking away π_k · x_k in
the loss gives ::

    loss = Σ sets · (SCALE · cost - Σ pieces π) + Σ_i (Σ π x + loss of demand i without its sets)

The first sum is no less than 0 where no pattern that a plan of least loss needs is worth more than
its set, which the exact pricing of each class decides. The second is no less than the sum of the
least over the ways of each demand that is listed
(`trimopt.cutting.lp.convexified.order_production`), and the floor of the certificate of any other.
Ways with a piece or more beyond ``high`` need not be listed where ::

    π_k >= -(SCALE - over_price) · (surplus_worth · gain_k - worth_k)                            (C)

(`min_surplus_loss`), for without that piece the net worth is greater by surplus_worth · gain -
worth, and the loss falls by at least SCALE - over_price a unit of it. For prices of yield and
worth, (C) is (B).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.bound_certificate import floor_of, min_gain, price_scale, ratios
from trimopt.cutting.lp.convexified.order_production import OrderProduction, min_surplus_loss
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.instance import SCALE, Instance

Floats = NDArray[np.float64]

_DEAREST = 64  # sets that a piece may be worth, where it must ride with pieces of less than nothing
_ROUNDING = 1e-11  # of the greatest term: above what floats err by in a sum of so few


@dataclass(frozen=True, slots=True, kw_only=True)
class WholePrices:
    """Prices of the measures of each demand in whole numbers, `scale` to a unit of loss."""

    scale: int
    measures: tuple[tuple[int, ...], ...]

    def of_pieces(self, wholes: Sequence[OrderProduction], options: int) -> list[int]:
        """What a piece of each of so many options is worth, `scale` to a unit of loss."""
        values = [0] * options
        for whole, price in zip(wholes, self.measures, strict=True):
            for k, measured in zip(whole.options, whole.pieces.tolist(), strict=True):
                values[k] = sum(p * n for p, n in zip(price, measured, strict=True))
        return values


def production_bound(
    instance: Instance,
    pricers: Sequence[Pricer],
    wholes: Sequence[OrderProduction],
    prices: Sequence[Floats],
    max_mixtures: int,
) -> tuple[int, WholePrices | None, int]:
    """Make prices whole and safe; give the bound that they prove, these prices, and the work.

    The prices are None where nothing is proven.

    Parameters
    ----------
    prices
        Of the measures of each demand, in units of loss.
    max_mixtures
        How often prices may be shrunk until they are safe.
    """
    if any(demand.high is None for demand in instance.demands):
        return 0, None, 0
    # Pieces of less than nothing may ride in a pattern to fill it where edge trim is limited, and
    # then a dear piece beside them counts more than a set: room for that in the whole numbers.
    scale = max(1, price_scale([pricer.offer for pricer in pricers]) // _DEAREST)
    spans = ratios(instance)
    share, work = 1.0, 0
    for _ in range(max_mixtures):
        whole = [[floor(share * float(p) * scale) for p in some] for some in prices]
        for i, demand in enumerate(instance.demands):
            if wholes[i].by_counts:
                lost = [min_surplus_loss(demand, instance.options[k]) for k in wholes[i].options]
                whole[i] = [max(p, -scale * q) for p, q in zip(whole[i], lost, strict=True)]
            elif (span := spans[i]) is not None:
                gain, worth = whole[i]
                whole[i] = [max(gain, min_gain(demand, span, worth, scale)), worth]
        # Every demand has an upper limit here, so zero prices are safe: all are shrunk by the
        # overrun (Farley 1990), raised to (C) again where that is needed, and looked at anew.
        found = WholePrices(scale=scale, measures=tuple(map(tuple, whole)))
        over, done = _overrun(instance, pricers, wholes, found)
        work += done
        if over <= 0:
            break
        share /= 1 + over * (1 + 1e-9) + 1e-15
    else:
        return 0, None, work
    total = Fraction(0)
    for i, price in enumerate(whole):
        if wholes[i].is_range:
            gain, worth = price
            total += floor_of(instance.demands[i], spans[i], gain, worth, scale)
        else:
            total += _least(wholes[i], price, scale)
    return ceil(total), found, work


def _overrun(
    instance: Instance,
    pricers: Sequence[Pricer],
    wholes: Sequence[OrderProduction],
    prices: WholePrices,
) -> tuple[float, int]:
    """By how much the pieces of a pattern are worth more than its set, as a share, and the work."""
    values = prices.of_pieces(wholes, len(instance.options))
    over, work = 0.0, 0
    for pricer in pricers:
        budget = SCALE * pricer.offer.cost * prices.scale
        some = [values[k] for k in pricer.offer.options]
        most = max(some)
        if most <= _DEAREST * budget:
            least = -_DEAREST * budget
            exact = np.array([max(least, value) for value in some], dtype=np.int64)
            priced = pricer.price(exact, cutoff=budget)
            most, work = priced.bound, work + priced.work
        if most > budget:
            over = max(over, (most - budget) / budget if budget > 0 else inf)
    return over, work


def _least(whole: OrderProduction, price: Sequence[int], scale: int) -> Fraction:
    """Least over the ways of a demand: floats tell which ones of a list are near it."""
    if whole.table is not None:
        return whole.table.least(price, scale)
    terms = whole.ways * (np.array(price, dtype=np.float64) / scale)
    cost = terms.sum(axis=1) + whole.loss
    most = float(np.abs(terms).sum(axis=1).max()) + float(np.abs(whole.loss).max())
    near = np.flatnonzero(cost <= cost.min() + 2 * _ROUNDING * most)
    return min(
        Fraction(sum(p * int(n) for p, n in zip(price, whole.ways[way], strict=True)), scale)
        + int(whole.loss[way])
        for way in near
    )
