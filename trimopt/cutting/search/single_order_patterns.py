"""Patterns that hold one demand's pieces: with them any plan can be made whole."""

from __future__ import annotations

from collections.abc import Iterator
from operator import itemgetter

import numpy as np

from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern, is_allowed
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
