"""What a set would change, for plans and patterns at random, against the loss in whole numbers."""

from __future__ import annotations

import random
from math import isclose

import numpy as np
from hypothesis import given, settings, strategies as st

from tests.bench.mill_like import KINDS, Kind, mill_like
from trimopt.cutting import Instance, Pattern
from trimopt.cutting.model.cuts import yields_of
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.model.loss import demand_loss
from trimopt.cutting.search.pool_changes import PoolChanges


def _patterns(instance: Instance, rng: random.Random, number: int) -> list[Pattern]:
    """Any options of one class together; whether they fit is not asked here."""
    found = []
    for _ in range(number):
        c = rng.randrange(len(instance.classes))
        some = [k for k, option in enumerate(instance.options) if option.winding_class == c]
        if some:
            picked = sorted(rng.sample(some, rng.randint(1, min(6, len(some)))))
            found.append(Pattern(c, tuple((k, rng.randint(1, 3)) for k in picked)))
    return found


def _loss(
    instance: Instance, plan: dict[Pattern, int], short: list[float], lacking: float
) -> tuple[float, ...]:
    """Loss of a plan, and with it what is made of each demand: yields, then worths."""
    number = len(instance.demands)
    made, worth = [0] * number, [0] * number
    loss = 0.0
    for pattern, sets in plan.items():
        loss += sets * SCALE * instance.classes[pattern.winding_class].cost
        for i, (gain, back) in yields_of(instance, pattern).items():
            made[i] += sets * gain
            worth[i] += sets * back
    for i, demand in enumerate(instance.demands):
        loss += demand_loss(demand, made[i], worth[i]) + short[i] * max(0, demand.low - made[i])
        loss += lacking * (made[i] < demand.low)
    return (loss, *made, *worth)


@settings(max_examples=40)
@given(
    st.sampled_from(KINDS), st.integers(0, 500), st.integers(1, 4), st.integers(1, 3), st.booleans()
)
def test_changes_are_differences_of_whole_losses(
    kind: Kind, seed: int, sets: int, number: int, whole: bool
) -> None:
    instance, rng = mill_like(kind, seed), random.Random(seed)
    pool = _patterns(instance, rng, 30)
    changes = PoolChanges(instance, pool[:20], 0.0)
    changes.add(pool)
    changes.price_lacks(whole=whole)
    assert sorted(changes.patterns) == sorted(set(pool))
    dearest = max(each.cost for each in instance.classes) * SCALE
    gains = np.max(changes.made, axis=0)
    short = [dearest / 2 / max(1.0, gain) for gain in gains]
    lacking = dearest if whole else 0.0
    plans = [{p: rng.randint(1, 40) for p in rng.sample(pool, 8)} for _ in range(number)]
    before = [_loss(instance, plan, short, lacking) for plan in plans]
    figures = np.array([row[1:] for row in before], dtype=float)
    made, worth = np.split(figures, 2, axis=1)
    _, found = changes.of_sets(made, worth, sets)
    for plan, known, row in zip(plans, before, found, strict=True):
        for pattern, change in zip(changes.patterns, row, strict=True):
            grown = {**plan, pattern: plan.get(pattern, 0) + sets}
            after = _loss(instance, grown, short, lacking)
            assert isclose(change, after[0] - known[0], abs_tol=1e-9 * abs(known[0]))
