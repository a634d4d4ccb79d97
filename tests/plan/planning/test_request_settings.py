"""What a person asks and what the mill states meet in one place, and the check derives it again."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from tests.making.orders import board_reel
from tests.plan.leaves import with_leaf
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Book, Instruction
from trimopt.check import verify_plan
from trimopt.errors import OrderBookError, RequestError
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Plan, Request, RunPlan, Settings
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.request_settings import settings_of

F = Fraction
BOOK = Book(
    source="asked.xlsx",
    fingerprint="f",
    as_of=date(2026, 3, 1),
    orders=tuple(
        board_reel(number, width_mm=F(width), quantity=F(reels), core_mm=76.0, over=F(1, 4))
        for number, width, reels in (("A", 1180, 9), ("B", 870, 8), ("C", 730, 7), ("D", 610, 8))
    ),
)
CAP = Instruction(what="set-ups", number=0)


def priced() -> Mill:
    """The sample mill with everything priced, and every choice of it other than by default."""
    mill = sample_mill()
    values = replace(
        mill.values, under=F(1, 5), over=F(3, 10), trim_cost_per_t=400.0, set_up=90.0,
        knife_move=3.0, currency="EUR", split_blocks=True,
    )  # fmt: skip
    winder = replace(mill.winder, core_change_is_set_up=True, length_change_is_set_up=True)
    return replace(mill, values=values, winders=(winder,))


def planned(request: Request, mill: Mill | None = None, book: Book = BOOK) -> Plan:
    """The plan, checked against what was asked."""
    mill = mill or sample_mill()
    plan = make_plan(book, mill, request, number="asked-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill, request)] == []
    return plan


def said(plan: Plan, book: Book, mill: Mill, request: Request | None = None) -> str:
    """What does not hold."""
    return "\n".join(str(finding) for finding in verify_plan(plan, book, mill, request))


def test_the_mill_s_values_hold_whoever_calls() -> None:
    """A plan asked for without a word of money is made at the mill's prices."""
    mill = priced()
    told = planned(Request(), mill).settings
    for name in ("under", "over", "trim_cost_per_t", "set_up", "knife_move", "currency"):
        assert getattr(told, name) == getattr(mill.values, name)
    assert (told.split_blocks, told.core_change_is_set_up, told.length_change_is_set_up) == (
        True, True, True,
    )  # fmt: skip


@pytest.mark.parametrize("name", [field.name for field in fields(Settings)])
def test_every_setting_is_checked(name: str) -> None:
    """A setting that is neither the mill's nor what was asked is found, whichever it is."""
    begin = datetime.fromisoformat("2026-03-01T07:00")
    request = Request(
        seed=3, effort=Effort.QUICK, time_limit_s=30.0, give_up_kg=20.0, start=begin, hours=40.0
    )
    told = settings_of(BOOK, priced(), request)
    plan = replace(sample_plan(), request=request, settings=told)
    what = f"settings: {name.replace('_', ' ')}: the plan says"
    assert what not in said(plan, BOOK, priced())
    held = getattr(told, name)
    if isinstance(held, bool):
        other: object = not held
    elif isinstance(held, Effort):
        other = Effort.THOROUGH
    elif isinstance(held, datetime):
        other = held + timedelta(hours=1)
    else:
        other = held * 2
    assert what in said(with_leaf(plan, ("settings", name), other), BOOK, priced())


def test_what_was_asked_is_what_the_plan_says() -> None:
    """A plan that answers another request does not hold, whatever it says of itself."""
    plan = sample_plan()
    asked = replace(plan.request, instructions=(CAP,))
    assert said(plan, sample_book(), sample_mill(), plan.request) == ""
    assert "request: what was asked" in said(plan, sample_book(), sample_mill(), asked)
    assert "instruction of the request: has an answer" in said(
        replace(plan, request=asked), sample_book(), sample_mill()
    )


def _answered(plan: Plan) -> RunPlan:
    (run,) = plan.runs
    return run


@cache
def _free() -> RunPlan:
    """The run without a cap."""
    return _answered(planned(Request()))


def test_a_cap_that_is_asked_is_answered_in_every_run() -> None:
    """Kept with its price, or not kept with why, the nearest and its price; never in silence."""
    few = min(point.patterns for point in _free().trade_off) - 1
    assert few < _free().set_ups
    run = _answered(planned(Request(instructions=(replace(CAP, number=few),))))
    (answer,) = run.instructions
    assert answer.kept
    assert run.set_ups <= few
    assert answer.price is not None
    run = _answered(planned(Request(instructions=(CAP,))))
    (answer,) = run.instructions
    assert not answer.kept
    assert answer.why
    assert answer.nearest == f"{run.set_ups} set-ups, as planned"
    assert answer.price is not None


def test_a_loose_cap_changes_nothing() -> None:
    """Where the plan keeps the cap anyway it is the plan without it."""
    loose = replace(CAP, number=_free().set_ups)
    run = _answered(planned(Request(instructions=(loose,))))
    assert run.blocks == _free().blocks
    assert run.instructions[0].price is not None
    assert run.instructions[0].price.found_kg == 0.0


def test_a_cap_holds_beside_what_is_given_for_a_set_up() -> None:
    """Of the plans within the cap the one that the prices choose."""
    give = Request(give_up_kg=1e6)
    fewest = _answered(planned(give))
    capped = replace(give, instructions=(replace(CAP, number=fewest.set_ups + 1),))
    assert _answered(planned(capped)).set_ups == fewest.set_ups


def test_what_the_book_lacks_is_left_out_and_named() -> None:
    """An order that is no more, a paper that nobody ordered: the plan is made, and says so."""
    gone = Instruction(row=4, what="apart", orders=("A", "Z"))
    book = replace(BOOK, instructions=(gone, Instruction(row=5, what="apart", orders=("A", "B"))))
    other = replace(CAP, grade="Sack kraft", grammage_gsm=120.0)
    plan = planned(Request(instructions=(other,)), book=book)
    assert [each.instruction.row for each in _answered(plan).instructions] == [5]
    why = {each.order: each.why for each in plan.left_out}
    assert why["instruction in row 4"] == '"Z" is no order of the book that can be planned'
    assert why["instruction of the request"] == "no order that can be planned is of its paper"
    silent = replace(plan, left_out=())
    assert "instruction in row 4: has an answer" in said(silent, book, sample_mill())


def test_the_check_tells_whether_a_cap_is_kept() -> None:
    """Neither a cap that is not kept may be called so, nor one that is be called left out."""
    request = Request(instructions=(replace(CAP, number=30), CAP))
    plan = planned(request)
    (run,) = plan.runs
    kept, left = run.instructions
    assert (kept.kept, left.kept) == (True, False)
    swapped = replace(
        run, instructions=(replace(kept, kept=False, why="so"), replace(left, kept=True))
    )
    found = said(replace(plan, runs=(swapped,)), BOOK, sample_mill())
    assert f"at most 30 set-ups: the plan says not kept; found {run.set_ups}" in found
    assert f"at most 0 set-ups: the plan says kept; found {run.set_ups}" in found


def test_the_shift_ends_once_and_after_it_begins() -> None:
    """Hours count from the beginning; the request goes before the book; nonsense is refused."""
    at = datetime.fromisoformat
    mill, book = sample_mill(), replace(BOOK, shift_ends=at("2026-03-01T14:00"))
    assert settings_of(book, mill, Request()).until == at("2026-03-01T14:00")
    assert settings_of(book, mill, Request(hours=3)).until == at("2026-03-01T09:00")
    later = Request(until=at("2026-03-01T22:00"))
    assert settings_of(book, mill, later).until == at("2026-03-01T22:00")
    with pytest.raises(RequestError, match="give one of them"):
        settings_of(book, mill, replace(later, hours=8))
    with pytest.raises(RequestError, match="without a zone"):
        settings_of(book, mill, Request(until=at("2026-03-01T14:00+01:00")))
    with pytest.raises(RequestError, match="no later than the shift's beginning"):
        settings_of(book, mill, Request(start=at("2026-03-01T14:00")))


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("time_limit_s", float("nan")), ("time_limit_s", "5"), ("time_limit_s", -1),
        ("give_up_kg", -5.0), ("hours", float("inf")), ("seed", 1.5), ("seed", -1),
        ("until", "2026-03-01 14:00"), ("start", date(2026, 3, 1)),
        ("instructions", "set-ups"), ("instructions", None), ("held", (1,)),
    ],
)  # fmt: skip
def test_a_value_of_a_script_is_one_or_is_refused(name: str, value: object) -> None:
    """Before the search, by its name, and not when the plan found is written."""
    asked = Request(**{name: value})  # type: ignore[arg-type]
    with pytest.raises(RequestError, match=f"^{name} "):
        settings_of(BOOK, sample_mill(), asked)


@pytest.mark.parametrize("paper", [{}, {"grade": "no such", "grammage_gsm": 120.0}])
def test_an_instruction_of_orders_names_their_paper(paper: dict[str, Any]) -> None:
    """Without it every run would look for orders that it has not."""
    book = sample_book()
    orders = tuple(order.number for order in book.orders[:2])
    asked = Instruction(what="apart", orders=orders, **paper)
    with pytest.raises(RequestError, match="not those of its orders"):
        settings_of(book, sample_mill(), Request(instructions=(asked,)))


def test_a_run_before_the_shift_is_found() -> None:
    """No set may begin before the shift does."""
    plan = sample_plan()
    late = replace(plan.request, start=datetime.fromisoformat("2026-03-02T07:00"))
    told = replace(plan.settings, start=late.start)
    found = said(replace(plan, request=late, settings=told), sample_book(), sample_mill())
    assert "starts after the shift begins" in found


def test_a_faulty_book_is_planned_only_where_that_is_asked() -> None:
    """A caller who says nothing gets the faults; so does one who leaves out all that there is."""
    faulty = sample_book()
    with pytest.raises(OrderBookError, match="row 8"):
        make_plan(faulty, sample_mill(), Request())
    with pytest.raises(OrderBookError, match="row 8"):
        make_plan(replace(faulty, orders=()), sample_mill(), Request(leave_out_faulty=True))
    plan = sample_plan()
    clean = replace(plan, request=replace(plan.request, leave_out_faulty=False))
    assert "request: a book without faults" in said(clean, faulty, sample_mill())
