"""Required ranges: units, tolerances, what is made already, and whole numbers."""

from __future__ import annotations

import math
from fractions import Fraction

from hypothesis import given, strategies as st

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Unit
from trimopt.check.check_formulas import need_of
from trimopt.making import required
from trimopt.making.required_ranges import ordered_area

ONE = Fraction(1)


def test_reels_are_counted_whole_inside_the_tolerance() -> None:
    """24 reels ±5 % is 22.8 to 25.2, so 23 to 25."""
    need = required(
        board_reel(quantity=Fraction(24), under=Fraction(5, 100), over=Fraction(5, 100)), ONE
    )
    assert (need.low, need.high, need.narrow) == (23, 25, False)


def test_what_is_made_already_comes_off_both_ends() -> None:
    """20,000 sheets ±5 % with 15,000 made leaves 4,000 to 6,000."""
    need = required(board_sheet(made=Fraction(15_000)), ONE)
    assert (need.low, need.high, int(need.ordered)) == (4_000, 6_000, 5_000)


@given(
    reams=st.integers(1, 400),
    a_ream=st.integers(50, 500),
    percent=st.integers(0, 20),
    made=st.integers(0, 3),
)
def test_an_order_in_reams_ends_on_whole_reams(
    reams: int, a_ream: int, percent: int, made: int
) -> None:
    """What may be delivered, made before and now, is whole reams at either end."""
    order = board_sheet(
        quantity=Fraction(reams * a_ream),
        under=Fraction(percent, 100),
        over=Fraction(percent, 100),
        made=Fraction(made * a_ream),
        sheets_a_ream=a_ream,
        in_reams=True,
    )
    need = required(order, ONE)
    assert (need.low % a_ream, need.high % a_ream) == (0, 0)
    assert not need.narrow
    if made <= reams * (1 - percent / 100):
        share = Fraction(percent, 100)
        assert need.low == a_ream * (math.ceil(reams * (1 - share)) - made)
        assert need.high == a_ream * (math.floor(reams * (1 + share)) - made)
    as_check = need_of(order, ONE)
    assert (as_check.low, as_check.high) == (need.low, need.high)
    assert (as_check.min_quantity, as_check.max_quantity) == (need.min_quantity, need.max_quantity)


def test_more_than_enough_made_leaves_nothing() -> None:
    """An order that is over already asks for nothing more and takes nothing more."""
    need = required(board_sheet(made=Fraction(30_000)), ONE)
    assert (need.low, need.high) == (0, 0)


def test_reels_by_mass_are_ranged_in_area() -> None:
    """10 t at 250 g/m² is 40,000 m²: 40,000,000 units of 1 mm x 1 m, 10 % either side."""
    order = board_reel(
        unit=Unit.KG, quantity=Fraction(10_000), under=Fraction(1, 10), over=Fraction(1, 10)
    )
    need = required(order, ONE)
    assert (need.low, need.high) == (36_000_000, 44_000_000)
    assert ordered_area(order, need, sample_mill(), ONE) == 40_000_000


def test_half_millimetres_double_the_units() -> None:
    """The same order in units of half a millimetre."""
    order = board_reel(unit=Unit.KG, quantity=Fraction(10_000))
    assert required(order, Fraction(1, 2)).low == 80_000_000


def test_sheets_by_mass_are_ranged_in_sheets() -> None:
    """A 700 x 1,000 sheet of 250 g/m² weighs 175 g: 1,750 kg is 10,000 sheets."""
    order = board_sheet(
        unit=Unit.KG, quantity=Fraction(1750), under=Fraction(0), over=Fraction(1, 100)
    )
    need = required(order, ONE)
    assert (need.low, need.high) == (10_000, 10_100)


def test_a_range_without_a_whole_number_is_called_narrow() -> None:
    """Half a reel more is no reel: the count above is what the plan takes."""
    need = required(board_reel(quantity=Fraction(3, 2)), ONE)
    assert (need.low, need.high, need.narrow) == (2, 2, True)


def test_ordered_reels_weigh_what_they_weigh_at_the_target_diameter() -> None:
    """Ten reels of 800 mm at 1,250 mm on a 180 mm core: 3,162 m each (the formula by hand)."""
    order = board_reel()
    assert ordered_area(order, required(order, ONE), sample_mill(), ONE) == 10 * 800 * 3162
