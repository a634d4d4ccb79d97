"""The search behind `last_metres.balance`: jumbo ends, then metres, with a bound.

Orders tie the lengths of many sets together, which the program of jumbo ends cannot see. So each
order's range gets a price (a Lagrangian relaxation): for a choice of prices the program gives a
lower bound on the loss and one way to end the jumbos; a small integer program then finds, for those
ends, the best metres with every order inside its range. Prices move by subgradient steps.

With N the worth of an order, its net worth is the concave function
N - under · max(0, ordered - N) - over · max(0, N - ordered), which lies on or under
ordered + s · (N - ordered) for every s from 1 - over to 1 + under. So s is a price like the others.

References
----------
Held, Wolfe, Crowder (1974), "Validation of subgradient optimization": the step length.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction

from ortools.sat.python import cp_model

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.cp_sat import FOUND, run_cp_sat
from trimopt.winding.jumbos.jumbo_ends import METRE, PLAIN, Ends, MetreWorth, jumbo_ends
from trimopt.winding.jumbos.laying import LengthBlock
from trimopt.winding.jumbos.order_slack import Case, SetGain

__all__ = [
    "SetsOnJumbos",
    "best_metres",
    "cautious_worth",
    "narrowed",
    "price_rounds",
    "swift_metres",
]

_SWIFT = 1_000  # sets at most in a program that nothing stops

SetsOnJumbos = tuple[tuple[tuple[int, int], ...], ...]  # for each jumbo: (block, sets)


@dataclass(slots=True)
class _Prices:
    """For each order: slope of its worth, price of its upper and of its lower limit."""

    slope: list[float]
    most: list[float]
    least: list[float]


@dataclass(slots=True)
class _Terms:
    """A case in floats, metres of jumbo as the unit of worth and of gain."""

    case: Case
    gain: list[list[tuple[int, float, float]]]  # block: (order, gain a metre, worth a metre)
    max_made: list[float | None]  # room above what is made
    min_made: list[float | None]  # room below
    short: list[float]  # ordered worth less worth; 0 where nothing is ordered


def _terms(case: Case) -> _Terms:
    unit = float(case.paper_per_m)
    # Gains are scaled so that a metre's gain is about its worth: prices then have one size.
    scale = [0.0] * len(case.rooms)
    for row in case.gains:
        for gain in row:
            if gain.gain_per_m and not scale[gain.order]:
                scale[gain.order] = float(gain.worth_per_m / gain.gain_per_m) / unit or 1.0
    most, least, short = [], [], []
    for room, size in zip(case.rooms, scale, strict=True):
        tied = bool(size)
        above = None if room.most is None else max(room.most, room.made)
        most.append(float(above - room.made) * size if tied and above is not None else None)
        least.append(float(room.made - min(room.least, room.made)) * size if tied else None)
        short.append(0.0 if room.ordered is None else float(room.ordered - room.worth) / unit)
    rows = [
        [(g.order, float(g.gain_per_m) * scale[g.order], float(g.worth_per_m) / unit) for g in row]
        for row in case.gains
    ]
    return _Terms(case, rows, most, least, short)


def price_rounds(
    case: Case, usable_m: Sequence[int], budget: Budget, *, loss_m: float, rounds: int = 30
) -> tuple[float, tuple[SetsOnJumbos, ...]]:
    """A lower bound on the loss, and different ways to end the jumbos, most promising first.

    Parameters
    ----------
    case
        Blocks, rooms, gains.
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
    ways: dict[SetsOnJumbos, None] = {}
    with suppress(SearchEnded):
        if not case.gains:
            plain = jumbo_ends(case.blocks, usable_m, budget=budget)
            if plain is None:
                return bound, ()
            # Metres off the class's length weigh less than one metre lost, so this is the least.
            return _lost_m(plain, usable_m), (_sets_on(plain),)
        terms = _terms(case)
        prices = _first_prices(terms)
        steps = _bounds(terms, prices, usable_m, budget, loss_m=loss_m, rounds=rounds)
        for bound, found in steps:  # noqa: B007  the last one is given
            ways.setdefault(_sets_on(found))
        if not ways:
            return bound, ()
        last_worth, _ = _worth(terms, prices)
        for bold in (8.0, 4.0, 2.0, 1.0):
            blocks = narrowed(case, bold)
            for values in (last_worth, cautious_worth(case)):
                ends = jumbo_ends(blocks, usable_m, values, budget=budget)
                if ends is not None:
                    ways.setdefault(_sets_on(ends))
    return bound, tuple(reversed(ways))


def _bounds(
    terms: _Terms,
    prices: _Prices,
    usable_m: Sequence[int],
    budget: Budget,
    *,
    loss_m: float,
    rounds: int,
) -> Iterator[tuple[float, Ends]]:
    """After each step the best bound so far and the step's ends; `prices` are moved on."""
    case = terms.case
    bound, step, stale = -math.inf, 1.0, 0
    for _ in range(rounds):
        worth, fixed = _worth(terms, prices)
        ends = jumbo_ends(case.blocks, usable_m, worth, budget=budget)
        if ends is None:
            return
        # Each block's worth was rounded by up to half a unit of METRE a metre.
        slack = sum(b.sets * b.max_m for b in case.blocks) / METRE
        here = ends.cost / METRE + fixed - slack
        if here > bound + 0.5:
            stale = 0
        else:
            stale += 1
            step *= 0.7 if stale > 2 else 1.0
        bound = max(bound, here)
        yield bound, ends
        slopes = _gradient(terms, ends)
        size = sum(x * x for part in slopes for x in part)
        if bound >= loss_m - case.close_m or not size or step < 0.02:
            return
        # Where no plan is known, for want of paper, steps go by a hundredth of what there is.
        ahead = loss_m - here if math.isfinite(loss_m) else sum(usable_m) / 100
        _move(case, prices, slopes, step * max(1.0, ahead) / size)


def narrowed(case: Case, bold: float) -> tuple[LengthBlock, ...]:
    """Blocks with ranges narrowed so far that orders cannot break (`bold` 1), or hardly.

    An order that can give up s metres over all sets that serve it, of which the lengths of those
    sets could take r, lets each set have the share bold * s / r of its own range.
    """
    terms = _terms(case)
    longer, shorter = [1.0] * len(case.blocks), [1.0] * len(case.blocks)
    for o in range(len(case.rooms)):
        serving = [(b, gain) for b, row in enumerate(terms.gain) for at, gain, _ in row if at == o]
        for room, share, spread in (
            (terms.max_made[o], longer, [b.max_m - b.length_m for b in case.blocks]),
            (terms.min_made[o], shorter, [b.length_m - b.min_m for b in case.blocks]),
        ):
            reach = sum(gain * spread[b] * case.blocks[b].sets for b, gain in serving)
            if room is not None and reach > room:
                for b, _ in serving:
                    share[b] = min(share[b], room / reach)
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
        for block, less, more in zip(case.blocks, shorter, longer, strict=True)
    )


def cautious_worth(case: Case) -> tuple[MetreWorth, ...]:
    """What a metre on each block is worth where orders cannot be seen: the less for either way.

    A metre taken away is one that an order misses, a metre added one beyond what it asked.
    """
    if not case.gains:
        return (PLAIN,) * len(case.blocks)
    worth = []
    for row in case.gains:
        below = beyond = Fraction(0)
        for gain in row:
            room = case.rooms[gain.order]
            tied = room.ordered is not None
            below += gain.worth_per_m * (1 + room.under if tied else 1)
            beyond += gain.worth_per_m * (1 - room.over if tied else 1)
        unit = case.paper_per_m
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


def _sets_on(ends: Ends) -> SetsOnJumbos:
    return tuple(tuple(sorted(sets.items())) for sets in ends.sets)


def _first_prices(terms: _Terms) -> _Prices:
    slope = []
    for room, short in zip(terms.case.rooms, terms.short, strict=True):
        if room.ordered is None or not short:
            slope.append(1.0)
        else:
            slope.append(1 + float(room.under) if short > 0 else 1 - float(room.over))
    nothing = [0.0] * len(slope)
    return _Prices(slope=slope, most=list(nothing), least=list(nothing))


def _worth(terms: _Terms, prices: _Prices) -> tuple[list[MetreWorth], float]:
    """What a metre is worth on each block, and the part of the bound that no metre changes."""
    case, unit = terms.case, float(terms.case.paper_per_m)
    values: list[MetreWorth] = []
    fixed = 0.0
    for block, row in zip(case.blocks, terms.gain, strict=True):
        a_metre = sum(
            prices.slope[o] * worth + (prices.least[o] - prices.most[o]) * gain
            for o, gain, worth in row
        )
        value = round(a_metre * METRE)
        values.append(MetreWorth(below=value, beyond=value))
        fixed += value / METRE * block.sets * block.length_m
    for o, room in enumerate(case.rooms):
        fixed -= float(room.worth) / unit
        if room.ordered is not None:
            fixed -= (1 - prices.slope[o]) * terms.short[o]
        fixed -= prices.most[o] * (terms.max_made[o] or 0.0)
        fixed -= prices.least[o] * (terms.min_made[o] or 0.0)
    return values, fixed


def _gradient(terms: _Terms, ends: Ends) -> tuple[list[float], list[float], list[float]]:
    """How the bound rises with each price: slope, most, least."""
    case = terms.case
    more = [-block.sets * block.length_m for block in case.blocks]
    for metres in ends.metres:
        for b, wound in metres.items():
            more[b] += wound
    worth = [0.0] * len(case.rooms)
    gain = [0.0] * len(case.rooms)
    for b, row in enumerate(terms.gain):
        for o, made, value in row:
            worth[o] += value * more[b]
            gain[o] += made * more[b]
    slope = [
        terms.short[o] - worth[o] if room.ordered is not None else 0.0
        for o, room in enumerate(case.rooms)
    ]
    above = [0.0 if room is None else gain[o] - room for o, room in enumerate(terms.max_made)]
    below = [0.0 if room is None else -gain[o] - room for o, room in enumerate(terms.min_made)]
    return slope, above, below


def _move(
    case: Case, prices: _Prices, slopes: tuple[list[float], list[float], list[float]], step: float
) -> None:
    slope, above, below = slopes
    for o, room in enumerate(case.rooms):
        if room.ordered is not None:
            moved = prices.slope[o] + step * slope[o]
            prices.slope[o] = min(1 + float(room.under), max(1 - float(room.over), moved))
        prices.most[o] = max(0.0, prices.most[o] + step * above[o])
        prices.least[o] = max(0.0, prices.least[o] + step * below[o])


def best_metres(
    case: Case,
    usable_m: Sequence[int],
    sets_on: SetsOnJumbos,
    budget: Budget,
    *,
    work: float,
    seed: int,
) -> list[tuple[int, int]] | None:
    """(block, length) of every set, least loss for these ends; None where no lengths fit."""
    model = cp_model.CpModel()
    metres: dict[tuple[int, int], cp_model.IntVar] = {}
    last = len(sets_on) - 1
    for j, content in enumerate(sets_on):
        for b, many in content:
            block = case.blocks[b]
            low, high = many * block.min_m, many * block.max_m
            metres[b, j] = model.new_int_var(low, high, "")
            model.add_hint(metres[b, j], min(high, max(low, many * block.length_m)))
        wound = sum(metres[b, j] for b, _ in content)
        model.add(wound <= usable_m[j])
    program = _Metres(case, model, metres, dict(_many(sets_on)), last)
    program.keep_ranges()
    program.least_loss(usable_m)
    solver, status = run_cp_sat(model, budget, effort=work, seed=seed, gap=1000.0 * case.close_m)
    if status not in FOUND:
        return None
    return _lengths((b, program.many[b, j], solver.value(m)) for (b, j), m in metres.items())


def swift_metres(case: Case, usable_m: Sequence[int]) -> list[tuple[int, int]] | None:
    """The same by one program of jumbo ends, in ranges so narrow that orders cannot leave theirs.

    It takes some milliseconds, and looks at no budget.
    """
    if sum(block.sets for block in case.blocks) > _SWIFT:
        return None
    blocks = narrowed(case, 1.0) if case.gains else case.blocks
    ends = jumbo_ends(blocks, usable_m, cautious_worth(case))
    if ends is None:
        return None
    return _lengths(
        (b, sets[b], wound)
        for sets, metres in zip(ends.sets, ends.metres, strict=True)
        for b, wound in metres.items()
    )


def _lengths(wound: Iterable[tuple[int, int, int]]) -> list[tuple[int, int]]:
    """(block, length) of every set, from (block, sets, metres) jumbo by jumbo."""
    lengths: dict[int, list[int]] = {}
    for b, many, metres in wound:
        short, longer = divmod(metres, many)
        lengths.setdefault(b, []).extend(short + (place < longer) for place in range(many))
    return [(b, length) for b in sorted(lengths) for length in lengths[b]]


def _many(sets_on: SetsOnJumbos) -> Iterator[tuple[tuple[int, int], int]]:
    for j, content in enumerate(sets_on):
        for b, many in content:
            yield (b, j), many


@dataclass(slots=True)
class _Metres:
    """Metres of block b on jumbo j, with the sets on every jumbo fixed."""

    case: Case
    model: cp_model.CpModel
    metres: dict[tuple[int, int], cp_model.IntVar]
    many: dict[tuple[int, int], int]
    last: int

    def _more(self, b: int) -> cp_model.LinearExprT:
        """Metres on the sets of b beyond its class's length."""
        block = self.case.blocks[b]
        on = [metres for (at, _), metres in self.metres.items() if at == b]
        return sum(on) - block.length_m * block.sets

    def _changed(self, b: int) -> cp_model.LinearExprT:
        """No fewer than the sets of b that change."""
        changed = []
        for (at, j), metres in self.metres.items():
            if at == b:
                flag = self.model.new_bool_var("")
                many = self.many[at, j]
                as_is = self.case.blocks[b].length_m * many
                self.model.add(metres == as_is).only_enforce_if(~flag)
                changed.append(many * flag)
        return sum(changed)

    def keep_ranges(self) -> None:
        """Every order inside its range, or where it is already."""
        changed: dict[int, cp_model.LinearExprT] = {}
        for o, room in enumerate(self.case.rooms):
            terms = _gains_of(self.case, o)
            if not terms:
                continue
            for b, gain in terms:
                if gain.rounding and b not in changed:
                    changed[b] = self._changed(b)
            parts = [gain.gain_per_m for _, gain in terms] + [gain.rounding for _, gain in terms]
            scale = math.lcm(*(part.denominator for part in parts))
            more = sum(int(g.gain_per_m * scale) * self._more(b) for b, g in terms)
            loose = sum(int(g.rounding * scale) * changed[b] for b, g in terms if g.rounding)
            least = min(room.least, room.made) - room.made
            self.model.add(more - loose >= math.ceil(least * scale))
            if room.most is not None:
                most = max(room.most, room.made) - room.made
                self.model.add(more + loose <= math.floor(most * scale))

    def least_loss(self, usable_m: Sequence[int]) -> None:
        """Loss in thousandths of a metre's paper, and next to it a little for every metre off.

        Only the search needs it: what it finds is judged in exact fractions.
        """
        case, model = self.case, self.model
        off = []
        for (b, j), metres in self.metres.items():
            by = model.new_int_var(0, usable_m[j], "")
            away = metres - case.blocks[b].length_m * self.many[b, j]
            model.add(by >= away)
            model.add(by >= -away)
            off.append(by)
        wound = [m for (_, j), m in self.metres.items() if j == self.last or not case.gains]
        objective: cp_model.LinearExprT = sum(off)
        if not case.gains:  # then only butts count
            on_last = [m for (_, j), m in self.metres.items() if j == self.last]
            model.minimize(objective - 1000 * (sum(wound) - sum(on_last)))
            return
        objective = objective + 1000 * sum(wound)
        scale = Fraction(1000) / case.paper_per_m
        for o, room in enumerate(case.rooms):
            terms = [
                (b, round(gain.worth_per_m * scale))
                for b, row in enumerate(case.gains)
                for gain in row
                if gain.order == o
            ]
            more = sum(price * self._more(b) for b, price in terms)
            objective = objective - more
            if room.ordered is None or not terms:
                continue
            gap = round((room.worth - room.ordered) * scale)
            reach = abs(gap) + sum(
                abs(price) * case.blocks[b].sets * case.blocks[b].max_m for b, price in terms
            )
            for price, sign in ((room.under, -1), (room.over, 1)):
                if price:
                    pays = model.new_int_var(0, reach, "")
                    model.add(price.denominator * pays >= sign * price.numerator * (more + gap))
                    objective = objective + pays
        model.minimize(objective)


def _gains_of(case: Case, order: int) -> list[tuple[int, SetGain]]:
    return [
        (b, gain)
        for b, row in enumerate(case.gains)
        for gain in row
        if gain.order == order and gain.gain_per_m
    ]
