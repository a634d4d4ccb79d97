"""Plans of books that list reels in stock: fetched first, paper made for the rest, all checked."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook

from trimopt import (
    Book,
    Effort,
    Mill,
    Plan,
    Request,
    StockReel,
    make_plan,
    read_book,
    read_mill,
    revise_plan,
    verify_plan,
    write_plan,
)
from trimopt.plan.revision import EditedPlan
from trimopt.report.words.texts import text

ORDERS = Path(__file__).parents[2] / "orders"
NUMBERS = ("4801-01", "4801-03", "4801-05")


@cache
def mill() -> Mill:
    """That of the example books."""
    return read_mill(ORDERS / "mill.toml")


@cache
def book() -> Book:
    """Three orders of the example book with reels in stock."""
    whole = read_book(ORDERS / "stock.xlsx", mill())
    return replace(whole, orders=tuple(each for each in whole.orders if each.number in NUMBERS))


@cache
def plan() -> Plan:
    """Its plan."""
    return make_plan(book(), mill(), Request(effort=Effort.QUICK), number="stock-1")


def of_one_order(*, quantity: int, **changes: object) -> Book:
    """The first order alone, of so many reels."""
    order = replace(book().orders[0], quantity=book().orders[0].quantity * 0 + quantity)
    return replace(book(), orders=(order,), **changes)  # type: ignore[arg-type]  # Book's own


def test_reels_that_meet_an_order_serve_it() -> None:
    """Those of another diameter, width or customer, or with too many joins, stay where they are."""
    (run,) = plan().runs
    used = {line.number: {reel.name for reel in line.stock} for line in run.orders}
    assert used == {
        "4801-01": {"S-1107", "S-1108"},
        "4801-03": {"S-1140", "S-1141"},
        "4801-05": {"S-1130"},
    }
    first = run.orders[0]
    assert [first.asked, first.from_stock, first.to_make] == [40, 2, 38]
    assert [first.min_quantity, first.max_quantity] == [36, 40]
    assert 36 <= first.planned <= 40


def test_the_balance_has_stock_on_its_supply_side() -> None:
    """Paper used less the parts it went into is 0; what comes from stock stands beside both."""
    balance = plan().runs[0].balance
    reels = [reel for _, _, reel in plan().stock_used]
    assert balance.stock_used_kg == pytest.approx(float(sum(reel.mass_kg for reel in reels)))
    without = make_plan(replace(book(), stock=()), mill(), Request(effort=Effort.QUICK))
    saved = without.runs[0].balance.used_kg - balance.used_kg
    assert saved == pytest.approx(balance.stock_used_kg, rel=0.5)
    assert without.runs[0].balance.stock_used_kg == 0


def test_it_holds() -> None:
    """The independent check finds nothing."""
    assert verify_plan(plan(), book(), mill()) == ()


def _said(changed: Plan, listed: Book | None = None) -> str:
    return "\n".join(map(str, verify_plan(changed, listed or book(), mill())))


def _with_stock(place: int, *reels: StockReel) -> Plan:
    run = plan().runs[0]
    orders = list(run.orders)
    orders[place] = replace(orders[place], stock=reels)
    return replace(plan(), runs=(replace(run, orders=tuple(orders)),))


def test_each_slip_is_a_finding() -> None:
    """A reel twice, passed over, of another order, not as listed, too many; mass and amounts."""
    two, one = plan().runs[0].orders[0].stock  # the older first
    other = plan().runs[0].orders[2].stock[0]
    assert "stock reel S-1107: used once: the plan says 2; found 1" in _said(
        _with_stock(0, one, one)
    )
    said = _said(_with_stock(0, one))
    assert "stock reel S-1108: its order: the plan says none; found it meets 4801-01" in said
    assert "order 4801-01: least still to be made: the plan says 36; found 37" in said
    assert "balance: stock used, kg" in said
    said = _said(_with_stock(0, one, two, other))
    assert f"{other.name}: its order: the plan says 4801-01; found another width, 820 mm" in said
    longer = replace(one, length_m=one.length_m + 50)
    assert "S-1107: stands on the stock sheet: the plan says so; found otherwise" in _said(
        _with_stock(0, longer, two)
    )
    small = of_one_order(quantity=1)
    assert "order 4801-01: from stock: the plan says 2; found above its upper tolerance" in _said(
        plan(), small
    )


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"grammage_gsm": 260.0}, "another paper"),
        ({"core_mm": 76.0}, "another core"),
        ({"diameter_mm": 1260.0}, "a diameter from 1150 to 1250 mm"),
        ({"joins": 1}, "0 joins allowed"),
        ({"reserved_for": "Kelvane Print"}, "reserved for Kelvane Print"),
    ],
)
def test_a_reel_that_does_not_meet_its_order_is_a_finding(
    changes: dict[str, object], what: str
) -> None:
    """Even where the stock sheet lists it so."""
    two, one = plan().runs[0].orders[0].stock  # the older first
    odd: StockReel = replace(one, **changes)  # type: ignore[arg-type]  # StockReel's own
    listed = tuple(odd if reel == one else reel for reel in book().stock)
    said = _said(_with_stock(0, odd, two), replace(book(), stock=listed))
    assert f"stock reel S-1107: its order: the plan says 4801-01; found {what}" in said


def test_a_book_that_stock_meets_whole_makes_nothing(tmp_path: Path) -> None:
    """The reels are listed all the same, in every output."""
    served = of_one_order(quantity=2)
    made = make_plan(served, mill())
    (run,) = made.runs
    assert run.blocks == ()
    assert {reel.name for reel in run.orders[0].stock} == {"S-1107", "S-1108"}
    assert verify_plan(made, served, mill()) == ()
    files = write_plan(made, served, mill(), tmp_path)
    (path,) = (each for each in files.files if each.suffix == ".html")
    page = path.read_text(encoding="utf-8")
    assert "Reels from stock" in page
    assert "S-1107" in page


def test_an_order_that_is_left_out_keeps_its_reels(tmp_path: Path) -> None:
    """No jumbo of its paper is there; the warehouse still brings what lies in stock for it.

    That nothing is made is said, in place of tables without a row.
    """
    without = of_one_order(quantity=20, only_listed_jumbos=True, jumbos=())
    made = make_plan(replace(without, orders=(*without.orders,)), mill())
    assert made.runs == ()
    (left,) = made.left_out
    assert {reel.name for reel in left.stock} == {"S-1107", "S-1108"}
    assert verify_plan(made, without, mill()) == ()
    written = {path.suffix: path for path in write_plan(made, without, mill(), tmp_path).files}
    summary = load_workbook(written[".xlsx"])["Summary"]
    cells = {cell.value for row in summary for cell in row}
    page = written[".html"].read_text(encoding="utf-8")
    assert text("run.none") in cells
    assert f"<h2>{text('run.none')}</h2>" in page
    for key in ("run.heading", "proof.heading", "losses.heading"):
        assert text(key) not in cells
        assert f"<h2>{text(key)}</h2>" not in page


def test_a_revised_plan_keeps_its_stock() -> None:
    """Blocks in another order: the same reels of stock, nothing wrong."""
    run = plan().runs[0]
    moved = replace(run, blocks=tuple(reversed(run.blocks)))
    edited = EditedPlan(issued=plan(), plan=replace(plan(), runs=(moved,)))
    revision = revise_plan(edited, book(), mill())
    assert revision.plan is not None
    assert revision.faults == ()
    assert revision.plan.stock_used == plan().stock_used
    assert revision.plan.runs[0].balance.stock_used_kg == run.balance.stock_used_kg
