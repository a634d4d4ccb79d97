"""Marginal loss of one more piece, against enumeration of every pattern."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
from hypothesis import given, strategies as st

from trimopt.cutting import Certificate, Demand, Instance, Option, Pattern, WindingClass
from trimopt.cutting.marginal_values import marginal_loss
from trimopt.cutting.model.cuts import pattern_faults
from trimopt.cutting.model.instance import SCALE


def _by_hand(instance: Instance, prices: Certificate, width: int) -> float:
    """Every pattern with one or more of the new piece, allowed by the rules themselves."""
    new = len(instance.options)
    wider = Instance(
        demands=(*instance.demands, Demand(low=0, high=None)),
        classes=instance.classes,
        options=(
            *instance.options,
            Option(demand=len(instance.demands), winding_class=0, width=width, gain=1),
        ),
    )
    limits = instance.classes[0]
    counts = [range(limits.width // option.width + 1) for option in wider.options]
    least = math.inf
    for ns in product(*counts):
        if ns[new] == 0 or sum(ns) > limits.max_pieces:
            continue
        pattern = Pattern(0, tuple((k, n) for k, n in enumerate(ns) if n))
        if pattern_faults(wider, pattern):
            continue
        value = sum(
            n * (prices.gain_price[o.demand] * o.gain + prices.worth_price[o.demand] * o.worth)
            for n, o in zip(ns, instance.options, strict=False)
        )
        least = min(least, (SCALE * limits.cost * prices.scale - value) / ns[new])
    return least / prices.scale


@given(
    widths=st.lists(st.integers(3, 12), min_size=1, max_size=3, unique=True),
    values=st.lists(st.integers(0, 6000), min_size=3, max_size=3),
    edges=st.lists(st.booleans(), min_size=3, max_size=3),
    stations=st.integers(1, 5),
    slack=st.none() | st.integers(0, 4),
    max_broke=st.none() | st.integers(4, 9),
)
def test_marginal_loss_equals_enumeration(
    widths: list[int],
    values: list[int],
    edges: list[bool],
    stations: int,
    slack: int | None,
    max_broke: int | None,
) -> None:
    """Every width, stations, broke reels and no-edge pieces: the least over all patterns."""
    instance = Instance(
        demands=tuple(Demand(low=1, high=None) for _ in widths),
        classes=(
            WindingClass(
                cost=10,
                width=24,
                max_pieces=stations,
                slack=slack,
                min_broke=2,
                max_broke=max_broke,
            ),
        ),
        options=tuple(
            Option(demand=i, winding_class=0, width=w, gain=1, no_edge=edges[i])
            for i, w in enumerate(widths)
        ),
    )
    prices = Certificate(
        scale=2, gain_price=tuple(values[: len(widths)]), worth_price=(0,) * len(widths)
    )
    found = marginal_loss(instance, prices, 0)
    expected = [_by_hand(instance, prices, width) for width in range(1, 25)]
    assert np.allclose(found, expected)
