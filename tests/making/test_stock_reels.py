"""Which reels of the stock sheet serve which orders: best by counting out every choice."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings, strategies as st

from trimopt.book import Order, Product, StockReel, Unit
from trimopt.making.stock_reels import serving, with_stock, with_stock_left
from trimopt.mill.model import Sheeter

ORDER = Order(
    number="A", customer="Wrenlow", grade="Board", grammage_gsm=250.0, product=Product.REEL,
    width_mm=Fraction(820), chop_mm=None, min_diameter_mm=1000.0, max_diameter_mm=1250.0,
    core_mm=152.0, quantity=Fraction(4), unit=Unit.REELS, under=Fraction(0), over=Fraction(0),
)  # fmt: skip
SHEETS = replace(
    ORDER, number="S", product=Product.SHEET, width_mm=Fraction(400), chop_mm=Fraction(900),
    min_diameter_mm=None, max_diameter_mm=None, core_mm=None, quantity=Fraction(10_000),
    unit=Unit.SHEETS,
)  # fmt: skip
REEL = StockReel(
    name="S", grade="Board", grammage_gsm=250.0, width_mm=Fraction(820), diameter_mm=1200.0,
    length_m=3000, core_mm=152.0,
)  # fmt: skip
SHEETER = Sheeter(
    name="Sheeter 1", max_web_mm=Fraction(1400), max_ups=3, trim_per_side_mm=Fraction(10),
    min_chop_mm=Fraction(500), max_chop_mm=Fraction(1000), max_reel_diameter_mm=1250.0,
    core_inside_mm=152.0, waste_share=0.01, speed_m_min=200.0, load_change_min=10.0,
)  # fmt: skip
OTHER = replace(SHEETER, name="Sheeter 2", core_inside_mm=76.0, max_web_mm=Fraction(900))
SHEETERS = (SHEETER, OTHER)
_DAYS = [date(2026, month, 1) for month in (1, 2, 3)]


def _reels(draw: st.DrawFn) -> list[StockReel]:
    return [
        replace(
            REEL,
            name=f"S{place}",
            width_mm=draw(st.sampled_from([Fraction(820), Fraction(820), Fraction(1230)])),
            length_m=draw(st.sampled_from([2000, 2800, 2900, 3000, 4000])),
            diameter_mm=draw(st.sampled_from([999.4, 1100.0, 1250.5, 1251.0])),
            core_mm=draw(st.sampled_from([152.0, 152.0, 76.0])),
            joins=draw(st.sampled_from([0, 0, 1])),
            made_on=draw(st.sampled_from([None, *_DAYS])),
            reserved_for=draw(st.sampled_from(["", "", "", "a", "WRENLOW", "nobody"])),
        )
        for place in range(draw(st.integers(1, 5)))
    ]


def _orders(draw: st.DrawFn) -> list[Order]:
    orders = []
    for number in "ABC"[: draw(st.integers(1, 3))]:
        sheets = draw(st.booleans())
        unit = draw(
            st.sampled_from(
                [Unit.SHEETS, Unit.KG] if sheets else [Unit.REELS, Unit.KG, Unit.METRES]
            )
        )
        most = {Unit.REELS: 4, Unit.KG: 2500, Unit.METRES: 12000, Unit.SHEETS: 20000}[unit]
        orders.append(
            replace(
                SHEETS if sheets else ORDER,
                number=number,
                customer=draw(st.sampled_from(["Wrenlow", "Kelvane"])),
                unit=unit,
                quantity=Fraction(draw(st.integers(1, most))),
                over=draw(st.sampled_from([Fraction(0), Fraction(1, 10)])),
                made=Fraction(draw(st.sampled_from([0, 1]))),
                core_mm=draw(st.sampled_from([152.0, None])),
                joins_allowed=draw(st.integers(0, 1)),
                sheets_a_ream=500 if unit is Unit.SHEETS else None,
                in_reams=unit is Unit.SHEETS and draw(st.booleans()),
            )
        )
    return orders


@st.composite
def cases(draw: st.DrawFn) -> tuple[list[Order], list[StockReel]]:
    """Few orders that want the same reels, few reels in stock."""
    return _orders(draw), _reels(draw)


def _most(order: Order) -> Fraction:
    most = order.quantity * (1 + order.over)
    return most // 500 * Fraction(500) if order.in_reams else most


def _sheet_kg(order: Order) -> Fraction:
    return order.width_mm * (order.chop_mm or 0) * Fraction(250, 10**9)


def _by_hand(reel: StockReel, order: Order) -> tuple[Fraction, Fraction] | None:
    """What a reel gives an order, in its unit and in kilograms; None: it does not meet it."""
    mass_kg = reel.width_mm * reel.length_m * Fraction(250, 10**6)
    if reel.joins > order.joins_allowed or reel.reserved_for.upper() not in (
        "", order.number, order.customer.upper(),
    ):  # fmt: skip
        return None
    if order.product is Product.REEL:
        wound_right = 999.5 <= reel.diameter_mm <= 1250.5
        if reel.width_mm != 820 or not wound_right or order.core_mm not in (None, reel.core_mm):
            return None
        quantity = {Unit.REELS: Fraction(1), Unit.METRES: Fraction(reel.length_m)}
        return quantity.get(order.unit, mass_kg), mass_kg
    if reel.diameter_mm > 1250.5 or (reel.core_mm == 76 and reel.width_mm > 900):
        return None
    ups = 2 if reel.width_mm == 820 else 3  # 400 mm and twice 10 mm: 820; 1,220 of 1,230
    sheets = math.floor(ups * (reel.length_m * 1000 // 900) * Fraction(99, 100))
    given_kg = sheets * _sheet_kg(order)
    return (given_kg if order.unit is Unit.KG else Fraction(sheets)), given_kg


_Pairs = list[tuple[Order, StockReel]]


def _every_choice(orders: list[Order], reels: list[StockReel]) -> Iterator[_Pairs]:
    for chosen in product([None, *orders], repeat=len(reels)):
        pairs = [(order, reel) for order, reel in zip(chosen, reels, strict=True) if order]
        gives = [(order, _by_hand(reel, order)) for order, reel in pairs]
        if all(found is not None for _, found in gives) and all(
            sum(found[0] for mine, found in gives if mine is order and found)
            <= max(Fraction(0), _most(order) - order.made)
            for order in orders
        ):
            yield pairs


def _worth(pairs: _Pairs) -> tuple[Fraction, ...]:
    """Paper saved, then reserved ones, then those of each day from the first on."""
    saved = Fraction(0)
    for order, reel in pairs:
        found = _by_hand(reel, order)
        assert found is not None
        saved += 2 * found[1] - reel.width_mm * reel.length_m * Fraction(250, 10**6)
    ages = [Fraction(sum(reel.made_on == day for _, reel in pairs)) for day in _DAYS]
    return saved, Fraction(sum(bool(reel.reserved_for) for _, reel in pairs)), *ages


@settings(max_examples=300)
@given(cases())
def test_no_choice_saves_more_paper_and_of_equals_the_oldest_go(
    case: tuple[list[Order], list[StockReel]],
) -> None:
    """The picks are a choice that is allowed, and none is worth more."""
    orders, reels = case
    served = with_stock(tuple(orders), tuple(reels), SHEETERS)
    by_name = {reel.name: reel for reel in reels}
    picked = [(order, by_name[reel.name]) for order in served for reel in order.stock]
    assert len({reel.name for _, reel in picked}) == len(picked)
    assert _worth(picked) == max(map(_worth, _every_choice(orders, reels)))
    for order in served:
        assert order.there <= max(order.made, _most(order))
        for reel in order.stock:
            found = _by_hand(reel, order)
            assert found is not None
            assert (reel.quantity(order.unit), reel.given_kg) == found


def test_of_equals_the_reserved_then_the_oldest_goes_first() -> None:
    """One is wanted of four alike; two are wanted, and the oldest joins the reserved one."""
    ages = {"new": date(2026, 9, 1), "old": date(2026, 1, 1), "none": None}
    reels = [replace(REEL, name=name, made_on=made_on) for name, made_on in ages.items()]
    reels.append(replace(REEL, name="mine", reserved_for="A"))
    for wanted, names in ((1, {"mine"}), (2, {"mine", "old"}), (3, {"mine", "old", "new"})):
        (order,) = with_stock((replace(ORDER, quantity=Fraction(wanted)),), tuple(reels))
        assert {reel.name for reel in order.stock} == names


def test_the_oldest_goes_though_others_are_older_together() -> None:
    """6,000 m are wanted: 4,000 and 2,000 m, or 3,000 twice; the oldest of all is of the first."""
    lengths = {"a": (4000, 1), "b": (2000, 9), "c": (3000, 2), "d": (3000, 2)}
    reels = [
        replace(REEL, name=name, length_m=length_m, made_on=date(2026, month, 1))
        for name, (length_m, month) in lengths.items()
    ]
    (order,) = with_stock((replace(ORDER, unit=Unit.METRES, quantity=Fraction(6000)),), (*reels,))
    assert [reel.name for reel in order.stock] == ["a", "b"]


def test_of_orders_alike_the_first_due_is_served() -> None:
    """The later one is made; sheets take no reel where no sheeter takes it."""
    later = replace(ORDER, number="B", quantity=Fraction(1), row=1)
    first = replace(ORDER, number="C", quantity=Fraction(1), row=2)
    noon = datetime.fromisoformat("2026-12-01T12:00")
    orders = (replace(later, due=noon.replace(day=9)), replace(first, due=noon), SHEETS)
    served = with_stock(orders, (REEL,))
    assert [len(order.stock) for order in served] == [0, 1, 0]


def test_a_reel_goes_where_least_of_it_is_trimmed_off() -> None:
    """Both orders take it: whole as a reel, or less waste and trim as sheets."""
    served = with_stock((SHEETS, replace(ORDER, quantity=Fraction(1))), (REEL,), SHEETERS)
    assert [len(order.stock) for order in served] == [0, 1]


@pytest.mark.parametrize(
    ("width_mm", "reserved_for", "ups"),
    [
        (819, "", None),
        (820, "", 2),
        (985, "", 2),
        (995, "", None),
        (995, "S", 2),
        (1410, "", None),
    ],
)
def test_a_fifth_may_be_lost_at_the_sheeter(
    width_mm: int, reserved_for: str, ups: int | None
) -> None:
    """Two across want 820 mm. More than a fifth is lost only where somebody reserved the reel."""
    reel = replace(REEL, width_mm=Fraction(width_mm), reserved_for=reserved_for)
    found = serving(reel, SHEETS, SHEETERS)
    assert (found and found.at_sheeter and found.at_sheeter.ups) == ups


def test_of_reels_picked_before_those_stay_that_save_most() -> None:
    """4,000 m of 12,000 have run: the first of the reels would go over."""
    order = replace(ORDER, unit=Unit.METRES, quantity=Fraction(12_000))
    stock = tuple(
        replace(REEL, name=f"S{length_m}", length_m=length_m, made_on=day)
        for length_m, day in zip((1000, 3000, 5000), _DAYS, strict=True)
    )
    picked = {each.name: "A" for each in stock}
    ran = {"A": Fraction(4000)}
    for beyond, stays in (({}, stock[1:]), ({"A": Fraction(999)}, stock[1:]),
                          ({"A": Fraction(1000)}, stock)):  # fmt: skip
        [now] = with_stock_left((order,), stock, (), ran=ran, picked=picked, beyond=beyond)
        assert now.stock == stays


def test_what_has_not_run_leaves_no_room_beyond_the_tolerance() -> None:
    """Less is ordered now; as issued the order got 5,000 m too much, and nothing of it ran."""
    order = replace(ORDER, unit=Unit.METRES, quantity=Fraction(4000))
    stock = tuple(replace(REEL, name=f"S{each}") for each in "12")
    [now] = with_stock_left(
        (order,), stock, (), ran={"A": Fraction(0)}, picked={"S1": "A", "S2": "A"},
        beyond={"A": Fraction(5000)},
    )  # fmt: skip
    assert len(now.stock) == 1


def test_a_reel_stays_with_the_order_that_it_was_picked_for() -> None:
    """What else would save more goes where there is room beside it."""
    order = replace(ORDER, unit=Unit.METRES, quantity=Fraction(4000))
    other = replace(order, number="B")
    short, long = (replace(REEL, name=f"S{m}", length_m=m) for m in (2500, 3000))
    first, second = with_stock_left(
        (order, other), (short, long), (), ran={"A": Fraction(0), "B": Fraction(0)},
        picked={"S2500": "A"}, beyond={},
    )  # fmt: skip
    assert [[each.name for each in one.stock] for one in (first, second)] == [["S2500"], ["S3000"]]
