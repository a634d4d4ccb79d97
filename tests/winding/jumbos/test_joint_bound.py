"""The joint bound: hand-worked runs, and small runs counted out over both dimensions."""

from __future__ import annotations

from fractions import Fraction

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Order, Unit
from trimopt.budget import Budget
from trimopt.cutting import solve
from trimopt.making import PreparedRun, Run, piece_of, prepare
from trimopt.winding.jumbos.joint_bound import every_length, least_loss

MILL = sample_mill()
USABLE_M = (MILL.jumbo.usable_m,)


def made_ready(*orders: Order) -> PreparedRun:
    """A run of the sample mill's board."""
    run = Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=orders)
    return prepare(run, MILL)


ORDERS = (
    board_reel("A", min_diameter_mm=1100.0, quantity=Fraction(9)),
    board_reel(
        "B",
        width_mm=Fraction(655),
        min_diameter_mm=1000.0,
        max_diameter_mm=1150.0,
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
    wide, ends = every_length(making, MILL, USABLE_M)
    lengths = [length_m for _, length_m in ends]
    assert set(lengths) >= {option.min_m for option in making.options}
    assert set(lengths) >= {option.max_m for option in making.options}
    bound = solve(wide, budget=Budget(), gap=1.0).price_bound
    shares = (Fraction(1, 7), Fraction(1, 3), Fraction(5, 8), Fraction(9, 10))
    spans = sorted({(o.core_mm, o.min_m, o.max_m) for o in making.options})
    between = {
        (core, int(least + (greatest - least) * share))
        for core, least, greatest in spans
        for share in shares
    }
    listed = prepare(making.run, MILL, lengths=sorted(between))
    assert len(listed.classes) > len(making.classes)
    outcome = solve(listed.instance, budget=Budget(), gap=1.0)
    assert outcome.loss is not None
    assert bound <= outcome.price_bound <= outcome.loss


def test_a_set_between_two_ends_is_a_mixture_of_them() -> None:
    """Yield and worth of a reel at any length lie between two options of the bound's run."""
    making = made_ready(*ORDERS)
    wide, ends = every_length(making, MILL, USABLE_M)
    lengths = [length_m for _, length_m in ends]
    for place, order in enumerate(making.run.orders):
        mine = [o for o in making.options if o.order is order]
        option = mine[0]
        first, last = option.min_m, option.max_m
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


def test_the_bound_of_a_run_is_below_its_plan() -> None:
    """Loss of a plan is never below what is proven over every length."""
    making = made_ready(*ORDERS)
    outcome = solve(making.instance, budget=Budget(), gap=0.2)
    assert outcome.loss is not None
    bound = least_loss(making, MILL, USABLE_M)
    assert bound is not None
    assert bound <= outcome.loss
