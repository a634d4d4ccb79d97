"""Patterns by metres: what is found keeps every range, and loses no less than the joint bound."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings, strategies as st

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Order, Unit
from trimopt.budget import Budget
from trimopt.making import Run, piece_of_way, prepare, ways
from trimopt.winding.jumbos.pattern_metres import pattern_metres

MILL = sample_mill()
USABLE_M = MILL.jumbo.usable_m


def _free_reel(number: str, width: int, kg: int) -> Order:
    return board_reel(
        number,
        width_mm=Fraction(width),
        min_diameter_mm=None,
        max_diameter_mm=None,
        quantity=Fraction(kg),
        unit=Unit.KG,
        under=Fraction(5, 100),
        over=Fraction(5, 100),
    )


_ORDERS = st.one_of(
    st.builds(
        lambda width, tonnes: _free_reel("", width, 1000 * tonnes),
        st.integers(400, 1800),
        st.integers(2, 40),
    ),
    st.builds(
        lambda width, chop, sheets: board_sheet(
            "", width_mm=Fraction(width), chop_mm=Fraction(chop), quantity=Fraction(sheets)
        ),
        st.integers(500, 1000),
        st.integers(500, 1200),
        st.integers(5_000, 60_000),
    ),
    st.builds(
        lambda width, reels: board_reel("", width_mm=Fraction(width), quantity=Fraction(reels)),
        st.integers(400, 1800),
        st.integers(1, 20),
    ),
)


@settings(max_examples=10, derandomize=True)
@given(st.lists(_ORDERS, min_size=1, max_size=6))
def test_every_order_is_in_its_range_at_whole_lengths(drawn: list[Order]) -> None:
    """Sets of the mean length, rounded down, make what each order needs; none too much by kg."""
    orders = tuple(replace(order, number=f"O{n}") for n, order in enumerate(drawn))
    run = Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=orders)
    making = prepare(run, MILL)
    found = pattern_metres(making, MILL, USABLE_M, budget=Budget())
    assert found
    made: Counter[int] = Counter()
    for pattern in found:
        assert pattern.sets * pattern.min_m <= pattern.metres + 1
        assert pattern.metres <= pattern.sets * pattern.max_m + 1
        length_m = min(pattern.max_m, max(pattern.min_m, pattern.metres // pattern.sets))
        used = sum(width * count for (_, width), count in pattern.pieces)
        assert used * making.width_unit_mm <= MILL.deckle_mm
        for (place, width), count in pattern.pieces:
            order = making.run.orders[place]
            way = next(
                w
                for w in ways(order, MILL, usable_m=USABLE_M)
                if w.core.inside_mm == pattern.core_mm
                and w.width_mm == width * making.width_unit_mm
            )
            assert way.span.holds(length_m)
            piece = piece_of_way(order, way, length_m=length_m, unit_mm=making.unit_mm)
            made[place] += count * pattern.sets * piece.gain
    for place, demand in enumerate(making.instance.demands):
        assert made[place] >= demand.low


def test_widths_that_fill_the_deckle_are_wound_together() -> None:
    """One of a third of the deckle and more, two of the rest; tonnes are in that relation."""
    deckle = int(MILL.deckle_mm)
    b = deckle // 3 - 20
    a = deckle - 2 * b
    orders = (_free_reel("A", a, 10 * a), _free_reel("B", b, 20 * b))
    run = Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=orders)
    (found,) = pattern_metres(prepare(run, MILL), MILL, USABLE_M, budget=Budget())
    assert [count for _, count in found.pieces] == [1, 2]
    assert 0.95 * 10 * a <= found.metres * a * 250 / 1e6 <= 1.05 * 10 * a


def test_an_odd_reel_of_a_few_orders_lies_beside_another_order() -> None:
    """Nine reels, two in a set: the ninth beside a reel of the other order, not alone twice.

    Prices alone never ask for that set: they make four sets and a half.
    """
    by_kg = {"unit": Unit.KG, "under": Fraction(5, 100), "over": Fraction(5, 100)}
    orders = (
        board_reel(
            "A", width_mm=Fraction(1150), max_diameter_mm=1300.0, quantity=Fraction(21_240), **by_kg
        ),
        board_reel(
            "C",
            width_mm=Fraction(1328),
            min_diameter_mm=1300.0,
            max_diameter_mm=1300.0,
            quantity=Fraction(10_620),
            **by_kg,
        ),
    )
    run = Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=orders)
    found = pattern_metres(prepare(run, MILL), MILL, USABLE_M, budget=Budget())
    both = [each for each in found if len(each.pieces) == 2]
    assert [each.sets for each in both] == [1]
    assert sum(each.sets * dict(each.pieces).get((1, 664), 0) for each in found) == 9
