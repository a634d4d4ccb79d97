"""Whole sets from the linear program over whole pieces, and exchanges that begin from them."""

from __future__ import annotations

import random
from dataclasses import dataclass

import pytest

from tests.bench.mill_like import KINDS, mill_like
from trimopt.budget import Budget
from trimopt.cutting import Instance, faults_of
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate
from trimopt.cutting.lp.convexified import Guide, convexified_guide
from trimopt.cutting.lp.master import Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.lp.tightening import tightened
from trimopt.cutting.model.cuts import Pattern, pattern_faults
from trimopt.cutting.search.local_search import LocalSearch
from trimopt.cutting.search.search_state import Search, paper_cost, tidy
from trimopt.cutting.search.single_order_patterns import single_order_patterns


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    instance: Instance
    search: Search
    guide: Guide
    patterns: list[Pattern]


@pytest.fixture(scope="module", params=["edge_strips", "mixed_exact", "reels_classes"])
def made(request: pytest.FixtureRequest) -> _Made:
    """A run, and what its linear program says."""
    kind = next(kind for kind in KINDS if kind.name == request.param)
    instance = mill_like(kind, 1)
    search = Search(instance=instance, budget=Budget())
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    closer, more = tightened(instance)
    master = Master(closer)
    for pattern in single_order_patterns(instance, pricers):
        if pattern is not None:
            master.add(pattern)
    point, _ = generate(master, pricers, search)
    guide = convexified_guide(search, (closer, more), pricers, point, master.patterns)
    return _Made(instance=instance, search=search, guide=guide, patterns=master.patterns)


def _paper(made: _Made) -> float:
    return sum(
        n * paper_cost(made.instance, tidy({pattern: 1})) for pattern, n in made.guide.parts.items()
    )


@pytest.mark.parametrize("share", [0.0, 1e-4, 1e-3])
def test_the_program_completes_whole_sets_to_the_loss_that_is_allowed(
    made: _Made, share: float
) -> None:
    """Allowed patterns, most of what the optimum winds, and other ones each time."""
    guide, more = made.guide, share * _paper(made)
    assert guide.hull is not None
    near = 1e-7 * _paper(made)
    several = set()
    for seed in range(8):
        sets = guide.whole_sets({}, more + near, random.Random(seed))
        assert sets is not None
        assert not any(pattern_faults(made.instance, pattern) for pattern in sets)
        assert min(sets.values()) > 0
        assert sum(sets.values()) > 0.5 * sum(guide.parts.values())
        guide.hull.hold(sets)
        assert guide.hull.loss <= guide.loss + more + near
        several.add(tuple(sorted(sets.items())))
    assert len(several) > 1 or share == 0.0
    guide.hull.hold({})
    assert guide.hull.loss == pytest.approx(guide.loss, abs=near)


def test_sets_that_are_kept_stay(made: _Made) -> None:
    """Some sets of each pattern of a plan are kept; far too many of one cannot be completed."""
    guide = made.guide
    kept = {pattern: -(-int(n) // 2) for pattern, n in guide.parts.items() if n >= 1}
    assert kept
    sets = guide.whole_sets(kept, 1e-3 * _paper(made), random.Random(0))
    assert sets is not None
    assert all(sets[pattern] >= n for pattern, n in kept.items())
    far = {next(iter(kept)): 100_000}
    assert guide.whole_sets(far, 1e-3 * _paper(made), random.Random(0)) is None


def test_an_exchange_gives_its_plan_and_what_that_loses(made: _Made) -> None:
    """The loss is that of the plan where it is whole, and more than that where it lacks a piece."""
    search = Search(instance=made.instance, budget=Budget())
    exchange = LocalSearch(search, made.patterns, 0)
    whole = 0
    for seed in range(6):
        sets = made.guide.whole_sets({}, 6e-4 * _paper(made), random.Random(seed))
        assert sets is not None
        loss, plan = exchange.run(120, sets)
        if faults_of(made.instance, tidy(plan)):
            assert loss > search.measure(plan)
        else:
            assert loss == pytest.approx(search.measure(plan), abs=1.0)
            assert search.loss is not None
            assert search.loss <= search.measure(plan)
            whole += 1
    assert whole
