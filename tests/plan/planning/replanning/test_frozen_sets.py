"""Sets that start so soon that they stay as issued."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import replan
from trimopt import DoneSet, WhatRan
from trimopt.plan.planning.replanning.frozen_sets import FrozenSets, KeptSets
from trimopt.plan.planning.replanning.kept_sets import MayStay
from trimopt.plan.planning.replanning.replanned_plan import _forbidden
from trimopt.plan.planning.replanning.standing import standing_runs
from trimopt.plan.planning.replanning.tried_rest import ChosenRest
from trimopt.plan.planning.replanning.whole_run import Rest


def _kept(case: Case, gone: range, keep_until: datetime) -> KeptSets:
    """The first set of the first run was run, and some others cannot stay."""
    run = case.plan.runs[0]
    ran = WhatRan(sets=(DoneSet(run=run.name, number=1),))
    (standing, *_) = standing_runs(case.plan, case.book, case.mill, ran)
    stay = (
        replace(block, sets=tuple(row for row in block.sets if row.number not in gone))
        for block in standing.tail
    )
    start = standing.head[-1].sets[-1].finish
    assert start is not None
    return FrozenSets(
        case=standing,
        stay=MayStay(blocks=tuple(block for block in stay if block.sets)),
        name=run.jumbos[0].name.rpartition(" ")[0],
        settings=case.plan.settings,
        start=start,
        before=None,
        keep_until=keep_until,
    ).found()


def _numbers(kept: KeptSets) -> list[int]:
    return [row.number for block in kept.frozen for row in block.sets]


def test_a_set_that_moves_up_because_others_go_is_not_frozen(cases: tuple[Case, Case]) -> None:
    """Only what was to start soon as issued: the crew holds nothing of what moves up."""
    start = cases[0].plan.settings.start
    assert start is not None
    kept = _kept(cases[0], range(3, 10), start + timedelta(minutes=60))
    assert _numbers(kept) == [2]
    rest = [row.number for block in kept.tail for row in block.sets]
    assert rest == list(range(10, rest[-1] + 1))


def test_frozen_sets_leave_no_jumbos_half_wound(cases: tuple[Case, Case]) -> None:
    """Most sets of the first two jumbos are gone: what stays is wound end to end."""
    start = cases[0].plan.settings.start
    assert start is not None
    kept = _kept(cases[0], range(3, 10), start + timedelta(hours=24))
    assert not kept.tail
    wound_m = sum(row.length_m for block in kept.ahead.head for row in block.sets)
    assert wound_m == sum(kept.ahead.wound_m.values())
    longest_m = max(row.length_m for block in kept.frozen for row in block.sets)
    assert kept.ahead.taken_m - wound_m < longest_m * len(kept.ahead.opened)


def test_soon_or_not_an_order_that_asks_for_less_gets_no_more_than_it_may(
    cases: tuple[Case, Case],
) -> None:
    """Of the sets of the next hour those that it needs stay, the others are named."""
    case = cases[0]
    run = case.plan.runs[0]
    by_set = {
        row.number: sum(position.order == "4801-01" for position in block.positions)
        for block in run.blocks
        for row in block.sets
    }
    first = min(number for number, reels in by_set.items() if reels)
    less = [
        replace(order, quantity=Fraction(by_set[first]), under=Fraction(0), over=Fraction(0))
        if order.number == "4801-01"
        else order
        for order in case.book.orders
    ]
    ran = WhatRan(sets=tuple(DoneSet(run=run.name, number=n) for n in range(1, first)))
    answer = replan(case.plan, replace(case.book, orders=tuple(less)), case.mill, ran)
    after = answer.plan.runs[0]
    (line,) = (line for line in after.orders if line.number == "4801-01")
    assert line.planned == by_set[first]
    at = {row.number: block for block in after.blocks for row in block.sets}
    was = {row.number: block for block in run.blocks for row in block.sets}
    assert at[first].positions == was[first].positions
    assert any("ask for less" in said for said in answer.forbidden)


def test_a_set_that_could_not_stay_and_runs_all_the_same_is_not_named(
    cases: tuple[Case, Case],
) -> None:
    """What was refused by itself may come back as the best rest, as the crew holds it."""
    plan = cases[0].plan
    (run,) = plan.runs
    case: Any = SimpleNamespace(run=run, tail=run.blocks)
    frozen: Any = SimpleNamespace(stay=MayStay(refused={"too much": [1, 2]}), freed=())
    found = ChosenRest(rest=Rest(orders=case.run, jumbos={}))
    assert list(_forbidden(case, frozen, found, plan)) == []
    blocks = tuple(
        replace(block, sets=tuple(row for row in block.sets if row.number != 2))
        for block in run.blocks
    )
    without = replace(plan, runs=(replace(run, blocks=blocks),))
    assert list(_forbidden(case, frozen, found, without)) == [f"{run.name}, set 2: too much"]


def test_a_set_that_goes_is_named_though_one_like_it_stays(cases: tuple[Case, Case]) -> None:
    """Of two sets of one pattern and length the order asks for the first alone."""
    (run,) = cases[0].plan.runs
    block = next(block for block in run.blocks if len(block.sets) > 1)
    one, two = (replace(row, length_m=block.length_m) for row in block.sets[:2])
    stay, freed = replace(block, sets=(one,)), replace(block, sets=(two,))
    case: Any = SimpleNamespace(run=run, tail=(stay, freed))
    frozen: Any = SimpleNamespace(stay=MayStay(blocks=(stay,)), freed=(freed,))
    found = ChosenRest(rest=Rest(blocks=(stay,), orders=case.run, jumbos={}))
    said = list(_forbidden(case, frozen, found, cases[0].plan))
    assert said == [f"{run.name}, set {two.number}: their orders ask for less"]
