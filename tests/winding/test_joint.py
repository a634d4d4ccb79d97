"""The joint bound: hand-worked runs, and small runs counted out over both dimensions."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample import sample_mill
from trimopt.book.model import Order, Unit
from trimopt.cutting import SCALE, Demand, Instance, Limits, Option, WindingClass, solve
from trimopt.making import Making, Run, piece_of, prepare
from trimopt.winding.all_lengths import every_length
from trimopt.winding.fills import fair_charges
from trimopt.winding.joint import charged, joint_bound, listed_metres_bound

MILL = sample_mill()
USABLE_M = (MILL.jumbo.usable_m,)


def one_width(lengths: tuple[int, ...], low: int) -> Instance:
    """One order of full deckle by number, in classes of those lengths."""
    return Instance(
        demands=(Demand(low=low, high=None),),
        classes=tuple(WindingClass(cost=10 * m, width=10, most_pieces=5) for m in lengths),
        options=tuple(
            Option(demand=0, winding_class=k, width=10, gain=1) for k in range(len(lengths))
        ),
    )


def test_butts_are_in_the_bound() -> None:
    """Ten sets of 15,100 m on jumbos of 80,000: 155,500 m, where lengths alone add to 151,000."""
    instance = one_width((15_100,), 10)
    assert listed_metres_bound(instance, (15_100,), (80_000,), (10,)) == (2, 155_500)


def test_sets_that_fill_jumbos_together_are_charged_no_butt() -> None:
    """Two orders bound to 30 and 20 km: four and two sets fill two jumbos, and the bound is 160."""
    instance = Instance(
        demands=(Demand(low=4, high=None), Demand(low=2, high=None)),
        classes=(
            WindingClass(cost=1, width=10, most_pieces=5),
            WindingClass(cost=1, width=10, most_pieces=5),
        ),
        options=(
            Option(demand=0, winding_class=0, width=10, gain=1),
            Option(demand=1, winding_class=1, width=10, gain=1),
        ),
    )
    bound = listed_metres_bound(instance, (30_000, 20_000), (80_000,), (4, 2))
    assert bound == (2, 160_000)


def test_a_charged_run_prefers_lengths_that_fill_the_jumbo() -> None:
    """30,000 m a set leaves a butt of 20,000, so charged, 40,000 m a set is as good."""
    instance = one_width((30_000, 26_666), 12)
    fair = fair_charges((30_000, 26_666), (80_000,), (6, 6))
    costs = [c.cost for c in charged(instance, fair, 10).classes]
    assert costs[0] > 10 * 30_000
    assert costs[1] < costs[0]


@st.composite
def small_runs(draw: st.DrawFn) -> tuple[Instance, tuple[int, ...], int]:
    """Up to three classes and a jumbo length, up to six widths, a few of each."""
    lengths = tuple(draw(st.lists(st.integers(3, 8), min_size=1, max_size=3, unique=True)))
    widths = draw(st.lists(st.integers(3, 9), min_size=1, max_size=6))
    instance = Instance(
        demands=tuple(Demand(low=draw(st.integers(1, 2)), high=None) for _ in widths),
        classes=tuple(WindingClass(cost=m, width=12, most_pieces=3) for m in lengths),
        options=tuple(
            Option(demand=i, winding_class=k, width=width, gain=1)
            for k in range(len(lengths))
            for i, width in enumerate(widths)
            if k == 0 or draw(st.booleans())
        ),
    )
    return instance, lengths, draw(st.integers(8, 20))


def least_used(instance: Instance, lengths: tuple[int, ...], usable: int) -> int:
    """Least jumbo metres over every choice of patterns, classes, order and jumbo ends."""
    patterns = []
    for k in range(len(lengths)):
        mine = [o for o in instance.options if o.winding_class == k]
        for counts in product(range(4), repeat=len(mine)):
            made = [0] * len(instance.demands)
            width = 0
            for option, count in zip(mine, counts, strict=True):
                made[option.demand] += count
                width += option.width * count
            if 0 < sum(counts) <= 3 and width <= 12:
                patterns.append((lengths[k], tuple(made)))
    useful = {
        (m, made)
        for m, made in patterns
        if not any(
            n == m and other != made and all(a >= b for a, b in zip(other, made, strict=True))
            for n, other in patterns
        )
    }

    @cache
    def go(left: tuple[int, ...], room: int) -> int:
        if not any(left):
            return 0
        best = 10**9
        for m, made in useful:
            if not any(a and b for a, b in zip(left, made, strict=True)):
                continue
            after = tuple(max(0, a - b) for a, b in zip(left, made, strict=True))
            if m <= room:
                best = min(best, m + go(after, room - m))
            else:
                best = min(best, room + m + go(after, usable - m))
        return best

    # To lay a set where it fits is never worse than to end the jumbo before it.
    return go(tuple(d.low for d in instance.demands), usable)


@settings(max_examples=25, deadline=None)
@given(small_runs())
def test_no_plan_of_a_small_run_goes_below_the_bound(
    case: tuple[Instance, tuple[int, ...], int],
) -> None:
    """Counted out over both dimensions; and with one class the jumbos are right."""
    instance, lengths, usable = case
    used = least_used(instance, lengths, usable)
    bound = listed_metres_bound(instance, lengths, (usable,), [3.0] * len(lengths))
    assert bound is not None
    assert bound[1] <= used
    assert bound[0] <= -(-used // usable)


def made_ready(*orders: Order) -> Making:
    """A run of the sample mill's board."""
    run = Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=orders)
    return prepare(run, MILL)


ORDERS = (
    board_reel("A", diameter_least_mm=1100.0, quantity=Fraction(9)),
    board_reel(
        "B",
        width_mm=Fraction(655),
        diameter_least_mm=1000.0,
        diameter_greatest_mm=1150.0,
        quantity=Fraction(14_000),
        unit=Unit.KG,
        under=Fraction(5, 100),
        over=Fraction(5, 100),
    ),
    board_sheet("S"),
)


def test_the_ends_of_the_ranges_stand_for_every_length() -> None:
    """A run planned over any list of lengths in range never loses less than the bound."""
    making = made_ready(*ORDERS)
    wide, lengths = every_length(making, MILL, USABLE_M)
    assert set(lengths) >= {option.least_m for option in making.options}
    assert set(lengths) >= {option.greatest_m for option in making.options}
    bound = solve(wide, limits=Limits(seconds=None, gap=1.0)).price_bound
    shares = (Fraction(1, 7), Fraction(1, 3), Fraction(5, 8), Fraction(9, 10))
    spans = sorted({(o.core_mm, o.least_m, o.greatest_m) for o in making.options})
    between = {
        (core, int(least + (greatest - least) * share))
        for core, least, greatest in spans
        for share in shares
    }
    listed = prepare(making.run, MILL, lengths=sorted(between))
    assert len(listed.classes) > len(making.classes)
    outcome = solve(listed.instance, limits=Limits(seconds=None, gap=1.0))
    assert outcome.loss is not None
    assert bound <= outcome.price_bound <= outcome.loss


def test_a_set_between_two_ends_is_a_mixture_of_them() -> None:
    """Yield and worth of a reel at any length lie between two options of the bound's run."""
    making = made_ready(*ORDERS)
    wide, lengths = every_length(making, MILL, USABLE_M)
    for place, order in enumerate(making.run.orders):
        mine = [o for o in making.options if o.order is order]
        option = mine[0]
        first, last = option.least_m, option.greatest_m
        here = (first + last) // 2
        sheeter = next((s for s in MILL.sheeters if s.name == option.sheeter), None)
        piece = piece_of(
            order,
            width_mm=option.width_mm,
            ups=option.ups,
            sheeter=sheeter,
            length_m=here,
            unit_mm=making.unit_mm,
        )
        share = Fraction(here - first, last - first)
        width = int(option.width_mm / making.width_unit_mm)
        gains: dict[int, list[int]] = {first: [], last: []}
        for wide_option in wide.options:
            m = lengths[wide_option.winding_class]
            if wide_option.demand == place and wide_option.width == width and m in gains:
                gains[m].append(wide_option.gain)
        low = min(gains[first]) * (1 - share) + min(gains[last]) * share
        high = max(gains[first]) * (1 - share) + max(gains[last]) * share
        assert low <= piece.gain <= high


def test_all_bounds_of_a_run_are_below_its_plan() -> None:
    """Metres and loss of a plan, butts in it, are never below what is proven."""
    making = made_ready(*ORDERS)
    outcome = solve(making.instance, limits=Limits(seconds=None, gap=0.2))
    assert outcome.loss is not None
    sets = [0.0] * len(making.classes)
    for cut in outcome.cuts:
        sets[cut.pattern.winding_class] += cut.sets
    bound = joint_bound(making, MILL, USABLE_M, sets)
    wound = sum(making.classes[c.pattern.winding_class].length_m * c.sets for c in outcome.cuts)
    assert bound.listed_metres is not None
    assert bound.metres is not None
    assert bound.loss is not None
    assert bound.metres <= bound.listed_metres <= wound + sum(sets) * USABLE_M[0]
    assert bound.loss <= outcome.loss
    loss = outcome.loss + SCALE * bound.paper_per_m * 100
    least = bound.metres_for(wound + 100, loss)
    assert least is not None
    assert least <= wound + 100
    assert replace(bound, loss=None).metres_for(wound, loss) is None
