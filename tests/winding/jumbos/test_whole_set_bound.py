"""Whole sets of any length: small parts against every length counted out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings, strategies as st

from tests.cutting.brute import best_loss
from tests.making.orders import board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Order, Unit
from trimopt.budget import Budget
from trimopt.cutting import (
    SCALE,
    Certificate,
    Demand,
    Instance,
    Option,
    WindingClass,
    loss_of,
    solve,
)
from trimopt.cutting.decomposition import parts_of
from trimopt.cutting.lp.bound_certificate import surplus_pays
from trimopt.making import Run, prepare
from trimopt.winding.jumbos.joint_bound import cores_apart, every_length, least_loss
from trimopt.winding.jumbos.whole_set_bound import whole_sets_bound

MILL = sample_mill()
USABLE_M = (MILL.jumbo.usable_m,)


def over_lengths(
    orders: list[tuple[int, int, int, bool, int]], lengths: list[int], spread: int
) -> Instance:
    """Orders (width, shortest, longest, by mass or by reels, reels) on a deckle of 12.

    Ranges and surplus are those of the lengths allowed, whichever lengths are listed.
    """
    demands, options = [], []
    for i, (width, shortest, longest, by_mass, reels) in enumerate(orders):
        unit = width * longest if by_mass else 1
        demands.append(
            Demand(
                low=reels * unit - (spread if by_mass else 0),
                high=reels * unit + (spread if by_mass else 0),
                ordered=reels * width * longest,
                under_price=100,
                over_price=100,
                surplus_worth=1 if by_mass else width * longest,
            )
        )
        options += [
            Option(
                demand=i,
                winding_class=c,
                width=width,
                gain=width * length if by_mass else 1,
                worth=width * length,
            )
            for c, length in enumerate(lengths)
            if shortest <= length <= longest
        ]
    return Instance(
        demands=tuple(demands),
        classes=tuple(WindingClass(cost=13 * m, width=12, max_pieces=4) for m in lengths),
        options=tuple(options),
    )


def bounds(
    orders: list[tuple[int, int, int, bool, int]], spread: int
) -> tuple[int | None, int, int | None]:
    """What whole sets and what prices prove over the ends, and the least at all lengths."""
    ends = sorted({length for _, short, long, _, _ in orders for length in (short, long)})
    wide = over_lengths(orders, ends, spread)
    outcome = solve(wide, budget=Budget(), gap=1.0)
    every = over_lengths(orders, list(range(ends[0], ends[-1] + 1)), spread)
    return (
        whole_sets_bound(wide, ends, outcome, Budget()),
        outcome.price_bound,
        best_loss(every, max_sets=3),
    )


@pytest.mark.parametrize(("reels", "metres", "priced_m"), [(13, 16, 13), (17, 17, 17)])
def test_whole_sets_of_any_length_by_hand(reels: int, metres: int, priced_m: int) -> None:
    """Reels of 5, two in a set of 8 to 10 m: a set makes 80 to 100, two make 160 to 200.

    So 130 take two sets of the shortest length, where prices make 1.3 sets of the longest; 170 are
    made of 17 m, a length between with one of the ends, or two, which prices know too.
    """
    orders = [(5, 8, 10, True, 1)]
    ends = [8, 10]
    wanted = Demand(low=10 * reels, high=10 * reels, surplus_worth=1)
    wide, every = (
        replace(over_lengths(orders, lengths, 0), demands=(wanted,))
        for lengths in (ends, [8, 9, 10])
    )
    outcome = solve(wide, budget=Budget(), gap=1.0)
    assert outcome.price_bound == SCALE * (13 * priced_m - 10 * reels)
    least = best_loss(every, max_sets=4)
    assert (
        least
        == whole_sets_bound(wide, ends, outcome, Budget())
        == SCALE * (13 * metres - 10 * reels)
    )


one_order = st.tuples(
    st.integers(3, 6), st.integers(3, 5), st.integers(0, 3), st.booleans(), st.integers(1, 3)
).map(lambda drawn: (drawn[0], drawn[1], drawn[1] + drawn[2], drawn[3], drawn[4]))


@settings(max_examples=60, derandomize=True)
@given(orders=st.lists(one_order, min_size=1, max_size=2), spread=st.integers(0, 4))
def test_no_plan_of_any_lengths_is_below_the_bound(
    orders: list[tuple[int, int, int, bool, int]], spread: int
) -> None:
    """Every pattern at every whole length, three sets at most, counted out."""
    proven, priced, least = bounds(orders, spread)
    assume(proven is not None and least is not None)
    assert proven is not None
    assert least is not None
    assert priced <= proven <= least


def made_ready(*orders: Order) -> Run:
    """A run of the sample mill's board."""
    return Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=orders)


def on_other_core(quantity: int) -> Order:
    """Reels of 1,700 mm by mass on 76 mm cores: two lie in a set."""
    return board_reel(
        "C", width_mm=Fraction(1700), core_mm=76.0, quantity=Fraction(quantity), unit=Unit.KG,
        under=Fraction(3, 100), over=Fraction(3, 100),
    )  # fmt: skip


@pytest.mark.parametrize(("joined", "more_m"), [(False, 1_000), (True, 500)])
def test_a_small_part_of_a_run_raises_its_joint_bound(joined: bool, more_m: int) -> None:
    """Five reels, two in a set, take three sets; a plan over many lengths loses no less.

    A third of a set is 1,000 m. Also where a reel that may be on either core joins them to the
    rest of the run.
    """
    free = board_reel("F", width_mm=Fraction(1000), core_mm=None, quantity=Fraction(1))
    run = made_ready(board_sheet("S"), on_other_core(6_500), *[free] * joined)
    making = prepare(run, MILL)
    wide, _ = every_length(making, MILL, USABLE_M)
    assert len(parts_of(wide)) == 2 - joined
    priced = solve(wide, budget=Budget(), gap=1.0).price_bound
    proven = least_loss(making, MILL, USABLE_M)
    spans = {(o.core_mm, o.min_m, o.max_m) for o in making.options}
    between = {
        (core, short + (long - short) * k // 3) for core, short, long in spans for k in range(4)
    }
    dense = prepare(run, MILL, lengths=sorted(between))
    outcome = solve(dense.instance, budget=Budget())
    assert outcome.loss == loss_of(dense.instance, outcome.cuts)
    assert proven is not None
    assert outcome.loss is not None
    paper_per_m = SCALE * MILL.jumbo.width_mm / making.unit_mm
    assert proven - priced > more_m * paper_per_m
    assert proven <= outcome.loss


on_cores = st.sampled_from([(0,), (1,), (0, 1)])


@settings(max_examples=60, derandomize=True)
@given(
    orders=st.lists(st.tuples(one_order, on_cores), min_size=1, max_size=3),
    spread=st.integers(0, 4),
    more=st.integers(0, 2),
)
def test_no_plan_loses_less_than_with_the_cores_apart(
    orders: list[tuple[tuple[int, int, int, bool, int], tuple[int, ...]]], spread: int, more: int
) -> None:
    """A class on each of two cores; every plan of three sets at most, counted out."""
    both = over_lengths([order for order, _ in orders], [4, 5], spread)
    options = tuple(
        option for option in both.options if option.winding_class in orders[option.demand][1]
    )
    demands = tuple(replace(d, surplus_worth=d.surplus_worth + more) for d in both.demands)
    run = replace(both, demands=demands, options=options)
    apart, of_order = cores_apart(run, [0.0, 1.0])
    assert {of_order[option.demand] for option in apart.options} == {o.demand for o in options}
    assert len(parts_of(apart)) >= len({option.winding_class for option in options})
    least, relaxed = best_loss(run, max_sets=3), best_loss(apart, max_sets=3)
    if least is not None:
        assert relaxed is not None
        assert relaxed <= least


def test_a_part_with_sheets_gets_what_prices_prove() -> None:
    """Chops are rounded down, which is no straight line in the length."""
    making = prepare(made_ready(board_sheet("S")), MILL)
    wide, _ = every_length(making, MILL, USABLE_M)
    outcome = solve(wide, budget=Budget(), gap=1.0)
    assert least_loss(making, MILL, USABLE_M) == outcome.price_bound


@pytest.mark.parametrize(("gain", "pays"), [(-1, True), (0, False)])
def test_prices_at_which_making_too_much_pays_are_known(gain: int, pays: bool) -> None:
    """A reel beyond the range takes back what it brought: at any price below 0 it would pay."""
    run = over_lengths([(5, 4, 4, True, 2)], [4], 0)
    prices = Certificate(scale=1, gain_price=(gain * SCALE,), worth_price=(0,))
    assert surplus_pays(run, prices) is pays
    min_back = replace(run, demands=(replace(run.demands[0], surplus_worth=0),))
    assert surplus_pays(min_back, replace(prices, gain_price=(0,)))
