"""Independent parts and drawn-in ranges change no plan and no loss."""

from __future__ import annotations

from itertools import product

from hypothesis import given, strategies as st

from trimopt.budget import Budget
from trimopt.cutting import (
    SCALE,
    Cut,
    Demand,
    Instance,
    Option,
    Pattern,
    WindingClass,
    loss_of,
    solve,
)
from trimopt.cutting.decomposition import joined_cuts, own_cuts, parts_of
from trimopt.cutting.lp.bound_certificate import price_bound
from trimopt.cutting.lp.tightening import min_sum, tightened


@given(gains=st.lists(st.integers(2, 30), min_size=1, max_size=3), low=st.integers(1, 80))
def test_least_sum_equals_enumeration(gains: list[int], low: int) -> None:
    """The least total of whole pieces that reaches the range."""
    counts = [range(low // gain + 2) for gain in gains]
    totals = {sum(n * g for n, g in zip(ns, gains, strict=True)) for ns in product(*counts)}
    assert min_sum(gains, low) == min(total for total in totals if total >= low)


def _two_cores(apart: bool) -> Instance:
    """Two orders on one class, two on another, or all four on one."""
    other = 1 if apart else 0
    wanted = {"ordered": 90, "under_price": 100, "over_price": 100, "surplus_worth": 9}
    return Instance(
        demands=(
            Demand(low=9, high=11, **wanted),
            Demand(low=8, high=8, **wanted),
            Demand(low=13, high=14, **wanted),
            Demand(low=5, high=5, **wanted),
        ),
        classes=(
            WindingClass(cost=100, width=20, max_pieces=4, slack=6),
            WindingClass(cost=90, width=20, max_pieces=4, slack=6),
        ),
        options=(
            Option(demand=0, winding_class=0, width=6, gain=1, worth=9),
            Option(demand=1, winding_class=0, width=7, gain=2, worth=18),
            Option(demand=2, winding_class=other, width=9, gain=3, worth=24),
            Option(demand=3, winding_class=other, width=5, gain=4, worth=32),
        ),
    )


def test_orders_that_share_no_class_fall_apart() -> None:
    """Two cores make two parts, one core makes one; cuts find their way there and back."""
    assert len(parts_of(_two_cores(apart=False))) == 1
    whole = _two_cores(apart=True)
    parts = parts_of(whole)
    assert [part.demands for part in parts] == [(0, 1), (2, 3)]
    cuts = (Cut(Pattern(0, ((0, 2), (1, 1))), 3), Cut(Pattern(1, ((2, 1), (3, 2))), 2))
    back = [cut for part in parts for cut in joined_cuts(part, own_cuts(part, cuts))]
    assert tuple(sorted(back)) == cuts


def test_parts_add_up_to_the_whole() -> None:
    """Loss and bound are the sums over the parts, and the joined prices prove the price bound."""
    whole = _two_cores(apart=True)
    outcome = solve(whole, budget=Budget())
    apart = [solve(part.instance, budget=Budget()) for part in parts_of(whole)]
    assert outcome.loss == sum(answer.loss or 0 for answer in apart)
    assert outcome.loss == loss_of(whole, outcome.cuts)
    assert outcome.bound == sum(answer.bound for answer in apart)
    assert outcome.certificate is not None
    assert price_bound(whole, outcome.certificate) == outcome.price_bound <= outcome.bound


@given(
    gain=st.integers(2, 9),
    low=st.integers(1, 40),
    span=st.integers(0, 4),
    count=st.integers(0, 25),
)
def test_drawn_in_ranges_keep_every_loss(gain: int, low: int, span: int, count: int) -> None:
    """Any plan that meets the range loses as much before as after, the fixed part added."""
    instance = Instance(
        demands=(
            Demand(
                low=low,
                high=low + span,
                ordered=3 * low,
                under_price=100,
                over_price=200,
                surplus_worth=3,
            ),
        ),
        classes=(WindingClass(cost=50, width=10, max_pieces=1),),
        options=(Option(demand=0, winding_class=0, width=10, gain=gain, worth=3 * gain),),
    )
    closer, more = tightened(instance)
    cuts = (Cut(Pattern(0, ((0, 1),)), count),) if count else ()
    if count * gain >= low:
        assert count * gain >= closer.demands[0].low
        assert loss_of(instance, cuts) == loss_of(closer, cuts) + more
    assert more % SCALE == 0
