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
from trimopt import read_book, read_mill, write_plan
from trimopt.book.model import Book, Instruction, LeftOut, Order, RunDay
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


#: 640 mm lie beside two of A; 990 mm beside one of them alone.
LATER = tuple(
    board_reel(f"N{width}", width_mm=Fraction(width), quantity=Fraction(6), due=DUE, next_run=True)
    for width in (640, 990)
)


def test_an_order_of_the_next_run_is_taken_in_where_it_fills_trim() -> None:
    """Saved is what it adds to this run's loss, less the target on what it no more needs there."""
    orders = (replace(ORDERS[0], due=None),)
    other = replace(LATER[0], number="P", grammage_gsm=300.0)  # of another paper
    left_out = tuple(LeftOut(order=o.number, why="next run") for o in (*LATER, other))
    book = replace(book_of(*orders), next_run=(*LATER, other), left_out=left_out)
    of_mill = replace(mill(), stock_widths=())
    found = planned(book, of_mill, ways_out=True)
    assert verify_plan(found, book, of_mill) == ()
    (run,) = found.ways_out
    taken = {way.order: way for way in run.ways if way.kind == "taken in"}
    assert "P" not in taken
    way = taken["N640"]
    assert (way.due, way.asks) == (DUE, "planning")
    books = book_of(*orders), book_of(*orders, LATER[0])
    bare, filled = (planned(one, of_mill).runs[0].balance for one in books)
    # Six sets as before, a little longer, and nearly all of its paper is trim that was.
    more_kg = filled.delivered_kg - bare.delivered_kg
    assert filled.used_kg - bare.used_kg < 0.2 * more_kg
    assert way.saved_kg == pytest.approx(
        (bare.used_kg - bare.delivered_kg) - (filled.used_kg - filled.delivered_kg)
        + more_kg * 0.02 / 0.98
    )  # fmt: skip
    assert way.saved_kg > taken["N990"].saved_kg if "N990" in taken else True
    lied = replace(run, ways=tuple(replace(w, due=None) for w in run.ways if w is way))
    text = "\n".join(map(str, verify_plan(replace(found, ways_out=(lied,)), book, of_mill)))
    assert "due of order N640" in text
    bare_book = replace(book, next_run=())
    text = "\n".join(map(str, verify_plan(found, bare_book, of_mill)))
    assert "not an order of the next run" in text


def test_nothing_is_taken_in_where_hours_are_short() -> None:
    """An order is carried over: there is no hour for another."""
    book = replace(book_of(*ORDERS), next_run=LATER[:1],
                   left_out=(LeftOut(order="N640", why="next run"),))  # fmt: skip
    (found,) = planned(book, mill(), ways_out=True, hours=0.5).ways_out
    assert all(way.kind != "taken in" for way in found.ways)


def test_a_line_for_the_next_run_is_left_out_by_name(tmp_path: Path) -> None:
    """It is read like the others, named as left out, and is no order of this run."""
    source = Path("orders/shift.xlsx")
    book = load_workbook(source)
    sheet = book["Orders"]
    rows = enumerate(sheet.iter_rows(values_only=True), start=1)
    heading, column = next(
        (row, 1 + max(at for at, cell in enumerate(cells, start=1) if cell))
        for row, cells in rows
        if "Order" in cells
    )
    sheet.cell(heading, column, "Status")
    sheet.cell(heading + 2, column, "Next run")
    book.save(tmp_path / "book.xlsx")
    of_mill = read_mill("orders/mill.toml")
    whole, parted = read_book(source, of_mill), read_book(tmp_path / "book.xlsx", of_mill)
    assert not parted.faults
    assert len(parted.orders) == len(whole.orders) - 1
    (line,) = parted.next_run
    assert replace(line, next_run=False) == whole.orders[1]
    assert parted.left_out == (
        LeftOut(order=line.number, why="it is for the next run of its paper"),
    )


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
