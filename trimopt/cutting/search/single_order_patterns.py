"""Patterns that hold one demand's pieces: with them any plan can be made whole."""

from __future__ import annotations

import numpy as np

from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.outcome import Pattern, pattern_faults

__all__ = ["own_pattern", "own_patterns"]


def own_patterns(instance: Instance, pricers: list[Pricer]) -> list[Pattern | None]:
    """Give the own pattern of every demand; None where no allowed pattern holds a piece of it."""
    return [own_pattern(instance, pricers, i) for i in range(len(instance.demands))]


def own_pattern(instance: Instance, pricers: list[Pricer], i: int) -> Pattern | None:
    """Give an allowed pattern that holds pieces of one demand and gives much for its cost."""
    best: tuple[float, Pattern] | None = None
    for pricer in pricers:
        offer = pricer.offer
        for j in np.flatnonzero(offer.demand == i):
            for count in range(int(offer.most[j]), 0, -1):
                pattern = pricer.pattern(((int(j), count),))
                if not pattern_faults(instance, pattern):
                    worth = count * int(offer.gains[j]) / max(1, offer.cost)
                    if best is None or worth > best[0]:
                        best = (worth, pattern)
                    break
    if best is not None:
        return best[1]
    for pricer in pricers:
        values = np.where(pricer.offer.demand == i, 1, 0).astype(np.int64)
        if values.any():
            priced = pricer.price(values, enough=0)
            for _, pieces in priced.patterns:
                # Where nothing is allowed, the dearest pattern is the one that holds nothing.
                pattern = pricer.pattern(pieces)
                if any(instance.options[k].demand == i for k, _ in pattern.pieces):
                    return pattern
    return None
