"""The proven bound: whole-number prices, an exact table, exact fractions. No float decides.

A linear program gives its prices as floats. Rounded to whole numbers they break (A) or (B) of
`trimopt.cutting.model.outcome` by a little, somewhere. (B) is a lower limit on each gain price, so
it is met by raising. (A) is met by mixing with prices that are safe beyond doubt: what the dearest
pattern overruns a set by says how much of them is needed (Farley 1990 shrinks all prices; those of
a demand without an upper limit may not go to zero, by (B), so a mixture takes its place).

The certificate's condition (A) is made to hold for every pattern that the width, the stations, the
edge trim (broke reels take stations) and the no-edge rule allow, whether or not pairs and barred
patterns do. So a plain table over width, pieces and edge pieces can check it.

A plan may wind sets of classes whose prices were not proven (`least_a_metre`). They add
Σ sets · (SCALE · cost - Σ pieces (g · gain + w · worth)) to the first sum, of either sign. Where
these sets come to so many metres, that is no less than the metres times the least, over the
classes, of what a metre of their best set adds. The best set is taken over all choices of pieces
that fit the width and the stations: relaxed, so that a plain table can check it.

References
----------
A. A. Farley (1990), "A note on bounding a class of linear programming problems, including cutting
stock problems", Operations Research 38, 922-923.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, inf

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.lp.class_offers import ClassOffer
from trimopt.cutting.lp.knapsack_tables import fill_pieces, fill_widths
from trimopt.cutting.model.instance import SCALE, Demand, Instance
from trimopt.cutting.model.loss import loss_of_net, over_price_of
from trimopt.cutting.model.outcome import Certificate

Ints = NDArray[np.int64]
Ratios = tuple[Fraction, Fraction]


def ratios(instance: Instance) -> tuple[Ratios | None, ...]:
    """Least and greatest worth per yield of each demand's options; None where it has none."""
    shares = [Fraction(option.worth, option.gain) for option in instance.options]
    found = ([shares[k] for k in places] for places in instance.by_demand())
    return tuple((min(r), max(r)) if r else None for r in found)


def min_gain(demand: Demand, span: Ratios, worth_price: int, scale: int) -> int:
    """Return the least gain price at which making more than `high`, or ever more, does not pay."""
    # (B) is linear in r, so it holds between the ends of the span where it holds at both.
    need = []
    for r in span:
        if demand.high is not None:
            need.append(
                -worth_price * r
                - scale * (SCALE - over_price_of(demand)) * (demand.surplus_worth - r)
            )
        else:
            need.append(-worth_price * r + scale * (SCALE - over_price_of(demand)) * r)
    return ceil(max(need))


def floor_of(
    demand: Demand, span: Ratios | None, gain_price: int, worth_price: int, scale: int
) -> Fraction:
    """Return the least value of g · made + w · worth + F(worth) over what a demand may get."""
    if span is None:
        return loss_of_net(demand, Fraction(0))
    # The least of a piecewise linear function over a polygon of (made, worth) lies at a corner or
    # where the kink, worth = ordered, crosses a side.
    g, w = Fraction(gain_price, scale), Fraction(worth_price, scale)
    low, high = max(0, demand.low), demand.high
    ends = [Fraction(low)] + ([Fraction(high)] if high is not None else [])
    points = [(made, r * made) for made in ends for r in span]
    if demand.ordered is not None:
        wanted = Fraction(demand.ordered)
        points += [(m, wanted) for m in ends if span[0] * m <= wanted <= span[1] * m]
        meets = [wanted / r for r in span if r > 0]
        points += [(m, wanted) for m in meets if m >= low and (high is None or m <= high)]
    return min(g * made + w * worth + loss_of_net(demand, worth) for made, worth in points)


def price_bound(instance: Instance, proof: Certificate) -> int:
    """Return the bound of a certificate whose prices satisfy (A) and (B)."""
    spans = ratios(instance)
    total = sum(
        (
            floor_of(demand, spans[i], proof.gain_price[i], proof.worth_price[i], proof.scale)
            for i, demand in enumerate(instance.demands)
        ),
        Fraction(0),
    )
    return ceil(total)


def surplus_pays(instance: Instance, proof: Certificate) -> bool:
    """Whether making too much of a demand would pay at the prices, against (B)."""
    prices = zip(proof.gain_price, proof.worth_price, strict=True)
    return any(
        span is not None and gain < min_gain(demand, span, worth, proof.scale)
        for demand, span, (gain, worth) in zip(
            instance.demands, ratios(instance), prices, strict=True
        )
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worst:
    """By how much the prices of pieces overrun what a set costs, as a share of that cost."""

    share: float
    work: int


def certificate(
    instance: Instance,
    offers: Sequence[ClassOffer],
    gain_price: Sequence[float],
    worth_price: Sequence[float],
) -> tuple[Certificate, int] | None:
    """Make prices of a linear program whole and safe.

    Parameters
    ----------
    gain_price, worth_price
        Prices in units of loss for a unit of yield and of worth, from the linear program.

    Returns
    -------
    tuple of Certificate and work, or None
        Prices that satisfy (A) and (B), as close to the given ones as a mixture with prices that
        are safe beyond doubt allows; None where no such mixture was found.
    """
    scale = price_scale(offers)
    spans = ratios(instance)
    safe_worth = [
        0.0
        if demand.high is not None or span is None or span[1] == 0
        else float(SCALE - over_price_of(demand))
        for demand, span in zip(instance.demands, spans, strict=True)
    ]
    # Mostly one turn does, as column generation left overruns below a part in 2**28 alone.
    mix, work = 0.0, 0
    for _ in range(40):
        gains, worths = [], []
        for i, demand in enumerate(instance.demands):
            span = spans[i]
            if span is None:
                gains.append(0)
                worths.append(0)
                continue
            w = floor(((1 - mix) * worth_price[i] + mix * safe_worth[i]) * scale)
            g = floor((1 - mix) * gain_price[i] * scale)
            gains.append(max(g, min_gain(demand, span, w, scale)))
            worths.append(w)
        worst = _worst(offers, gains, worths, scale)
        work += worst.work
        if worst.share <= 0:
            proof = Certificate(scale=scale, gain_price=tuple(gains), worth_price=tuple(worths))
            return proof, work
        if worst.share == inf:
            return None
        # The new share of safe prices, on top of those that are mixed in already. A little more
        # than needed, as floats decide here; the next turn's table decides exactly.
        # Overrun e of the price side: (1 - m)(1 + e) <= 1 wherever the safe prices are worth 0.
        share = min(1.0, worst.share / (1 + worst.share) * (1 + 1e-9) + 1e-15)
        mix = 1 - (1 - mix) * (1 - share)
    return None


def price_scale(offers: Sequence[ClassOffer]) -> int:
    """How many whole-number prices a unit of loss has, so that no sum in a table overflows."""
    greatest = max((SCALE * offer.cost for offer in offers), default=1)
    fullest = max((offer.width // int(offer.widths.min()) for offer in offers), default=1)
    # A piece worth more than a set never enters a table, so no sum there reaches 2**60.
    bits = 60 - max(1, greatest).bit_length() - fullest.bit_length()
    return 1 << min(32, max(0, bits))


def _worst(offers: Sequence[ClassOffer], gains: list[int], worths: list[int], scale: int) -> _Worst:
    worst, work = -inf, 0
    for offer in offers:
        exact = [
            gains[int(offer.demand[j])] * int(offer.gains[j])
            + worths[int(offer.demand[j])] * int(offer.worths[j])
            for j in range(offer.size)
        ]
        budget = SCALE * offer.cost * scale
        # Prices are Python integers up to here, so nothing has overflowed yet; a piece dearer than
        # its set ends the look at this class before it could in the table.
        if max(exact) > budget:
            worst = max(worst, (max(exact) - budget) / budget if budget > 0 else inf)
            continue
        if budget <= 0:
            worst = max(worst, 0)
            continue
        values = np.array([max(0, v) for v in exact], dtype=np.int64)
        kept = _leaders(offer, values)
        limits = np.minimum(offer.width // offer.widths, offer.max_pieces)[kept]
        table = fill_widths(offer.widths[kept], values[kept], limits, offer.width)
        work += 3 * len(kept) * offer.width
        # The quick table leaves stations and edges out, so it may name a pattern that they forbid;
        # only then is the table that knows them worth its time.
        best = np.where(offer.broke >= 0, table.best, 0)
        top = int(best.argmax())
        most = int(best[top])
        if most > budget:
            counts = tuple((int(kept[j]), n) for j, n in table.pieces(top))
            if not (offer.fits_stations(counts, top) and offer.edges_hold(counts, top)):
                most, cells = _max_allowed(offer, values, kept, limits)
                work += cells
        worst = max(worst, (most - budget) / budget)
    return _Worst(share=worst, work=work)


def _max_allowed(offer: ClassOffer, values: Ints, kept: Ints, limits: Ints) -> tuple[int, int]:
    """Most that a pattern under the rules of width, stations, edge trim and edges is worth."""
    most, work = 0, 0
    for guarded in {False, bool(offer.no_edge[kept].any())}:
        chosen = np.ones(len(kept), dtype=bool) if guarded else ~offer.no_edge[kept]
        if not chosen.any():
            continue
        table = fill_pieces(
            offer.widths[kept][chosen],
            values[kept][chosen],
            limits[chosen],
            offer.no_edge[kept][chosen],
            (offer.max_pieces, offer.width),
            guarded=guarded,
        )
        work += 4 * table.best.size * int(chosen.sum())
        most = max(most, int(np.where(offer.allowed_ends(len(table.best)), table.best, 0).max()))
    return most, work


def _leaders(offer: ClassOffer, values: Ints) -> Ints:
    """Of options of one width and one edge rule the most valuable: nothing limits their count."""
    order = np.lexsort((-values, offer.no_edge, offer.widths))
    first = np.ones(len(order), dtype=bool)
    first[1:] = (offer.widths[order][1:] != offer.widths[order][:-1]) | (
        offer.no_edge[order][1:] != offer.no_edge[order][:-1]
    )
    leaders: Ints = order[first]
    return leaders


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
