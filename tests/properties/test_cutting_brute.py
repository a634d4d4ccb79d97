"""Random small runs: the engine against plain enumeration, for every feature of the model."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings, strategies as st

from tests.bench.widths import fewest_sets
from tests.cutting.brute import all_patterns, best_loss, certified_bound
from trimopt.budget import Budget
from trimopt.cutting import (
    SCALE,
    Demand,
    Instance,
    Option,
    Status,
    WindingClass,
    faults_of,
    loss_of,
    solve,
)

FEATURES = (
    "plain",
    "classes",
    "ranges",
    "prices",
    "surplus",
    "slack",
    "no_edge",
    "apart",
    "together",
    "barred",
    "pieces",
    "open",
    "all",
)


def small_run(seed: int, feature: str) -> Instance:
    """Draw a run small enough to enumerate, with one feature, or with all of them."""
    rng = random.Random(f"{feature}{seed}")

    def has(name: str) -> bool:
        return feature in {name, "all"}

    count = rng.randint(2, 3)
    number = rng.randint(2, 3) if has("classes") else 1
    classes = []
    for _ in range(number):
        width = rng.randint(8, 14)
        slack = rng.randint(0, 3) if has("slack") else None
        classes.append(
            WindingClass(
                cost=width * rng.randint(1, 3) if number > 1 else width,
                width=width,
                max_pieces=rng.randint(2, 4) if has("pieces") else 9,
                slack=slack,
                min_broke=rng.randint(1, 3) if slack is not None else 0,
                max_broke=rng.randint(3, 5) if slack is not None else None,
            )
        )
    demands, options = [], []
    for i in range(count):
        width = rng.randint(3, 7)
        step = rng.randint(1, 3) if has("ranges") else 1
        some = [
            Option(
                demand=i,
                winding_class=c,
                width=width + rng.randint(0, 1 if has("classes") else 0),
                gain=step * rng.randint(1, 2 if has("ranges") else 1),
                worth=0 if feature == "plain" else width * rng.randint(1, 2 if number > 1 else 1),
                no_edge=has("no_edge") and rng.random() < 0.4,
            )
            for c in range(number)
            if c == 0 or rng.random() < 0.8
        ]
        options += some
        low = rng.randint(0, 3) * step
        high = low + (rng.randint(0, 2) if has("ranges") else 0)
        ratio = max(-(-o.worth // o.gain) for o in some)
        priced = has("prices")
        free = feature in {"plain", "open"}
        demands.append(
            Demand(
                low=low,
                high=None if free else high,
                ordered=rng.randint(0, high * ratio + 1) if priced else None,
                under_price=rng.choice((0, 100, 400)) if priced else 0,
                over_price=rng.choice((0, 100, 1000)) if priced else 0,
                surplus_worth=0 if free else ratio + (rng.randint(0, 1) if has("surplus") else 0),
            )
        )
    if feature == "open":
        # Worth below cost, so that making ever more never pays.
        options = [
            Option(
                demand=o.demand,
                winding_class=o.winding_class,
                width=o.width,
                gain=o.gain,
                worth=o.width,
            )
            for o in options
        ]
    instance = Instance(
        demands=tuple(demands),
        classes=tuple(classes),
        options=tuple(options),
        apart=((0, 1),) if has("apart") else (),
        together=((0, count - 1),) if has("together") and feature == "together" else (),
    )
    if has("barred"):
        patterns = all_patterns(instance)
        some_barred = rng.sample(patterns, min(2, len(patterns)))
        instance = Instance(
            demands=instance.demands,
            classes=instance.classes,
            options=instance.options,
            apart=instance.apart,
            together=instance.together,
            barred=tuple((p.winding_class, instance.widths_across(p.pieces)) for p in some_barred),
        )
    return instance


def check(instance: Instance) -> None:
    """Hold an outcome against enumeration."""
    outcome = solve(instance, budget=Budget())
    truth = best_loss(instance, max_sets=6)
    if outcome.status is Status.INFEASIBLE:
        assert truth is None
        return
    assert outcome.loss is not None
    assert not faults_of(instance, outcome.cuts)
    assert outcome.loss == loss_of(instance, outcome.cuts)
    assert outcome.bound <= outcome.loss
    assert outcome.price_bound <= outcome.bound
    if truth is not None:
        assert outcome.bound <= truth
        assert outcome.loss <= truth
        if outcome.status is Status.OPTIMAL:
            assert outcome.loss <= truth
    if outcome.certificate is not None:
        assert certified_bound(instance, outcome.certificate) == outcome.price_bound


@pytest.mark.parametrize("feature", FEATURES)
@settings(max_examples=12, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_equals_enumeration(feature: str, seed: int) -> None:
    """Small runs of every feature: no plan is better, no bound is above."""
    check(small_run(seed, feature))


@settings(max_examples=15, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_splitting_and_permuting_lines_changes_nothing(seed: int) -> None:
    """One order cut into two lines, and the lines in another order, need as many sets."""
    rng = random.Random(seed)
    width = rng.randint(20, 40)
    lines = [(rng.randint(3, 15), rng.randint(1, 9)) for _ in range(rng.randint(2, 6))]
    split = []
    for w, n in lines:
        part = rng.randint(0, n)
        split += [(w, part), (w, n - part)]
    rng.shuffle(split)
    assert sets_of(width, lines) == sets_of(width, split)


def sets_of(width: int, lines: list[tuple[int, int]]) -> int:
    """Fewest sets of the textbook form, proven."""
    outcome = solve(fewest_sets(width, lines), budget=Budget())
    assert outcome.status is Status.OPTIMAL
    assert outcome.loss is not None
    return outcome.loss // SCALE
