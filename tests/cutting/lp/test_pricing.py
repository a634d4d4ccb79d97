"""Pricing: the best pattern of many options of few widths, and work counted as it is done."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest

from tests.cutting.brute import all_patterns
from trimopt.cutting import Demand, Instance, Option, WindingClass
from trimopt.cutting.lp import pricing
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.knapsack_tables import Ints, fill_pieces


def test_every_layer_of_a_table_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """A dear piece that keeps off the edge asks for the table that knows of edges."""
    filled: list[int] = []

    def counted(widths: Ints, *tables: Any, **more: Any) -> Any:
        table = fill_pieces(widths, *tables, **more)
        filled.append(table.best.size * len(widths))
        return table

    monkeypatch.setattr(pricing, "fill_pieces", counted)
    instance = Instance(
        demands=tuple(Demand(low=9, high=9) for _ in range(2)),
        classes=(WindingClass(cost=100, width=110, max_pieces=5),),
        options=(
            Option(demand=0, winding_class=0, width=60, gain=1, no_edge=True),
            Option(demand=1, winding_class=0, width=41, gain=1),
        ),
    )
    pricer = pricing.Pricer(instance, class_offers(instance)[0])
    found = pricer.price(np.array([100, 2]), cutoff=50)
    assert not found.patterns  # two narrow ones beside it are too wide
    assert len(filled) == 2
    assert found.work >= 3 * sum(filled)


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
        pricer = pricing.Pricer(instance, class_offers(instance)[0])
        found = pricer.price(np.array(values), cutoff=best - 1)
        assert found.patterns[0][0] == best
        assert pricer.price(np.array(values), cutoff=best).bound >= best
