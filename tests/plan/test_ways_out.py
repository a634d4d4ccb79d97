"""Ways out of a run above the target: each planned, ranked, checked, and in every output."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from trimopt import write_plan
from trimopt.book.model import Book, Instruction, Order, RunDay
from trimopt.check import verify_plan
from trimopt.errors import RequestError
from trimopt.mill import Mill, StockWidth
from trimopt.plan.model import Effort, Plan, Request
from trimopt.plan.planning.plan_book import make_plan

DUE = datetime.fromisoformat("2026-03-02T14:00")
ORDERS = (
    board_reel("A", width_mm=Fraction(1450), quantity=Fraction(12), due=DUE),
    board_reel("B", width_mm=Fraction(1130), quantity=Fraction(4)),
)
STOCK = StockWidth(
    name="STOCK-600", grade="Folding board", grammage_gsm=300.0, width_mm=Fraction(600),
    core_mm=152.0, max_diameter_mm=1250.0, max_kg=Fraction(5000), value_share=Fraction(4, 5),
)  # fmt: skip


@cache
def mill(target_percent: float | None = 2.0) -> Mill:
    """The sample mill with a target, and a stock width of another grammage."""
    return replace(sample_mill(), trim_target_percent=target_percent, stock_widths=(STOCK,))


def book_of(*orders: Order) -> Book:
    """A book of these orders."""
    return Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)


def planned(book: Book, of_mill: Mill, **asked: object) -> Plan:
    """Its plan of quick effort."""
    request = Request(effort=Effort.QUICK, **asked)  # type: ignore[arg-type]  # Request's own
    return make_plan(book, of_mill, request, number="1")


@cache
def plan() -> Plan:
    """Two orders that leave much of the deckle, with ways out."""
    cap = Instruction(what="set-ups", number=1)
    return planned(book_of(*ORDERS), mill(), ways_out=True, instructions=(cap,))


def test_ways_are_found_and_ranked() -> None:
    """A stock width, a width, an order for the next run among them; the best first; all holds."""
    (found,) = plan().ways_out
    kinds = {way.kind for way in found.ways}
    assert {"stock width", "width", "next run"} <= kinds
    saved = [way.saved for way in found.ways]
    assert saved == sorted(saved, reverse=True)
    assert found.unplanned == 0
    assert found.planned >= len(found.ways)
    assert verify_plan(plan(), book_of(*ORDERS), mill()) == ()


def test_a_figure_is_the_run_without_less_the_run_with() -> None:
    """The changed book planned by itself, by the same effort, costs so much less."""
    (found,) = plan().ways_out
    way = next(way for way in found.ways if way.kind == "width" and "wide" not in way.what)
    width_mm = Fraction(way.what.split(" mm")[0].replace(",", ""))
    changed = tuple(
        replace(each, width_mm=width_mm) if each.number == way.order else each for each in ORDERS
    )
    instructions = plan().request.instructions
    lost = []
    for orders in (ORDERS, changed):
        run = planned(book_of(*orders), mill(), instructions=instructions).runs[0]
        lost.append(run.balance.used_kg - run.balance.delivered_kg - run.balance.stock_worth_kg)
    assert way.saved_kg == pytest.approx(lost[0] - lost[1])


def test_no_order_waits_that_is_due_before_the_next_run() -> None:
    """By the run days of the book, which the change names too."""
    day = RunDay(
        grade="Folding board", grammage_gsm=250.0,
        begins=DUE.replace(day=9), ends=DUE.replace(day=10),
    )  # fmt: skip
    book = replace(book_of(*ORDERS), run_days=(day,))
    (found,) = planned(book, mill(), ways_out=True).ways_out
    waiting = {way.order: way.what for way in found.ways if way.kind == "next run"}
    assert "A" not in waiting
    assert all("-03-09" in what for what in waiting.values())


@pytest.mark.parametrize(("width_mm", "asked"), [(1790, False), (1100, True)])
def test_a_jumbo_is_a_little_narrower_never_half_as_wide(width_mm: int, *, asked: bool) -> None:
    """No machine makes a jumbo of half its width for one order."""
    order = board_reel("A", width_mm=Fraction(width_mm), quantity=Fraction(12))
    (found,) = planned(book_of(order), mill(), ways_out=True).ways_out
    assert asked == any(way.kind == "deckle" for way in found.ways)


def test_runs_at_the_target_have_none() -> None:
    """Where every run is good enough nothing is planned again; without a target none can be."""
    assert planned(book_of(*ORDERS), mill(60.0), ways_out=True).ways_out == ()
    assert planned(book_of(*ORDERS), mill()).ways_out == ()
    with pytest.raises(RequestError, match="trim_target_percent"):
        planned(book_of(*ORDERS), mill(None), ways_out=True)


def test_each_slip_is_a_finding() -> None:
    """Another order, a worse one first, a run that has none, a due time that the book lacks."""
    (found,) = plan().ways_out
    first, *rest = found.ways
    later = next(way for way in found.ways if way.kind == "next run" and way.order == "A")
    for ways, said in (
        ((replace(first, order="Z"), *rest), "not an order of this run"),
        ((*rest, first), "the best first"),
        ((replace(later, due=None),), "due of order A"),
        ((replace(first, saved=-1.0),), "saved"),
    ):
        changed = replace(plan(), ways_out=(replace(found, ways=ways),))
        text = "\n".join(map(str, verify_plan(changed, book_of(*ORDERS), mill())))
        assert said in text
    text = "\n".join(map(str, verify_plan(replace(plan(), ways_out=()), book_of(*ORDERS), mill())))
    assert "ways out: runs above the target" in text


def test_they_stand_in_workbook_and_page(tmp_path: Path) -> None:
    """A sheet of their own, a section of the page; with what was planned and what was not."""
    files = write_plan(plan(), book_of(*ORDERS), mill(), tmp_path).files
    by_ending = {path.suffix: path for path in files}
    sheet = load_workbook(by_ending[".xlsx"])["Ways out"]
    cells = [str(cell.value) for row in sheet.iter_rows() for cell in row if cell.value]
    best = plan().ways_out[0].ways[0]
    assert best.what in cells
    page = by_ending[".html"].read_text(encoding="utf-8")
    assert "Ways out" in page
    assert best.what in page
