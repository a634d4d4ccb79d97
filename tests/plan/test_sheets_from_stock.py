"""Plans of books whose orders for sheets are served by reels from stock, fed to a sheeter."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.plan.test_from_stock import ORDERS, book as example, mill
from trimopt import (
    Book,
    Effort,
    Plan,
    Request,
    StockReel,
    make_plan,
    read_book,
    verify_plan,
    write_plan,
)
from trimopt.book import Unit
from trimopt.plan.codec import from_json, plan_json
from trimopt.report.plan_tables import balance_rows
from trimopt.report.words.texts import text


@cache
def reels() -> tuple[StockReel, ...]:
    """One of just the width for Sheeter 2, one too wide for it, one of another core."""
    reel = next(each for each in example().stock if each.name == "S-1150")
    return (
        reel,
        replace(reel, name="W", width_mm=Fraction(1700), length_m=2800),
        replace(reel, name="C", core_mm=76.0),
    )


@cache
def book() -> Book:
    """An order for reels, and one for sheets of 720 x 1,020 mm, with those reels in stock."""
    whole = read_book(ORDERS / "stock.xlsx", mill())
    orders = tuple(each for each in whole.orders if each.number in ("4801-01", "4801-09"))
    return replace(whole, orders=orders, stock=reels())


@cache
def plan() -> Plan:
    """Its plan."""
    return make_plan(book(), mill(), Request(effort=Effort.QUICK), number="sheets-1")


def sheets_by_hand(reel: StockReel, ups: int, waste: Fraction) -> int:
    """Of 1,020 mm along the web."""
    return math.floor(ups * (reel.length_m * 1000 // 1020) * (1 - waste))


def test_reels_wide_enough_are_cut_into_sheets() -> None:
    """As many across as lie between the sheeter's trims; the other core fits no sheeter."""
    (run,) = plan().runs
    line = next(line for line in run.orders if line.number == "4801-09")
    cut = {reel.name: reel.at_sheeter for reel in line.stock}
    assert set(cut) == {"S-1150", "W"}
    narrow, wide, _ = reels()
    use = cut["S-1150"]
    assert use is not None
    assert (use.sheeter, use.ups) == ("Sheeter 2", 1)  # 733 − 2 × 6.5 = 720; Sheeter 1 trims 16
    assert use.sheets == sheets_by_hand(narrow, 1, Fraction(12, 1000))
    wide_use = cut["W"]
    assert wide_use is not None
    assert (wide_use.sheeter, wide_use.ups) == ("Sheeter 1", 2)
    assert wide_use.sheets == sheets_by_hand(wide, 2, Fraction(1, 100))
    assert line.from_stock == use.sheets + wide_use.sheets
    assert line.min_quantity == 57_000 - line.from_stock
    assert verify_plan(plan(), book(), mill()) == ()


def test_what_a_sheeter_trims_off_stands_in_the_balance() -> None:
    """Stock used is what orders get of it and what the sheeter loses."""
    (run,) = plan().runs
    balance = run.balance
    of_sheets = [reel for line in run.orders for reel in line.stock if reel.at_sheeter]
    lost = sum(
        float(reel.width_mm) * reel.length_m * 0.25 / 1000
        - float(reel.quantity(Unit.SHEETS)) * 0.72 * 1.02 * 0.25
        for reel in of_sheets
    )
    assert balance.stock_sheeter_kg == pytest.approx(lost)
    assert sum(getattr(balance, name) for name in balance.PARTS) == pytest.approx(balance.used_kg)
    rows = {name: kg for name, kg, _ in balance_rows(run)}
    parts = [text(f"balance.{name}") for name in ("from_stock_kg", "stock_sheeter_kg")]
    assert sum(rows[part] for part in parts) == pytest.approx(balance.stock_used_kg)


def test_a_reel_from_stock_is_a_load_from_the_beginning_on() -> None:
    """It waits for no set; its order is finished when the last load is cut."""
    begin = plan().runs[0].start
    loads = {load.reels[0].stock: load for load in plan().loads if load.reels[0].stock}
    assert set(loads) == {"S-1150", "W"}
    for load in loads.values():
        assert load.ready == begin
        assert load.width_mm in (733, 1700)
    line = next(line for line in plan().runs[0].orders if line.number == "4801-09")
    assert line.finished == max(load.finish for load in plan().loads if load.order == line.number)


def _said(changed: Plan) -> str:
    return "\n".join(map(str, verify_plan(changed, book(), mill())))


def _with(**changes: object) -> Plan:
    """The plan with another use of the first reel that is cut into sheets."""
    (run,) = plan().runs
    orders = []
    for line in run.orders:
        stock = list(line.stock)
        for place, reel in enumerate(stock):
            if reel.name == "S-1150" and reel.at_sheeter:
                use = replace(reel.at_sheeter, **changes)  # type: ignore[arg-type]  # its own
                stock[place] = replace(reel, at_sheeter=use)
        orders.append(replace(line, stock=tuple(stock)))
    return replace(plan(), runs=(replace(run, orders=tuple(orders)),))


def test_each_slip_is_a_finding() -> None:
    """A sheet too many, another sheeter, more across, no load, a reel that is passed over."""
    found = "found 3002 sheets, 1 across"
    assert found in _said(_with(sheets=3003))
    assert found in _said(_with(ups=2))
    assert "not taken by that sheeter" in _said(_with(sheeter="Sheeter 1"))
    assert "no sheeter Sheeter 9 in the mill file" in _said(_with(sheeter="Sheeter 9"))
    loads = tuple(load for load in plan().loads if load.reels[0].stock != "W")
    said = _said(replace(plan(), loads=loads))
    assert "stock reel W: a sheeter reel is in one load: the plan says 0; found 1" in said
    (run,) = plan().runs
    bare = tuple(replace(line, stock=()) for line in run.orders)
    said = _said(replace(plan(), runs=(replace(run, orders=bare),)))
    assert "stock reel S-1150: its order: the plan says none; found it meets 4801-09" in said
    assert "balance: stock lost at the sheeter, kg" in said


def test_more_than_a_fifth_lost_is_a_finding() -> None:
    """The check says it of a reel that the plan takes all the same."""
    (run,) = plan().runs
    wide = replace(reels()[0], width_mm=Fraction(920))
    line = next(line for line in run.orders if line.number == "4801-09")
    use = next(reel.at_sheeter for reel in line.stock if reel.name == "S-1150")
    lines = tuple(
        replace(each, stock=(replace(wide, at_sheeter=use),)) if each is line else each
        for each in run.orders
    )
    listed = replace(book(), stock=(wide, *reels()[1:]))
    changed = replace(plan(), runs=(replace(run, orders=lines),))
    said = "\n".join(map(str, verify_plan(changed, listed, mill())))
    assert "more than a fifth of it lost at the sheeter" in said


def test_it_is_written_and_read_back(tmp_path: Path) -> None:
    """JSON as it was; the warehouse's list names the sheeter, its loads the reel."""
    assert from_json(plan_json(plan())) == plan()
    files = {path.suffix: path for path in write_plan(plan(), book(), mill(), tmp_path).files}
    workbook = load_workbook(files[".xlsx"])
    stock = [[cell.value for cell in row] for row in workbook["Stock"].iter_rows()]
    (row,) = (row for row in stock if row[0] == "S-1150")
    assert "Sheeter 2, 1 up" in row
    assert 3002 in row
    loads = [str(cell.value) for row in workbook[text("sheet.loads")].iter_rows() for cell in row]
    assert "S-1150" in loads
    page = files[".html"].read_text(encoding="utf-8")
    assert "Sheeter 2, 1 up" in page


def test_an_order_for_sheets_that_stock_meets_whole() -> None:
    """Nothing is made, and nothing is missing."""
    order = next(each for each in book().orders if each.number == "4801-09")
    small = replace(order, quantity=Fraction(3000), under=Fraction(0), over=Fraction(1, 100))
    served = replace(book(), orders=(small,))
    made = make_plan(served, mill(), Request(effort=Effort.QUICK))
    assert verify_plan(made, served, mill()) == ()
    (run,) = made.runs
    assert run.blocks == ()
    assert [reel.name for reel in run.orders[0].stock] == ["S-1150"]


@pytest.mark.parametrize("reams", [False, True])
def test_no_more_than_the_tolerance_allows_comes_from_stock(reams: bool) -> None:
    """3,002 sheets of the reel go into 3,100; not where the last whole ream is 3,000."""
    order = next(each for each in book().orders if each.number == "4801-09")
    small = replace(
        order, quantity=Fraction(3000), under=Fraction(0), over=Fraction(3, 100),
        in_reams=reams, sheets_a_ream=500,
    )  # fmt: skip
    served = replace(book(), orders=(small,))
    made = make_plan(served, mill(), Request(effort=Effort.QUICK))
    assert verify_plan(made, served, mill()) == ()
    assert bool(made.stock_used) != reams
