"""Ways out come true: each change made by hand in book, mill file or request, and planned anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.making.orders import board_reel
from tests.plan.test_ways_out import STOCK, book_of, mill
from trimopt.book.model import Book, Instruction, Order
from trimopt.mill import Mill
from trimopt.plan.model import Effort, Plan, Request, RunPlan
from trimopt.plan.planning import ways_out
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.way_out import WayOut

A = board_reel("A", width_mm=Fraction(1450), quantity=Fraction(12), min_diameter_mm=1240.0)
B = board_reel("B", width_mm=Fraction(1130), quantity=Fraction(4))
#: Each order leaves much of the deckle.
WIDE = ((A, B), 1, {"stock width", "width", "diameter", "deckle", "next run"})
#: With no set-up allowed A lies beside B in 22 sets, of which much is trim; with one, or with fewer
#: of A, sets are saved.
CAPPED = (
    (
        replace(A, quantity=Fraction(22), under=Fraction(0), over=Fraction(0)),
        replace(B, quantity=Fraction(20), under=Fraction(0), over=Fraction(1, 10)),
    ),
    0,
    {"set-up", "tolerance", "width", "diameter", "next run"},
)
TARGET = 0.02


def planned(book: Book, of_mill: Mill, cap: Instruction, *, ways: bool = False) -> Plan:
    """Its plan of quick effort, with no clock to stop it."""
    asked = Request(effort=Effort.QUICK, instructions=(cap,), ways_out=ways, time_limit_s=3600)
    return make_plan(book, of_mill, asked, number="1", processes=1)


def by_hand(
    way: WayOut, orders: Sequence[Order], cap: Instruction
) -> tuple[Book, Mill, Instruction]:
    """What a person changes who takes it."""
    of_mill = mill()

    def changed(**changes: object) -> tuple[Book, Mill, Instruction]:
        new = (replace(o, **changes) if o.number == way.order else o for o in orders)  # type: ignore[arg-type]
        return book_of(*new), of_mill, cap

    order = next((each for each in orders if each.number == way.order), orders[0])
    if way.kind == "stock width":
        here = replace(STOCK, grammage_gsm=order.grammage_gsm)
        return book_of(*orders), replace(of_mill, stock_widths=(here,)), cap
    if way.kind == "tolerance":
        return changed(under=order.under + Fraction(1, 20), over=order.over + Fraction(1, 20))
    if way.kind == "set-up":
        return book_of(*orders), of_mill, replace(cap, number=(cap.number or 0) + 1)
    if way.kind == "next run":
        return book_of(*(each for each in orders if each is not order)), of_mill, cap
    figure = way.what.removeprefix("diameter from ").removeprefix("jumbos ").split(" mm")[0]
    mm = Fraction(figure.replace(",", ""))
    if way.kind == "deckle":
        return book_of(*orders), replace(of_mill, jumbo=replace(of_mill.jumbo, width_mm=mm)), cap
    return changed(width_mm=mm) if way.kind == "width" else changed(min_diameter_mm=float(mm))


def lost_kg(run: RunPlan) -> float:
    """Paper that is neither delivered nor worth something in stock."""
    return run.balance.used_kg - run.balance.delivered_kg - run.balance.stock_worth_kg


@pytest.mark.parametrize(("orders", "set_ups", "right"), [WIDE, CAPPED])
def test_what_each_way_promises_comes_true(
    orders: tuple[Order, ...], set_ups: int, right: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Kilograms, set-ups and trim loss are those of the changed book planned by itself."""
    monkeypatch.setattr(ways_out, "_SECONDS", 3600.0)  # however busy the machine is
    cap = Instruction(what="set-ups", number=set_ups)
    plan = planned(book_of(*orders), mill(), cap, ways=True)
    (run,), (before,) = plan.ways_out, plan.runs
    assert run.unplanned == 0
    kinds = set()
    for way in run.ways:
        (after,) = planned(*by_hand(way, orders, cap)).runs
        waits_kg = before.balance.delivered_kg - after.balance.delivered_kg
        elsewhere_kg = max(0.0, waits_kg) * TARGET / (1 - TARGET) if way.kind == "next run" else 0
        saved_kg = lost_kg(before) - lost_kg(after) - elsewhere_kg
        assert way.saved_kg == pytest.approx(saved_kg, abs=0.01), way
        assert way.set_ups == after.set_ups - before.set_ups, way
        assert way.trim_loss == pytest.approx(after.balance.trim_loss), way
        kinds.add(way.kind)
    assert kinds == right
