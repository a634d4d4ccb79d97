"""Jumbos unlike the others in a plan of the rest: which are wound, and beside what."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import done, goes_on, replan, rest_search, rows, with_rush
from tests.shifts.afresh import lost_kg
from tests.shifts.must_hold import set_key
from trimopt import Budget, Effort, JumboInStock, Order, Request, make_plan
from trimopt.book.model import Defect
from trimopt.plan.model import JumboUse
from trimopt.plan.planning.replanning import odd_rest
from trimopt.plan.planning.replanning.odd_rest import OddRest, TriedWay
from trimopt.plan.planning.replanning.tried_rest import ChosenRest
from trimopt.plan.planning.replanning.whole_run import Rest
from trimopt.plan.planning.run_jumbos import stock_jumbo
from trimopt.plan.planning.run_patterns import RunTask
from trimopt.winding import Butt


def _narrow(order: Order) -> JumboInStock:
    """A jumbo for an order, 20 mm narrower than nominal."""
    return JumboInStock(
        name="N-1", grade=order.grade, grammage_gsm=order.grammage_gsm,
        width_mm=Fraction(4660), length_m=16_690, loss_start_m=100, loss_end_m=100,
    )  # fmt: skip


def test_a_new_jumbo_that_is_not_worth_winding_leaves_the_others(
    cases: tuple[Case, Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of two narrow ones the sets that lack fill one, and four fifths of the other would be lost.

    It alone is passed by, and the first is filled without it.
    """
    case = cases[0]
    narrow = _narrow(case.book.orders[0])
    book = replace(with_rush(case), jumbos=(narrow, replace(narrow, name="N-2")))
    search = rest_search(case, book)
    filled: list[set[str]] = []

    def part(task: RunTask) -> Any:
        filled.append({each.name for each in task.stock})
        if "N-2" not in filled[-1]:
            return None  # what it is filled with is not looked at
        left = {"N-1": 90, "N-2": 13_000}
        butts = [
            Butt(
                jumbo=stock_jumbo(each), wound_m=16_490 - left[each.name],
                left_m=left[each.name], carried_forward=False,
            )
            for each in task.stock
        ]  # fmt: skip
        return SimpleNamespace(stage=SimpleNamespace(butts_before=lambda **_: butts))

    monkeypatch.setattr(odd_rest, "odd_part_of", part)
    rest = OddRest(case=search.case, tail=search.tail, search=lambda *_: search)
    rest._filled(0, search.tail, Budget())
    assert filled == [{"N-1", "N-2"}, {"N-1"}]


def test_a_poor_plan_on_an_odd_jumbo_is_left_though_nothing_changes(
    cases: tuple[Case, Case],
) -> None:
    """Made for a winder of four knives, it winds two reels a set; with its fourteen four go in."""
    mill = cases[0].mill
    four = replace(mill, winders=(replace(mill.winders[0], knives=4),))
    like = next(each for each in cases[0].book.orders if each.number == "4801-01")
    line = replace(like, number="1150", width_mm=Fraction(1150), quantity=Fraction(24))
    narrow = _narrow(like)
    book = replace(cases[0].book, orders=(line,), jumbos=(narrow,), instructions=())
    plan = make_plan(book, four, Request(effort=Effort.QUICK), number="shift-1")
    assert any("N-1" in row.jumbos for _, row in rows(plan.runs[0]))
    answer = replan(plan, book, mill, keep_until=plan.settings.start)
    goes_on(answer, book, cases[0])
    assert lost_kg(plan) > 15_000
    assert lost_kg(answer.plan) < 1_000
    assert answer.plan.replanned is not None
    assert answer.plan.replanned.gained_by_changing > 0


def test_no_block_changes_to_use_up_an_odd_jumbo() -> None:
    """Of two rests the one that costs less is chosen, though the other winds more odd paper."""
    nothing: Any = None
    rests = [Rest(orders=nothing, jumbos={}, notes=(name,)) for name in ("used", "left")]
    jumbo = JumboUse(
        name="N-1", width_mm=Fraction(4660), length_m=16_690, wound_m=16_490, winder="W",
        butt_m=0, carried_forward_m=0, nominal=False, loss_start_m=120, loss_end_m=80,
    )  # fmt: skip
    runs = {
        "used": SimpleNamespace(jumbos=(jumbo,), orders=(), blocks=(), grammage_gsm=250, cost=900),
        "left": SimpleNamespace(jumbos=(), orders=(), blocks=(), grammage_gsm=250, cost=800),
    }
    search: Any = SimpleNamespace(
        whole=lambda rest: runs[rest.notes[0]],
        objective=SimpleNamespace(cost_of_plan=lambda run: run.cost, per_kg=1.0),
        disturbance=150.0,
    )
    case: Any = SimpleNamespace(jumbos=SimpleNamespace(odd=(jumbo,)), tail=())
    odd = OddRest(case=case, tail=(), search=lambda *_: search)
    used, left = (odd.ranked(ChosenRest(rest=rest)).rank for rest in rests)
    assert left < used


@pytest.mark.parametrize(("orders", "last"), [(9, [None]), (10, [])])
def test_of_few_orders_all_is_planned_anew_though_no_work_is_left(
    monkeypatch: pytest.MonkeyPatch, orders: int, last: list[None]
) -> None:
    """The first way spent what there was: others that fill odd jumbos are passed over."""
    tried: list[object] = []

    def way(_: object, number: int, beside: object, budget: Budget) -> TriedWay:
        tried.append(beside)
        budget.work += 0.9
        nothing: Any = None
        chosen = ChosenRest(rest=Rest(orders=nothing, jumbos={}))
        return TriedWay(chosen=chosen, rank=(0, 0, 0, 9.0 - number), cost=9.0 - number)

    monkeypatch.setattr(OddRest, "_ways", lambda _: iter(((1,), (), None)))
    monkeypatch.setattr(OddRest, "_tried", way)
    nobody: Any = None
    case: Any = SimpleNamespace(run=SimpleNamespace(orders=range(orders)))
    found = OddRest(case=case, tail=(), search=nobody).best(Budget(max_work=0.6))
    assert tried == [(1,), *last]
    assert found.gained == len(last) * 2.0


@pytest.mark.parametrize("kept_for_min", [0, 90])
def test_sets_on_other_jumbos_stay_where_one_is_cut_anew(
    cases: tuple[Case, Case], kept_for_min: int
) -> None:
    """A hole in the first of two narrow jumbos is no reason to cut the second one anew.

    What starts soon stays whatever it costs, on nominal jumbos too.
    """
    case = cases[0]
    narrow = _narrow(case.book.orders[0])
    other = replace(narrow, name="N-2", length_m=9_000)
    book = replace(case.book, jumbos=(narrow, other), instructions=())
    plan = make_plan(book, case.mill, Request(effort=Effort.QUICK), number="shift-1")
    on = [{*row.jumbos} for _, row in rows(plan.runs[0])]
    assert on[0] == {"N-1"}
    assert {"N-2"} in on
    hole = Defect(from_m=9_000, to_m=9_300, from_mm=Fraction(0), to_mm=narrow.width_mm, what="hole")
    book = replace(book, jumbos=(replace(narrow, defects=(hole,)), other))
    ran = done(plan, 0, 1)
    now = rows(plan.runs[0])[0][1].finish
    assert now is not None
    until = now + timedelta(minutes=kept_for_min)
    answer = replan(plan, book, case.mill, ran, keep_until=until)
    goes_on(answer, book, case)
    after = Counter(set_key(*each) for each in rows(answer.plan.runs[0]))
    for block, row in rows(plan.runs[0]):
        soon = row.start is not None and row.start < until and "N-1" not in row.jumbos
        if soon or "N-2" in row.jumbos:
            assert after[set_key(block, row)], row.number
            after[set_key(block, row)] -= 1
