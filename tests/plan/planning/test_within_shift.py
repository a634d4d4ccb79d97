"""A shift that ends too early: what is run, what is carried over, and what the check says of it."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction

import pytest

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Order, Unit
from trimopt.check import verify_plan
from trimopt.errors import InfeasibleError
from trimopt.plan.codec import from_json, plan_json
from trimopt.plan.model import Effort, OrderLine, Plan, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.states import OrderState
from trimopt.workers import Workers

BEGIN = datetime.fromisoformat("2026-03-01T06:00")
MASS = Unit.KG


def book(*orders: Order) -> Book:
    """A book of these orders."""
    return Book(source="shift.xlsx", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)


def planned(of: Book, minutes: float | None) -> Plan:
    """The plan of a shift of so many minutes, checked, and the same after JSON."""
    until = None if minutes is None else BEGIN + timedelta(minutes=minutes)
    plan = make_plan(of, sample_mill(), Request(effort=Effort.QUICK, until=until), number="shift-1")
    assert [str(finding) for finding in verify_plan(plan, of, sample_mill())] == []
    assert from_json(plan_json(plan)) == plan
    return plan


def minutes_of(plan: Plan) -> float:
    """From the shift's beginning to the last set's finish."""
    finish = max(run.finish for run in plan.runs if run.finish is not None)
    return (finish - BEGIN).total_seconds() / 60


def lines_of(plan: Plan) -> dict[str, OrderLine]:
    """Order lines by number."""
    return {line.number: line for run in plan.runs for line in run.orders}


WIDE = {"width_mm": Fraction(1780), "min_diameter_mm": 1240.0}


def alone(number: str, reels: int, **rest: object) -> Order:
    """An order whose sets hold nothing else: two of its reels fill the deckle."""
    return board_reel(number, quantity=Fraction(reels), **{**WIDE, **rest})


def kraft(number: str, reels: int, **rest: object) -> Order:
    """The same of another grade, so of another run."""
    return replace(alone(number, reels, **rest), grade="Sack kraft", grammage_gsm=200.0)


def test_a_shift_with_hours_enough_changes_nothing() -> None:
    """An end after the last set is finished leaves the plan as it is without one."""
    of = book(alone("A", 8), kraft("K", 6))
    whole = planned(of, None)
    ending = planned(of, minutes_of(whole) + 0.1)
    assert [run.blocks for run in ending.runs] == [run.blocks for run in whole.runs]
    assert [run.orders for run in ending.runs] == [run.orders for run in whole.runs]


def test_a_block_is_cut_at_a_set_and_the_order_says_what_it_lacks() -> None:
    """Five sets of two reels; a minute too few for the last set leaves two reels to be made."""
    of = book(alone("A", 10))
    whole = planned(of, None)
    plan = planned(of, minutes_of(whole) - 1)
    assert len(plan.runs[0].blocks[0].sets) == 4
    line = lines_of(plan)["A"]
    assert line.state == "carried over"
    assert (line.planned, line.lacking) == (Fraction(8), Fraction(2))
    assert line.lacking_kg == pytest.approx(line.ordered_kg / 5)
    assert "2 of 10 reels" in line.text
    assert "the shift ends first" in line.text
    assert minutes_of(plan) <= minutes_of(whole) - 1


def test_priority_then_due_date_decide_over_all_runs() -> None:
    """Three orders, two grades, hours for two of them: the one that may wait is carried over.

    The hours are what the two take alone, and a minute.
    """
    soon, later = BEGIN + timedelta(days=1), BEGIN + timedelta(days=5)
    cases: tuple[tuple[str, dict[str, tuple[datetime, int | None]]], ...] = (
        ("A", {"A": (later, None), "B": (soon, None), "K": (soon, None)}),
        ("B", {"A": (soon, None), "B": (later, None), "K": (soon, None)}),
        ("K", {"A": (later, 1), "B": (later, 2), "K": (soon, None)}),
    )
    for waits, urgency in cases:
        of = book(
            alone("A", 6, due=urgency["A"][0], priority=urgency["A"][1]),
            alone("B", 6, core_mm=76.0, due=urgency["B"][0], priority=urgency["B"][1]),
            kraft("K", 6, due=urgency["K"][0], priority=urgency["K"][1]),
        )
        pressing = book(*(order for order in of.orders if order.number != waits))
        plan = planned(of, minutes_of(planned(pressing, None)) + 1)
        states = {number: line.state for number, line in lines_of(plan).items()}
        assert states[waits] == "carried over"
        assert {state for number, state in states.items() if number != waits} == {"met"}


def test_an_urgent_order_is_not_spread_over_sets_that_the_hours_are_not_enough_for() -> None:
    """Two reels of C need one of A beside them, but A is urgent: three of A fill a set as well.

    The whole plan has a reel of A in each of six sets. With hours for two sets A is made whole all
    the same, in sets of three.
    """
    urgent = alone("A", 6, width_mm=Fraction(1186), priority=1)
    waiting = alone("C", 12, width_mm=Fraction(1187), priority=2)
    whole = planned(book(urgent, waiting), None)
    assert sum(len(block.sets) for block in whole.runs[0].blocks) == 6
    minutes = minutes_of(planned(book(urgent), None)) + 1
    lines = lines_of(planned(book(urgent, waiting), minutes))
    assert (lines["A"].state, lines["C"].state) == ("met", "carried over")


def test_hours_that_urgent_orders_leave_are_filled() -> None:
    """The same two, with a minute too little for the sixth set: A is whole, C in all the rest."""
    urgent = alone("A", 6, width_mm=Fraction(1186), priority=1)
    waiting = alone("C", 12, width_mm=Fraction(1187), priority=2)
    of = book(urgent, waiting)
    plan = planned(of, minutes_of(planned(of, None)) - 1)
    lines = lines_of(plan)
    assert (lines["A"].state, lines["C"].state) == ("met", "carried over")
    assert lines["C"].planned >= 4
    assert sum(len(block.sets) for block in plan.runs[0].blocks) >= 4


def test_a_run_may_be_carried_over_whole() -> None:
    """Hours for the urgent grade alone: the other run stands in the plan with no set."""
    of = book(alone("A", 6), alone("B", 1), kraft("K", 8, priority=1))
    whole = planned(of, None)
    first = next(run for run in whole.runs if run.grade == "Sack kraft")
    plan = planned(of, first.minutes + 1)
    board = next(run for run in plan.runs if run.grade == "Folding board")
    assert (board.blocks, board.jumbos, board.start) == ((), (), None)
    lines = lines_of(plan)
    assert lines["A"].lacking == 6
    assert lines["A"].text.startswith("all 6 reels (")
    assert lines["B"].text.startswith("1 reel (")
    assert lines["K"].state == "met"


def test_no_minutes_are_left_that_a_set_would_have_fitted() -> None:
    """Whatever the shift's length, what is left of it is less than one more set of the block."""
    of = book(alone("A", 12))
    whole = planned(of, None)
    rows = whole.runs[0].blocks[0].sets
    assert rows[-1].start is not None
    assert rows[-1].finish is not None
    jumbo_change = sample_mill().winder.jumbo_change_min
    a_set = (rows[-1].finish - rows[-1].start).total_seconds() / 60 + jumbo_change
    made = []
    for share in (0.4, 0.55, 0.7, 0.85):
        minutes = minutes_of(whole) * share
        plan = planned(of, minutes)
        made.append(len(plan.runs[0].blocks[0].sets))
        assert 0 <= minutes - minutes_of(plan) < a_set
    assert made == sorted(made)


def test_sheets_and_mass_say_what_they_lack_in_their_own_unit() -> None:
    """Half the hours: sheets in sheets and kg, mass in kg, each below what was asked."""
    mass = board_reel("M", width_mm=Fraction(950), quantity=Fraction(20_000), unit=MASS,
                      under=Fraction(5, 100), over=Fraction(5, 100))  # fmt: skip
    of = book(board_sheet("S", quantity=Fraction(90_000)), mass)
    whole = planned(of, None)
    lines = lines_of(planned(of, minutes_of(whole) / 2))
    waiting = [line for line in lines.values() if line.state == "carried over"]
    assert waiting
    for line in waiting:
        assert line.lacking == line.asked - line.planned > 0
        share = float(line.lacking / line.asked)
        assert line.lacking_kg == pytest.approx(share * line.ordered_kg)


def test_a_shift_too_short_for_any_set_says_what_would_do() -> None:
    """Two minutes: an error with the minutes that are missing, and these are enough."""
    of = book(alone("A", 10))
    with pytest.raises(InfeasibleError, match="min more are enough for one") as told:
        planned(of, 2)
    more = int(str(told.value).split(" min more")[0].split()[-1])
    assert len(planned(of, 2 + more + 1).runs[0].blocks[0].sets) == 1


def test_processes_give_the_same_shift() -> None:
    """Runs planned by other processes are cut to the shift as those planned here."""
    of = book(alone("A", 8), kraft("K", 8))
    minutes = minutes_of(planned(of, None)) * 0.6
    until = BEGIN + timedelta(minutes=minutes)
    with ProcessPoolExecutor(2) as executor:
        plan = make_plan(
            of, sample_mill(), Request(effort=Effort.QUICK, until=until), number="shift-1",
            workers=Workers(executor=executor, count=2),
        )  # fmt: skip
    assert [run.blocks for run in plan.runs] == [run.blocks for run in planned(of, minutes).runs]


def test_the_check_holds_the_plan_to_the_shift() -> None:
    """A timetable past the end, a wrong figure of what is lacking, and a false state are found."""
    of = book(alone("A", 10), kraft("K", 4))
    whole = planned(of, None)
    plan = planned(of, minutes_of(whole) - 1)
    earlier = replace(plan.settings, until=BEGIN + timedelta(minutes=30))
    said = [str(f) for f in verify_plan(replace(plan, settings=earlier), of, sample_mill())]
    assert any("finished before the shift ends" in line for line in said)
    endless = replace(plan, settings=replace(plan.settings, until=None))
    said = [str(f) for f in verify_plan(endless, of, sample_mill())]
    assert any("no end of shift" in line for line in said)
    waiting = next(line for line in lines_of(plan).values() if line.state == "carried over")
    for changed, found in (
        (replace(waiting, lacking=Fraction(1)), "lacking: the plan says 1; found"),
        (replace(waiting, lacking_kg=1.0), "lacking, kg"),
        (replace(waiting, state=OrderState.MET), "state: the plan says met; found short"),
    ):
        runs = tuple(
            replace(run, orders=tuple(changed if x is waiting else x for x in run.orders))
            for run in plan.runs
        )
        said = [str(f) for f in verify_plan(replace(plan, runs=runs), of, sample_mill())]
        assert any(found in line for line in said)


def test_runs_that_overlap_on_the_winder_are_found() -> None:
    """Two runs begun at one time: the second is said to begin before the first is finished."""
    of = book(alone("A", 4), kraft("K", 4))
    plan = planned(of, None)
    first, second = plan.runs
    assert second.start is not None
    moved = replace(first, start=second.start, finish=second.finish)
    said = [str(f) for f in verify_plan(replace(plan, runs=(moved, second)), of, sample_mill())]
    assert any(f"starts after {first.name} is finished" in line for line in said)
