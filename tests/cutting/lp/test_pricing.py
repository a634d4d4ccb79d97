"""Pricing: the best pattern of many options of few widths."""

from __future__ import annotations

import random

import numpy as np

from tests.cutting.brute import all_patterns
from trimopt.cutting import Demand, Instance, Option, WindingClass
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.pricing import Pricer


def test_of_equal_widths_the_best_at_the_edge_and_the_best_within_make_the_best_pattern() -> None:
    """Five options of two widths, some kept off the edge, against every pattern."""
    for seed in range(25):
        draw = random.Random(seed)
        options = tuple(
            Option(
                demand=i,
                winding_class=0,
                width=draw.choice((34, 45)),
                gain=1,
                no_edge=i > 0 and draw.random() < 0.5,
            )
            for i in range(5)
        )
        instance = Instance(
            demands=tuple(Demand(low=1, high=9) for _ in options),
            classes=(WindingClass(cost=100, width=140, max_pieces=draw.randint(3, 6)),),
            options=options,
        )
        values = [draw.randint(1, 50) for _ in options]
        best = max(sum(values[k] * n for k, n in p.pieces) for p in all_patterns(instance))
        pricer = Pricer(instance, class_offers(instance)[0])
        found = pricer.price(np.array(values), cutoff=best - 1)
        assert found.patterns[0][0] == best
        assert pricer.price(np.array(values), cutoff=best).bound >= best
