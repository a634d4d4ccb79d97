"""Jumbo ends that suit the orders, and a lower bound on the loss, by Lagrangian relaxation.

Orders tie the lengths of many sets together, which the program of jumbo ends cannot see. So each
order's range gets a price: for a choice of prices the program gives a lower bound on the loss and
one way to end the jumbos. Prices move by subgradient steps.

With N the worth of an order, its net worth is the concave function
N - under · max(0, ordered - N) - over · max(0, N - ordered), which lies on or under
ordered + s · (N - ordered) for every s from 1 - over to 1 + under. So s is a price like the others:
the relaxed worth of a metre is a constant, which is what the program of jumbo ends needs, and any
prices give a bound. The best of them give that of the program without whole numbers.

References
----------
Geoffrion (1974), "Lagrangean relaxation for integer programming", Mathematical Programming Study 2.
Held, Wolfe, Crowder (1974), "Validation of subgradient optimization", Mathematical Programming 6:
the step length.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.budget import Budget, SearchEnded
from trimopt.winding.jumbos.jumbo_ends import METRE, PLAIN, Content, Ends, MetreWorth, jumbo_ends
from trimopt.winding.jumbos.laying import LengthBlock
from trimopt.winding.jumbos.order_slack import LengthProblem

_BOLD = (8.0, 4.0, 2.0, 1.0)  # how far ranges reach for ends sought beside those of the prices
_MIN_RISE_M = 0.5  # of the bound; a step that brings less is stale
_STALE_STEPS = 2  # before steps get shorter
_SHORTER = 0.7
_MIN_STEP = 0.02


@dataclass(slots=True)
class _OrderPrices:
    """For each order: slope of its worth, price of its upper and of its lower limit."""

    slope: list[float]
    upper: list[float]
    lower: list[float]


@dataclass(slots=True)
class _Terms:
    """A problem in floats, metres of jumbo as the unit of worth and of gain."""

    problem: LengthProblem
    gain: list[list[tuple[int, float, float]]]  # block: (order, gain a metre, worth a metre)
    above: list[float | None]  # that may be made above what is made
    below: list[float | None]
    worth: list[float]
    short: list[float]  # ordered worth less worth; 0 where nothing is ordered
    surplus: list[float | None]  # most that `upper` may be; None: no metre may be beyond


def _terms(problem: LengthProblem) -> _Terms:
    unit = float(problem.paper_per_m)
    # Gains are scaled so that a metre's gain is about its worth: prices then have one size.
    scale = [0.0] * len(problem.orders)
    for row in problem.gains:
        for gain in row:
            if gain.gain_per_m and not scale[gain.order]:
                scale[gain.order] = float(gain.worth_per_m / gain.gain_per_m) / unit or 1.0
    above: list[float | None] = []
    below: list[float | None] = []
    worth = []
    short = []
    surplus: list[float | None] = []
    for order, size in zip(problem.orders, scale, strict=True):
        # Surplus may stay: up to the upper limit a metre less is no loss.
        kept = bool(size and order.surplus * order.beyond)
        surplus.append(1 - float(order.over) if kept else None)
        limit = order.high if kept else order.max_made
        # Lengths do not change what is made of an order by reels: it has no limits to price.
        above.append(float(limit - order.made) * size if size and limit is not None else None)
        below.append(float(order.made - order.min_made) * size if size else None)
        has = order.worth if kept else order.worth - order.surplus * order.beyond
        worth.append(float(has) / unit)
        short.append(0.0 if order.ordered is None else float(order.ordered - has) / unit)
    rows = [
        [(g.order, float(g.gain_per_m) * scale[g.order], float(g.worth_per_m) / unit) for g in row]
        for row in problem.gains
    ]
    return _Terms(problem, rows, above, below, worth, short, surplus)


def price_rounds(
    problem: LengthProblem,
    usable_m: Sequence[int],
    budget: Budget,
    *,
    loss_m: float,
    rounds: int = 30,
) -> tuple[float, tuple[tuple[Content, ...], ...]]:
    """A lower bound on the loss, and different ways to end the jumbos, most promising first.

    Parameters
    ----------
    usable_m
        Usable lengths of the jumbos in the order they are opened.
    budget
        Where it is over, what is known by then is given.
    loss_m
        A loss that a plan is known to have, in metres of jumbo; infinite where none is known.
    rounds
        Most subgradient steps.

    Returns
    -------
    tuple
        The bound in metres of jumbo (-inf where the jumbos do not last), safely rounded down, and
        the ways.
    """
    bound = -math.inf
    ways: dict[tuple[Content, ...], None] = {}
    with suppress(SearchEnded):
        if not problem.gains:
            plain = jumbo_ends(problem.blocks, usable_m, budget=budget)
            if plain is None:
                return bound, ()
            # Metres off the class's length weigh less than one metre lost, so this is the least.
            return _lost_m(plain, usable_m), (plain.contents,)
        terms = _terms(problem)
        prices = _first_prices(terms)
        steps = _bounds(terms, prices, usable_m, budget, loss_m=loss_m, rounds=rounds)
        for bound, found in steps:  # noqa: B007  the last one is given
            ways.setdefault(found.contents)
        if not ways:
            return bound, ()
        last_worth, _ = _worth(terms, prices)
        for bold in _BOLD:
            blocks = narrowed(problem, bold)
            for values in (last_worth, cautious_worth(problem)):
                ends = jumbo_ends(blocks, usable_m, values, budget=budget)
                if ends is not None:
                    ways.setdefault(ends.contents)
    return bound, tuple(reversed(ways))


def _bounds(
    terms: _Terms,
    prices: _OrderPrices,
    usable_m: Sequence[int],
    budget: Budget,
    *,
    loss_m: float,
    rounds: int,
) -> Iterator[tuple[float, Ends]]:
    """After each step the best bound so far and the step's ends; `prices` are moved on."""
    problem = terms.problem
    bound, step, stale = -math.inf, 1.0, 0
    for _ in range(rounds):
        worth, fixed = _worth(terms, prices)
        ends = jumbo_ends(problem.blocks, usable_m, worth, budget=budget)
        if ends is None:
            return
        # Each block's worth was rounded by up to half a unit of METRE a metre.
        slack = sum(b.sets * b.max_m for b in problem.blocks) / METRE
        here = ends.cost / METRE + fixed - slack
        if here > bound + _MIN_RISE_M:
            stale = 0
        else:
            stale += 1
            step *= _SHORTER if stale > _STALE_STEPS else 1.0
        bound = max(bound, here)
        yield bound, ends
        slopes = _gradient(terms, ends)
        size = sum(x * x for part in slopes for x in part)
        if bound >= loss_m - problem.close_m or not size or step < _MIN_STEP:
            return
        # Held, Wolfe and Crowder: the step is a share of (known loss - bound) / |gradient|².
        # Where no plan is known, for want of paper, it goes by a hundredth of what there is.
        ahead = loss_m - here if math.isfinite(loss_m) else sum(usable_m) / 100
        _move(terms, prices, slopes, step * max(1.0, ahead) / size)


def narrowed(problem: LengthProblem, bold: float) -> tuple[LengthBlock, ...]:
    """Blocks with ranges narrowed so far that orders cannot break (`bold` 1), or hardly.

    An order that can give up s metres over all sets that serve it, of which the lengths of those
    sets could take r, lets each set have the share bold * s / r of its own range.
    """
    terms = _terms(problem)
    blocks = problem.blocks
    longer, shorter = [1.0] * len(blocks), [1.0] * len(blocks)
    for o in range(len(problem.orders)):
        serving = [(b, gain) for b, row in enumerate(terms.gain) for at, gain, _ in row if at == o]
        for slack, share, spread in (
            (terms.above[o], longer, [b.max_m - b.length_m for b in blocks]),
            (terms.below[o], shorter, [b.length_m - b.min_m for b in blocks]),
        ):
            reach = sum(gain * spread[b] * blocks[b].sets for b, gain in serving)
            if slack is not None and reach > max(0.0, slack):
                for b, _ in serving:
                    share[b] = min(share[b], max(0.0, slack) / reach)
    return tuple(
        replace(
            block,
            min_m=math.ceil(
                block.length_m - min(1.0, bold * less) * (block.length_m - block.min_m)
            ),
            max_m=math.floor(
                block.length_m + min(1.0, bold * more) * (block.max_m - block.length_m)
            ),
        )
        for block, less, more in zip(blocks, shorter, longer, strict=True)
    )


def cautious_worth(problem: LengthProblem) -> tuple[MetreWorth, ...]:
    """What a metre on each block is worth where orders cannot be seen: the less for either way.

    A metre taken away is one that an order misses, a metre added one beyond what it asked.
    """
    if not problem.gains:
        return (PLAIN,) * len(problem.blocks)
    worth = []
    for row in problem.gains:
        below = beyond = Fraction(0)
        for gain in row:
            order = problem.orders[gain.order]
            if gain.gain_per_m and order.surplus * order.beyond:
                continue  # it has more than it may have: a metre on it is worth nothing
            tied = order.ordered is not None
            below += gain.worth_per_m * (1 + order.under if tied else 1)
            beyond += gain.worth_per_m * (1 - order.over if tied else 1)
        unit = problem.paper_per_m
        worth.append(
            MetreWorth(below=round(below / unit * METRE), beyond=round(beyond / unit * METRE))
        )
    return tuple(worth)


def _lost_m(ends: Ends, usable_m: Sequence[int]) -> int:
    return sum(
        usable - sum(metres.values())
        for usable, metres in zip(usable_m, ends.metres[:-1], strict=False)
        if metres
    )


def _first_prices(terms: _Terms) -> _OrderPrices:
    slope = []
    for order, short in zip(terms.problem.orders, terms.short, strict=True):
        if order.ordered is None or not short:
            slope.append(1.0)
        else:
            slope.append(1 + float(order.under) if short > 0 else 1 - float(order.over))
    upper = [top or 0.0 for top in terms.surplus]
    return _OrderPrices(slope=slope, upper=upper, lower=[0.0] * len(slope))


def _worth(terms: _Terms, prices: _OrderPrices) -> tuple[list[MetreWorth], float]:
    """What a metre is worth on each block, and the part of the bound that no metre changes."""
    problem = terms.problem
    values: list[MetreWorth] = []
    fixed = 0.0
    for block, row in zip(problem.blocks, terms.gain, strict=True):
        a_metre = sum(
            prices.slope[o] * worth + (prices.lower[o] - prices.upper[o]) * gain
            for o, gain, worth in row
        )
        value = round(a_metre * METRE)
        values.append(MetreWorth(below=value, beyond=value))
        fixed += value / METRE * block.sets * block.length_m
    for o, order in enumerate(problem.orders):
        fixed -= terms.worth[o]
        if order.ordered is not None:
            fixed -= (1 - prices.slope[o]) * terms.short[o]
        fixed -= prices.upper[o] * (terms.above[o] or 0.0)
        fixed -= prices.lower[o] * (terms.below[o] or 0.0)
    return values, fixed


def _gradient(terms: _Terms, ends: Ends) -> tuple[list[float], list[float], list[float]]:
    """How the bound rises with each price: slope, upper, lower."""
    problem = terms.problem
    more = [-block.sets * block.length_m for block in problem.blocks]
    for metres in ends.metres:
        for b, wound in metres.items():
            more[b] += wound
    worth = [0.0] * len(problem.orders)
    gain = [0.0] * len(problem.orders)
    for b, row in enumerate(terms.gain):
        for o, made, value in row:
            worth[o] += value * more[b]
            gain[o] += made * more[b]
    slope = [
        terms.short[o] - worth[o] if order.ordered is not None else 0.0
        for o, order in enumerate(problem.orders)
    ]
    upper = [0.0 if slack is None else gain[o] - slack for o, slack in enumerate(terms.above)]
    lower = [0.0 if slack is None else -gain[o] - slack for o, slack in enumerate(terms.below)]
    return slope, upper, lower


def _move(
    terms: _Terms,
    prices: _OrderPrices,
    slopes: tuple[list[float], list[float], list[float]],
    step: float,
) -> None:
    slope, upper, lower = slopes
    for o, order in enumerate(terms.problem.orders):
        if order.ordered is not None:
            moved = prices.slope[o] + step * slope[o]
            prices.slope[o] = min(1 + float(order.under), max(1 - float(order.over), moved))
        top = terms.surplus[o]
        prices.upper[o] = max(0.0, prices.upper[o] + step * upper[o])
        if top is not None:
            prices.upper[o] = min(top, prices.upper[o])
        prices.lower[o] = max(0.0, prices.lower[o] + step * lower[o])
