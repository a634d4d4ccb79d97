"""Where a search begins: patterns of one order, and plans made whole with them.

A plan may be one for other rules, or for a run that has changed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from operator import itemgetter

import numpy as np

from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Cut, Pattern, is_allowed, loss_of, yields_of
from trimopt.cutting.model.instance import Instance


def single_order_patterns(instance: Instance, pricers: list[Pricer]) -> list[Pattern | None]:
    """Return the own pattern of every demand; None where no allowed pattern holds a piece of it."""
    return [single_order_pattern(instance, pricers, i) for i in range(len(instance.demands))]


def is_held(instance: Instance, pricers: list[Pricer], i: int) -> bool:
    """Whether an allowed pattern holds a piece of a demand."""
    return any(True for _ in _alone(instance, pricers, i)) or any(
        i in pricer.reachable and (not pricer.tied or _beside(instance, pricer, i) is not None)
        for pricer in pricers
    )


def single_order_pattern(instance: Instance, pricers: list[Pricer], i: int) -> Pattern | None:
    """Return an allowed pattern that holds pieces of one demand and gives much for its cost."""
    alone = max(_alone(instance, pricers, i), key=itemgetter(0), default=None)
    if alone is not None:
        return alone[1]
    holding = (_beside(instance, pricer, i) for pricer in pricers if i in pricer.reachable)
    return next((pattern for pattern in holding if pattern is not None), None)


def _alone(instance: Instance, pricers: list[Pricer], i: int) -> Iterator[tuple[float, Pattern]]:
    """Allowed patterns of one option with as many pieces as may be, and their yield by cost."""
    for pricer in pricers:
        offer = pricer.offer
        for j in np.flatnonzero(offer.demand == i):
            for count in range(int(offer.max_counts[j]), 0, -1):
                pattern = pricer.pattern(((int(j), count),))
                if is_allowed(instance, pattern):
                    yield count * int(offer.gains[j]) / max(1, offer.cost), pattern
                    break


def _beside(instance: Instance, pricer: Pricer, i: int) -> Pattern | None:
    """An allowed pattern of one class with as many pieces of a demand as may be."""
    values = np.where(pricer.offer.demand == i, 1, 0).astype(np.int64)
    for _, pieces in pricer.price(values, cutoff=0).patterns:
        # Where nothing is allowed, the dearest pattern is the one that holds nothing.
        pattern = pricer.pattern(pieces)
        if any(instance.options[k].demand == i for k, _ in pattern.pieces):
            return pattern
    return None


def sets_for(instance: Instance, i: int, pattern: Pattern) -> int:
    """Sets of a pattern that alone make the least that a demand wants."""
    return -(-instance.demands[i].low // yields_of(instance, pattern)[i][0])


def completed(
    instance: Instance, cuts: Sequence[Cut], own: Sequence[Pattern | None]
) -> dict[Pattern, int]:
    """Sets by pattern that meet every demand.

    What breaks a rule is left out, what is short is added by patterns of one order, and sets that
    are not needed go while the loss falls.

    Parameters
    ----------
    cuts
        A plan, or a part of one; none is good too.
    own
        For each demand an allowed pattern that holds it, where there is one.
    """
    sets: dict[Pattern, int] = {}
    made = [0] * len(instance.demands)

    def add(pattern: Pattern, count: int) -> None:
        sets[pattern] = sets.get(pattern, 0) + count
        for i, (gain, _) in yields_of(instance, pattern).items():
            made[i] += gain * count

    for cut in cuts:
        if cut.sets > 0 and is_allowed(instance, cut.pattern):
            add(cut.pattern, cut.sets)
    for i, pattern in enumerate(own):
        short = instance.demands[i].low - made[i]
        if pattern is not None and short > 0:
            add(pattern, -(-short // yields_of(instance, pattern)[i][0]))
    return _thinned(instance, sets, made)


def _thinned(instance: Instance, sets: dict[Pattern, int], made: list[int]) -> dict[Pattern, int]:
    """The sets without those that only add to the loss, patterns of few sets first."""

    def loss() -> int:
        return loss_of(instance, tuple(Cut(pattern, n) for pattern, n in sets.items() if n))

    least = loss()
    for pattern in sorted(sets, key=lambda each: (sets[each], each)):
        yields = yields_of(instance, pattern)
        while sets[pattern] and all(
            made[i] - gain >= instance.demands[i].low for i, (gain, _) in yields.items()
        ):
            sets[pattern] -= 1
            fewer = loss()
            if fewer >= least:
                sets[pattern] += 1
                break
            least = fewer
            for i, (gain, _) in yields.items():
                made[i] -= gain
    return {pattern: n for pattern, n in sets.items() if n}
