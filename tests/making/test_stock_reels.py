"""Which reels of the stock sheet serve which orders: best by counting out every choice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from itertools import product

from hypothesis import given, settings, strategies as st

from trimopt.book import Order, Product, StockReel, Unit
from trimopt.making.stock_reels import meets, with_stock

ORDER = Order(
    number="A", customer="Wrenlow", grade="Board", grammage_gsm=250.0, product=Product.REEL,
    width_mm=Fraction(820), chop_mm=None, min_diameter_mm=1000.0, max_diameter_mm=1250.0,
    core_mm=152.0, quantity=Fraction(4), unit=Unit.REELS, under=Fraction(0), over=Fraction(0),
)  # fmt: skip
REEL = StockReel(
    name="S", grade="Board", grammage_gsm=250.0, width_mm=Fraction(820), diameter_mm=1200.0,
    length_m=3000, core_mm=152.0,
)  # fmt: skip


def _reels(draw: st.DrawFn) -> list[StockReel]:
    return [
        replace(
            REEL,
            name=f"S{place}",
            length_m=draw(st.sampled_from([2800, 2900, 3000, 3100])),
            diameter_mm=draw(st.sampled_from([999.4, 1100.0, 1250.5, 1251.0])),
            core_mm=draw(st.sampled_from([152.0, 152.0, 76.0])),
            joins=draw(st.sampled_from([0, 0, 1])),
            made_on=draw(st.sampled_from([None, date(2026, 1, 1), date(2026, 2, 1)])),
            reserved_for=draw(st.sampled_from(["", "", "a", "WRENLOW", "nobody"])),
        )
        for place in range(draw(st.integers(1, 5)))
    ]


def _orders(draw: st.DrawFn) -> list[Order]:
    orders = []
    for number in "AB"[: draw(st.integers(1, 2))]:
        unit = draw(st.sampled_from([Unit.REELS, Unit.KG, Unit.METRES]))
        most = {Unit.REELS: 4, Unit.KG: 2500, Unit.METRES: 12000}[unit]
        orders.append(
            replace(
                ORDER,
                number=number,
                customer=draw(st.sampled_from(["Wrenlow", "Kelvane"])),
                unit=unit,
                quantity=Fraction(draw(st.integers(1, most))),
                over=draw(st.sampled_from([Fraction(0), Fraction(1, 10)])),
                made=Fraction(draw(st.sampled_from([0, 1]))),
                core_mm=draw(st.sampled_from([152.0, None])),
                joins_allowed=draw(st.integers(0, 1)),
            )
        )
    return orders


@st.composite
def cases(draw: st.DrawFn) -> tuple[list[Order], list[StockReel]]:
    """Few orders of one width, few reels in stock."""
    return _orders(draw), _reels(draw)


def _every_choice(
    orders: list[Order], reels: list[StockReel]
) -> Iterator[list[tuple[Order, StockReel]]]:
    for chosen in product([None, *orders], repeat=len(reels)):
        pairs = [(order, reel) for order, reel in zip(chosen, reels, strict=True) if order]
        if all(meets(reel, order) for order, reel in pairs) and all(
            sum(reel.quantity(order.unit) for mine, reel in pairs if mine is order)
            <= max(Fraction(0), order.quantity * (1 + order.over) - order.made)
            for order in orders
        ):
            yield pairs


@settings(max_examples=150, deadline=None)
@given(cases())
def test_no_choice_saves_more_paper(case: tuple[list[Order], list[StockReel]]) -> None:
    """The picks are a choice that is allowed, and none saves more."""
    orders, reels = case
    served = with_stock(tuple(orders), tuple(reels))
    picked = [reel for order in served for reel in order.stock]
    assert len({reel.name for reel in picked}) == len(picked)
    metres = [sum(r.length_m for _, r in pairs) for pairs in _every_choice(orders, reels)]
    assert sum(reel.length_m for reel in picked) == max(metres)
    for order in served:
        assert all(meets(reel, order) for reel in order.stock)
        assert order.there <= max(order.made, order.quantity * (1 + order.over))


def test_of_equals_the_reserved_then_the_oldest_goes_first() -> None:
    """One is wanted of four alike; two are wanted, and the oldest joins the reserved one."""
    ages = {"new": date(2026, 9, 1), "old": date(2026, 1, 1), "none": None}
    reels = [replace(REEL, name=name, made_on=made_on) for name, made_on in ages.items()]
    reels.append(replace(REEL, name="mine", reserved_for="A"))
    for wanted, names in ((1, {"mine"}), (2, {"mine", "old"}), (3, {"mine", "old", "new"})):
        (order,) = with_stock((replace(ORDER, quantity=Fraction(wanted)),), tuple(reels))
        assert {reel.name for reel in order.stock} == names


def test_of_orders_alike_the_first_due_is_served() -> None:
    """The later one is made; sheets take no reel of stock."""
    later = replace(ORDER, number="B", quantity=Fraction(1), row=1)
    first = replace(ORDER, number="C", quantity=Fraction(1), row=2)
    sheet = replace(ORDER, number="D", product=Product.SHEET, chop_mm=Fraction(900))
    noon = datetime.fromisoformat("2026-12-01T12:00")
    orders = (replace(later, due=noon.replace(day=9)), replace(first, due=noon), sheet)
    served = with_stock(orders, (REEL,))
    assert [len(order.stock) for order in served] == [0, 1, 0]
