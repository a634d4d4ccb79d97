"""Demands in whole pieces in the linear program: what it proves, and what it lists."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product
from math import ceil

import numpy as np
import pytest
from hypothesis import example, given, settings, strategies as st

from tests.bench.mill_like import KINDS, mill_like
from tests.cutting.brute import all_patterns, best_loss
from tests.properties.test_cutting_brute import FEATURES, small_run
from trimopt.budget import Budget
from trimopt.cutting import SCALE, Demand, Instance, Option, WindingClass, solve
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate
from trimopt.cutting.lp.convexified import Guide, convexified_guide
from trimopt.cutting.lp.convexified.convexified_bound import production_bound
from trimopt.cutting.lp.convexified.order_production import OrderProduction, production_of
from trimopt.cutting.lp.master import LPSolution, Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.lp.tightening import tightened
from trimopt.cutting.params import PARAMS
from trimopt.cutting.search.search_state import Search, paper_cost
from trimopt.cutting.search.single_order_patterns import single_order_patterns


def _loss(demand: Demand, made: int, worth: int) -> int:
    """The loss of one demand as the module of instances defines it, without sets."""
    assert demand.high is not None
    net = worth - demand.surplus_worth * max(0, made - demand.high)
    loss = -SCALE * net
    if demand.ordered is not None:
        loss += demand.under_price * max(0, demand.ordered - net)
        loss += demand.over_price * max(0, net - demand.ordered)
    return loss


@st.composite
def _demands(draw: st.DrawFn) -> Instance:
    """One demand, cheap beside its sets, so that no pattern is worth a set at its prices."""
    low = draw(st.integers(0, 20))
    some = draw(st.lists(st.tuples(st.integers(2, 7), st.integers(0, 9)), min_size=1, max_size=3))
    demand = Demand(
        low=low,
        high=low + draw(st.integers(0, 8)),
        ordered=draw(st.none() | st.integers(0, 60)),
        under_price=draw(st.integers(0, 300)),
        over_price=draw(st.integers(0, 300)),
        surplus_worth=max(-(-worth // gain) for gain, worth in some),
    )
    return Instance(
        demands=(demand,),
        classes=(WindingClass(cost=100_000, width=100, max_pieces=100),),
        options=tuple(
            Option(demand=0, winding_class=0, width=50, gain=gain, worth=worth)
            for gain, worth in some
        ),
    )


@settings(max_examples=200)
@given(
    _demands(),
    st.lists(st.integers(-3_000, 9_000), min_size=3, max_size=3),
    st.sampled_from(["counts", "sums", "table"]),
)
def test_no_whole_pieces_come_to_less(instance: Instance, prices: list[int], by: str) -> None:
    """The bound is the least over all counts of pieces, far beyond the range too."""
    demand, options = instance.demands[0], instance.options
    whole = production_of(demand, range(len(options)), options, PARAMS.convexified.max_ways)
    assert whole.by_counts
    price = np.array(prices[: len(options)], dtype=np.float64)
    least = [
        -(SCALE - (demand.over_price if demand.ordered is not None else 0))
        * (demand.surplus_worth * option.gain - option.worth)
        for option in options
    ]
    if by == "table":
        whole = _in_table(demand, options)
    if by == "sums":
        sums = {
            (
                sum(n * o.gain for n, o in zip(counts, options, strict=True)),
                sum(n * o.worth for n, o in zip(counts, options, strict=True)),
            )
            for counts in whole.ways.tolist()
        }
        ways = np.array(sorted(sums), dtype=np.int64)
        whole = OrderProduction(
            options=whole.options,
            by_counts=False,
            pieces=np.array([(o.gain, o.worth) for o in options], dtype=np.int64),
            ways=ways,
            loss=np.array([_loss(demand, *sum_) for sum_ in sorted(sums)], dtype=np.int64),
        )
        price = np.abs(price[[0, -1]])
        value = [price[0] * o.gain + price[1] * o.worth for o in options]
    else:
        value = [max(p, q) for p, q in zip(price.tolist(), least, strict=True)]
    found = []
    for counts in product(range(22), repeat=len(options)):
        pieces = list(zip(counts, options, strict=True))
        made = sum(n * o.gain for n, o in pieces)
        worth = sum(n * o.worth for n, o in pieces)
        assert demand.high is not None
        if demand.low <= made <= demand.high + 12:
            cost = sum(Fraction(v) * n for v, n in zip(value, counts, strict=True))
            found.append(cost + _loss(demand, made, worth))
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    bound, _, _ = production_bound(
        instance, pricers, [whole], [price], PARAMS.convexified.max_mixtures
    )
    assert bound == ceil(min(found))


def _in_table(demand: Demand, options: tuple[Option, ...]) -> OrderProduction:
    """A demand whose ways are not listed, with the table of all."""
    whole = production_of(demand, range(len(options)), options, 0)
    assert not whole.by_counts
    found = whole.in_table(demand, 10**7)
    assert found.table is not None
    assert found.by_counts
    return found


@settings(max_examples=60)
@given(
    _demands(),
    st.lists(st.integers(-3_000, 9_000), min_size=3, max_size=3),
    st.integers(0, 9_000),
)
def test_a_table_has_all_ways(instance: Instance, prices: list[int], span: int) -> None:
    """The cheapest, and all that cost little more, each with its loss, are those of the list."""
    demand, options = instance.demands[0], instance.options
    price = np.array(prices[: len(options)], dtype=np.float64)
    listed = production_of(demand, range(len(options)), options, PARAMS.convexified.max_ways)
    every = dict(zip(map(tuple, listed.ways.tolist()), listed.loss.tolist(), strict=True))
    cost = {way: loss + float(price @ np.array(way)) for way, loss in every.items()}
    least = min(cost.values())
    read = _in_table(demand, options).grown(price, 3)
    ways = [tuple(way) for way in read.ways.tolist()]
    assert len(set(ways)) == len(ways)
    assert read.loss.tolist() == [every[way] for way in ways]
    assert min(cost[way] for way in ways) == least
    wanted = {way for way, n in cost.items() if n <= least + span}
    near = read.near(price, span, len(wanted))
    assert near is not None
    assert dict(zip(map(tuple, near[0].tolist()), near[1].tolist(), strict=True)) == {
        way: every[way] for way in wanted
    }
    assert read.near(price, span, len(wanted) - 1) is None


def test_sheets_in_a_table_lose_no_more_than_they_do() -> None:
    """Worths rounded to whole numbers miss their share of the yield by a part in a million."""
    gains = [ups * gain for gain in (7_411, 9_203) for ups in (1, 2, 3)]
    options = tuple(
        Option(demand=0, winding_class=0, width=1, gain=gain, worth=gain * 705_617 // 1_000)
        for gain in gains
    )
    ordered = 400_000 * 705_617 // 1_000
    demand = Demand(
        low=380_000,
        high=420_000,
        ordered=ordered,
        under_price=100,
        over_price=100,
        surplus_worth=706,
    )
    price = np.array([gain * 690_000 for gain in gains], dtype=np.float64)
    read = _in_table(demand, options).grown(price, 6)
    assert len(read.ways) > 3
    for way, loss in zip(read.ways.tolist(), read.loss.tolist(), strict=True):
        made = sum(n * gain for n, gain in zip(way, gains, strict=True))
        worth = sum(n * option.worth for n, option in zip(way, options, strict=True))
        assert 380_000 <= made < 420_000 + max(gains)
        assert 0 <= _loss(demand, made, worth) - loss <= 1e-6 * SCALE * ordered


def guided(search: Search, pricers: list[Pricer]) -> tuple[Guide, LPSolution, int] | None:
    """What the program says of a run, the optimum it begins from, and what its losses lack.

    None where a demand lies in no pattern of its own.
    """
    instance = search.instance
    own = [p for p in single_order_patterns(instance, pricers) if p is not None]
    if {instance.options[k].demand for p in own for k, _ in p.pieces} != set(
        range(len(instance.demands))
    ):
        return None
    closer, more = tightened(instance)
    tight = Master(closer)
    for pattern in own:
        tight.add(pattern)
    point, _ = generate(tight, pricers, search)
    guide = convexified_guide(search, (closer, more), pricers, point, tight.patterns)
    return guide, point, more


@pytest.mark.parametrize("feature", [f for f in FEATURES if f not in {"plain", "open"}])
@settings(max_examples=12, derandomize=True)
@given(seed=st.integers(0, 10**6))
@example(seed=275_531)  # pieces that must ride with others are worth less than nothing
def test_no_plan_is_better_than_what_it_proves(feature: str, seed: int) -> None:
    """Small runs of every feature: no less than what the program over patterns comes to."""
    instance = small_run(seed, feature)
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    truth = best_loss(instance, max_sets=6)
    search = Search(instance=instance, budget=Budget())
    found = guided(search, pricers)
    if truth is None or found is None:
        return
    guide, point, more = found
    assert search.bound is not None
    assert search.bound <= truth
    sets = [SCALE * instance.classes[option.winding_class].cost for option in instance.options]
    # A piece that no pattern may hold, as all of them are barred, has no price.
    held = {k for pattern in all_patterns(instance) for k, _ in pattern.pieces}
    if len(held) == len(instance.options):
        assert search.bound >= point.loss + more - 1e-6 * max(sets)
    # No pattern of a best plan costs more beside its pieces than the plan loses beside the bound,
    # which is rounded up.
    if guide.bound is not None:
        plan = solve(instance, budget=Budget())
        assert plan.loss == truth
        for cut in plan.cuts:
            worth = sum(guide.values[k] * count for k, count in cut.pattern.pieces)
            cost = SCALE * instance.classes[cut.pattern.winding_class].cost
            assert cut.sets * (cost - worth) <= truth - guide.bound + 1 + 1e-6 * max(sets)


def test_the_optimum_of_the_last_round_is_read() -> None:
    """Where rounds end while columns are new, the program was solved with all of them."""
    few = replace(PARAMS, convexified=replace(PARAMS.convexified, max_rounds=2))
    instance = mill_like(next(kind for kind in KINDS if kind.name == "reels_half_mm"), 1)
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    search = Search(instance=instance, budget=Budget(), params=few)
    found = guided(search, pricers)
    assert found is not None
    assert found[0].hull is not None
    assert found[0].parts


@settings(max_examples=12, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_prices_too_high_are_made_safe(seed: int) -> None:
    """Pieces priced by their share of a set, or more: no plan beats what is proven."""
    instance = small_run(seed, "classes")
    truth = best_loss(instance, max_sets=6)
    if truth is None:
        return
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    wholes, prices = [], []
    for i, demand in enumerate(instance.demands):
        places = [k for k, option in enumerate(instance.options) if option.demand == i]
        some = [instance.options[k] for k in places]
        wholes.append(production_of(demand, places, some, PARAMS.convexified.max_ways))
        classes = [instance.classes[option.winding_class] for option in some]
        shares = [
            SCALE * limits.cost * option.width / limits.width
            for limits, option in zip(classes, some, strict=True)
        ]
        prices.append(np.array(shares) / 4)
    for factor in (1, 2, 3, 5, 8, 12):
        bound, proven, _ = production_bound(
            instance,
            pricers,
            wholes,
            [price * factor for price in prices],
            PARAMS.convexified.max_mixtures,
        )
        assert proven is not None
        assert bound <= truth


@settings(max_examples=60)
@given(st.lists(st.integers(2, 9), min_size=1, max_size=3), st.integers(0, 25), st.integers(0, 6))
def test_ways_are_all_that_give_what_is_required(gains: list[int], low: int, more: int) -> None:
    """Every way to make a demand without a piece too many, each with its loss."""
    demand = Demand(low=low, high=low + more, surplus_worth=3)
    options = [Option(demand=0, winding_class=0, width=1, gain=gain, worth=2) for gain in gains]
    whole = production_of(demand, range(len(gains)), options, PARAMS.convexified.max_ways)
    top = low + more + max(gains)
    every = {
        counts: _loss(
            demand, sum(n * g for n, g in zip(counts, gains, strict=True)), 2 * sum(counts)
        )
        for counts in product(*(range(top // gain + 1) for gain in gains))
        if low <= sum(n * gain for n, gain in zip(counts, gains, strict=True)) < top
    }
    ways = map(tuple, whole.ways.tolist())
    assert dict(zip(ways, whole.loss.tolist(), strict=True)) == every


def test_where_there_are_too_many_ways_sums_are_listed() -> None:
    """Ups of one sheet order in one class: thousands of ways to count, few sums."""
    demand = Demand(low=150, high=160, surplus_worth=10)
    options = [
        Option(demand=0, winding_class=0, width=ups, gain=ups, worth=10 * ups)
        for ups in range(1, 7)
    ]
    whole = production_of(demand, range(6), options, PARAMS.convexified.max_ways)
    assert not whole.by_counts
    assert whole.ways.tolist() == [[made, 10 * made] for made in range(150, 166)]
    assert whole.loss.tolist() == [_loss(demand, made, 10 * made) for made in range(150, 166)]


def test_sheets_of_one_class_come_close_to_their_bound() -> None:
    """The prices alone leave 0.07 % of paper open, which no whole pieces can bring in."""
    kind = next(kind for kind in KINDS if kind.name == "sheets")
    instance = mill_like(kind, 6)
    outcome = solve(instance, budget=Budget())
    assert outcome.loss is not None
    paper = paper_cost(instance, outcome.cuts)
    assert outcome.bound - outcome.price_bound > 5e-4 * paper
    assert outcome.loss - outcome.bound <= 5e-4 * paper
