"""States of an order: each defined once, the most pressing said first, and the rest beside it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction

import pytest

from tests.making.orders import board_reel
from tests.plan.leaves import with_leaf
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Book, Order, Unit
from trimopt.check import verify_plan
from trimopt.making import prepare, runs_of
from trimopt.plan.model import OrderLine, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.schedule.order_lines import order_lines
from trimopt.plan.planning.schedule.runs_in_turn import finished_at
from trimopt.plan.states import OrderState, most_pressing_first
from trimopt.report.words.attention import calls_of
from trimopt.report.words.plan_words import state_text, why_text
from trimopt.report.words.units import METRIC

_NOON = datetime.fromisoformat("2026-03-02T12:00")


def line(state: OrderState, *also: OrderState, text: str = "") -> OrderLine:
    """An order of the sample plan in these states, due at noon."""
    first = sample_plan().runs[0].orders[0]
    return replace(first, state=state, also=also, text=text, due=_NOON)


def test_what_is_late_and_over_is_both() -> None:
    """Late once hid behind over; it comes first, and why says both."""
    over = line(OrderState.OVER, text="464 kg above the upper tolerance: 1 reel to stock")
    late = finished_at(over, _NOON + timedelta(minutes=30))
    assert late.states == (OrderState.LATE, OrderState.OVER)
    assert state_text(late) == "late, over"
    assert why_text(late) == (
        "464 kg above the upper tolerance: 1 reel to stock; "
        "finished 2026-03-02 12:30, due 2026-03-02 12:00"
    )
    again = finished_at(late, _NOON)
    assert again.states == (OrderState.OVER,)
    assert why_text(again) == over.text


def test_an_order_moved_before_its_due_time_is_late_no_more() -> None:
    """Runs are put in turn more than once; met and light come back as they were."""
    for state in (OrderState.MET, OrderState.LIGHT, OrderState.NEEDS_SALES):
        late = finished_at(line(state), _NOON + timedelta(minutes=1))
        assert OrderState.LATE in late.states
        assert finished_at(late, _NOON).states == (state,)


@pytest.mark.parametrize("state", [OrderState.SHORT, OrderState.CARRIED_OVER])
def test_what_is_lacking_is_not_judged_by_a_part_of_it(state: OrderState) -> None:
    """The last set here does not finish the order."""
    assert finished_at(line(state), _NOON + timedelta(hours=9)).states == (state,)


def test_what_is_allowed_is_whole_reels() -> None:
    """Of 12 reels ±9 % eleven to thirteen; where no whole number lies between, as it is."""
    reels = next(each for run in sample_plan().runs for each in run.orders if each.unit == "reels")

    def allowed(low: str, high: str) -> tuple[Fraction, Fraction]:
        return replace(reels, min_quantity=Fraction(low), max_quantity=Fraction(high)).allowed

    assert allowed("10.9", "13.1") == (Fraction(11), Fraction(13))
    assert allowed("10.2", "10.8") == (Fraction("10.2"), Fraction("10.8"))
    kg = replace(reels, unit="kg", min_quantity=Fraction("10.9"), max_quantity=Fraction(13))
    assert kg.allowed == (Fraction("10.9"), Fraction(13))


def test_every_state_has_its_place() -> None:
    """Of any two the more pressing is said first; met stands alone."""
    pressing = tuple(state for state in OrderState if state is not OrderState.MET)
    assert most_pressing_first(set(OrderState)) == pressing
    assert tuple(OrderState)[-2:] == (OrderState.MET, OrderState.FOR_STOCK)
    assert most_pressing_first([OrderState.MET]) == (OrderState.MET,)


def _lines(made: int, asked: Order) -> OrderLine:
    """The line of an order, where so many reels of a plan for 12,000 kg of it are made."""
    mill = sample_mill()
    order = replace(asked, quantity=Fraction(made), unit=Unit.REELS, over=Fraction(0))
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,))
    (run,) = make_plan(book, mill, Request(), number="states-1").runs
    making = prepare(runs_of(replace(book, orders=(asked,)), mill)[0], mill)
    (found,) = order_lines(making, mill, run.blocks)
    return found


@pytest.mark.parametrize(
    ("max_kg", "text"),
    [
        # Eight reels of 1,780 mm at 3,162 m and 250 g/m² weigh 1,407.09 kg each.
        ("11257", ""),
        ("11000", "257 kg above the upper tolerance"),
        ("9849.6", "1,407 kg above the upper tolerance: 1 reel to stock"),
        ("9000", "2,257 kg above the upper tolerance; 1 reel of it, 1,407 kg, to stock"),
        ("8400", "2,857 kg above the upper tolerance; 2 reels of it, 2,814 kg, to stock"),
    ],
)
def test_only_a_whole_reel_goes_to_stock(max_kg: str, text: str) -> None:
    """Nobody stocks 8 kg of a reel: where no reel is wholly too many, nothing is said to."""
    order = board_reel(
        width_mm=Fraction(1780), min_diameter_mm=1249.6, quantity=Fraction(max_kg),
        unit=Unit.KG, under=Fraction(1, 2), over=Fraction(0),
    )  # fmt: skip
    found = _lines(8, order)
    assert round(found.planned_kg) == 11_257
    assert found.text == text
    assert found.state is (OrderState.OVER if text else OrderState.MET)


def test_the_check_wants_every_state_that_holds() -> None:
    """A plan that keeps silent about lateness behind another state is found out."""
    plan, book = sample_plan(), sample_book()
    path = ("runs", 0, "orders", 3)
    number, finished = plan.runs[0].orders[3].number, plan.runs[0].orders[3].finished
    assert plan.runs[0].orders[3].state is OrderState.OVER
    assert finished is not None
    due = finished - timedelta(minutes=1)
    orders = tuple(replace(x, due=due) if x.number == number else x for x in book.orders)
    book, plan = replace(book, orders=orders), with_leaf(plan, (*path, "due"), due)
    said = [str(finding) for finding in verify_plan(plan, book, sample_mill())]
    assert any("state: the plan says over; found late, over" in words for words in said)
    late = finished_at(plan.runs[0].orders[3], finished)
    assert verify_plan(with_leaf(plan, path, late), book, sample_mill()) == ()


def test_attention_counts_the_most_pressing() -> None:
    """An order late and over is one call, for being late."""
    plan = sample_plan()
    late = finished_at(line(OrderState.OVER, text="much"), _NOON + timedelta(days=1))
    calls = calls_of(with_leaf(plan, ("runs", 0, "orders", 0), late), METRIC)
    call = next(each for each in calls if each.order == late.number)
    assert call.state == "late"
    assert call.why.startswith("much; finished")
