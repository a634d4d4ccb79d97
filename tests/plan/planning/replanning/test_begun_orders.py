"""An order that was made in part, and of which nothing more can be made: short, with the reason."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.plan.planning.conftest import ROOT, Case
from tests.plan.planning.replanning.rests import done, goes_on, replan
from trimopt import (
    DoneSet,
    Effort,
    Instruction,
    PlanError,
    Request,
    RunPlan,
    WhatRan,
    make_plan,
    read_book,
    read_mill,
    verify_plan,
    what_ran,
)
from trimopt.book.model import InstructionPiece
from trimopt.plan.planning.replanning.issued_places import in_places
from trimopt.plan.planning.replanning.standing import standing_runs
from trimopt.plan.planning.replanning.whole_run import Rest, whole_run
from trimopt.plan.states import OrderState

_OUTER, _INNER = "A-1", "B-1"


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Case:
    """Reels that may not lie at an edge, between those of the one other order."""
    path: Path = tmp_path_factory.mktemp("begun") / "begun.csv"
    path.write_text(
        "As of;2026-11-23\n"
        "Order;Grade;Grammage [g/m²];Product;Width across [mm];Max. diameter [mm];Core [mm];"
        "Quantity;Unit;Keep off edge\n"
        f"{_OUTER};Folding boxboard;250;reel;1540;1250;152;12;reels;\n"
        f"{_INNER};Folding boxboard;250;reel;1540;1250;152;6;reels;yes\n",
        encoding="utf-8",
    )
    text = (ROOT / "orders" / "mill.toml").read_text(encoding="utf-8")
    mill_path = path.with_name("mill.toml")
    mill_path.write_text(text.replace("max_edge_trim_mm = 60\n", ""), encoding="utf-8")
    mill = read_mill(mill_path)
    book = read_book(path, mill)
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="begun-1")
    return Case(book, mill, plan)


def test_what_lies_in_no_pattern_any_more_is_short(begun: Case) -> None:
    """The order beside which it lay is cancelled: what was run of it stands."""
    orders = tuple(each for each in begun.book.orders if each.number == _INNER)
    book = replace(begun.book, orders=orders)
    ran = what_ran(begun.plan, ["1-2"])
    answer = replan(begun.plan, book, begun.mill, ran)
    assert verify_plan(answer.plan, book, begun.mill) == ()
    (run,) = answer.plan.runs
    line = next(each for each in run.orders if each.number == _INNER)
    assert line.planned == 2
    assert line.state is OrderState.SHORT
    assert "it may not lie at an edge" in line.text
    assert not answer.plan.left_out


def test_where_nothing_can_be_made_any_more_what_ran_stands(begun: Case) -> None:
    """The hoist of the shift takes no set at all, or the one order left no reel."""
    (order,) = (each for each in begun.book.orders if each.number == _OUTER)
    light = replace(begun.book, orders=(replace(order, max_reel_mass_kg=10.0),))
    alone = replace(begun.book, orders=(order,))
    winder = replace(begun.mill.winders[0], max_set_mass_kg=100.0)
    weak = replace(begun.mill, winders=(winder,))
    for book, mill in ((alone, weak), (light, begun.mill)):
        answer = replan(begun.plan, book, mill, what_ran(begun.plan, ["1-2"]))
        assert verify_plan(answer.plan, book, mill) == ()
        (run,) = answer.plan.runs
        assert [row.number for row in run.sets] == [1, 2]
        named = [line.number for line in run.orders], [row.order for row in answer.plan.left_out]
        assert named in (([_OUTER], []), ([], [_OUTER]))


def test_a_set_wound_short_where_a_change_of_length_is_a_set_up(begun: Case) -> None:
    """Sets still to run keep the length of their block; a web break did not ask."""
    winder = replace(begun.mill.winders[0], length_change_is_set_up=True)
    mill = replace(begun.mill, winders=(winder,))
    plan = make_plan(begun.book, mill, Request(effort=Effort.QUICK), number="begun-2")
    (run,) = plan.runs
    reels = tuple(position.number for position in run.blocks[0].reels)
    short = DoneSet(run=run.name, number=1, length_m=900, spoiled=reels)
    answer = replan(plan, begun.book, mill, WhatRan(sets=(short,)))
    assert verify_plan(answer.plan, begun.book, mill) == ()
    assert {row.length_m for row in answer.plan.runs[0].sets if row.done} == {900}


def test_instructions_may_name_an_order_that_is_filled(begun: Case) -> None:
    """Its width stays forbidden beside the other's; both were in a set that ran, now in none."""
    filled, other = begun.book.orders
    pair = filled.number, other.number
    paper: dict[str, Any] = {"grade": filled.grade, "grammage_gsm": filled.grammage_gsm}
    pieces = tuple(InstructionPiece(count=1, order=number) for number in pair)
    asked = (
        Instruction(what="forbid", pattern=pieces, **paper),
        Instruction(what="pin", pattern=pieces, number=1, **paper),
        Instruction(what="together", orders=pair, **paper),
        Instruction(what="apart", orders=pair, **paper),
    )
    orders = replace(filled, made=2 * filled.quantity), replace(other, no_edge=False)
    book = replace(begun.book, orders=orders, instructions=asked)
    answer = replan(begun.plan, book, begun.mill, what_ran(begun.plan, ["1"]))
    assert verify_plan(answer.plan, book, begun.mill) == ()
    answers = answer.plan.runs[0].instructions
    assert [one.kept for one in answers] == [True, False, False, False]
    assert not any("by hand" in one.why for one in answers)
    assert answer.difference.given_up == tuple(one.name for one in asked[1:])


@pytest.mark.parametrize("knives", [4, 8, 16])
def test_a_winder_of_other_knives_than_the_sets_ran_with(begun: Case, knives: int) -> None:
    """A knife is out of service: what ran stands, and the rest is set up with what is there."""
    mill = replace(begun.mill, winders=(replace(begun.mill.winders[0], knives=knives),))
    rush = replace(begun.book.orders[0], number="rush", width_mm=Fraction(1000))
    book = replace(begun.book, orders=(*begun.book.orders, rush))
    answer = replan(begun.plan, book, mill, what_ran(begun.plan, ["1-2"]))
    assert verify_plan(answer.plan, book, mill) == ()
    run = answer.plan.runs[0]
    assert run.knife_moves > 0
    assert {len(block.beam_mm) for block in run.blocks[1:]} == {knives}


def test_knives_that_stood_closer_than_they_may_by_now(begun: Case) -> None:
    """What limits a set that is to run is not asked of the knives of one that has run."""
    narrow = replace(begun.book.orders[1], width_mm=Fraction(500), no_edge=False)
    book = replace(begun.book, orders=(replace(narrow, quantity=Fraction(18)),))
    plan = make_plan(book, begun.mill, Request(effort=Effort.QUICK), number="begun-3")
    winder = replace(begun.mill.winders[0], min_knife_spacing_mm=Fraction(600))
    mill = replace(begun.mill, winders=(winder,))
    book = replace(book, orders=(*book.orders, begun.book.orders[0]))
    answer = replan(plan, book, mill, what_ran(plan, ["all"]))
    assert verify_plan(answer.plan, book, mill) == ()
    assert answer.difference.sets


def test_nominal_jumbos_are_of_another_length_by_now(begun: Case) -> None:
    """One on the unwind stands as it is; those to come are as the mill file says."""
    mill = replace(begun.mill, jumbo=replace(begun.mill.jumbo, length_m=12_000))
    answer = replan(begun.plan, begun.book, mill, what_ran(begun.plan, ["1"]))
    assert verify_plan(answer.plan, begun.book, mill) == ()
    lengths = [jumbo.length_m for jumbo in answer.plan.runs[0].jumbos]
    assert lengths[0] == begun.plan.runs[0].jumbos[0].length_m
    assert set(lengths[1:]) == {12_000}


def test_a_begun_run_of_which_every_line_is_cancelled_ends_with_what_ran(
    cases: tuple[Case, Case],
) -> None:
    """Its reels serve nobody, the other run follows as issued, and the plan can go on again."""
    case = cases[1]
    begun, other = case.plan.runs
    ordered = {line.number for line in other.orders}
    book = replace(case.book, orders=tuple(o for o in case.book.orders if o.number in ordered))
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 3))
    goes_on(answer, book, case)
    stands, follows = answer.plan.runs
    assert [row.number for row in stands.sets if row.done] == [1, 2, 3] == _numbers(stands)
    assert (stands.orders, stands.balance.delivered_kg) == ((), 0)
    assert _numbers(follows) == _numbers(other)
    assert all("cancelled" in why for why in answer.forbidden)
    again = replan(replace(answer.plan, number="week-2"), book, case.mill)
    assert [len(run.sets) for run in again.plan.runs] == [3, len(other.sets)]
    gone = replace(case.mill, grades=tuple(g for g in case.mill.grades if g.name != begun.grade))
    with pytest.raises(PlanError, match=f"no grade {begun.grade} any more"):
        replan(case.plan, book, gone, done(case.plan, 0, 3))


def _numbers(run: RunPlan) -> list[int]:
    return [row.number for row in run.sets]


def test_an_order_does_not_need_sales_for_want_of_lengths_that_are_known(tmp_path: Path) -> None:
    """Sets of another length give too much; at one of the plan as issued as many land inside."""
    path = tmp_path / "narrow.csv"
    path.write_text(
        "As of;2026-11-23\n"
        "Order;Grade;Grammage [g/m²];Product;Width across [mm];Max. diameter [mm];Core [mm];"
        "Quantity;Unit;Under tolerance [%];Over tolerance [%]\n"
        f"{_OUTER};Folding boxboard;250;reel;1540;1250;152;3.3;t;0.3 %;0.3 %\n"
        f"{_INNER};Folding boxboard;250;reel;1540;1250;152;9;reels;;\n",
        encoding="utf-8",
    )
    mill = read_mill(ROOT / "orders" / "mill.toml")
    book = read_book(path, mill)
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="narrow-1")
    case = standing_runs(plan, book, mill, WhatRan())[0]
    issued, jumbos = in_places(case, case.tail) or ((), {})
    blocks = tuple(
        replace(each, length_m=2900, sets=tuple(replace(row, length_m=2900) for row in each.sets))
        for each in issued
    )
    start, lengths = plan.settings.start, ((blocks[0].core_mm, 2900),)
    assert start is not None
    rest = Rest(orders=case.run, blocks=blocks, lengths=lengths, jumbos=jumbos)
    run = whole_run(case, rest, settings=plan.settings, start=start, before=None)
    assert [line.state for line in run.orders] == [OrderState.OVER, OrderState.MET]
