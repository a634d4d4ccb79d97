"""A plan of the rest: what was run stands, numbers go on, nothing is lost, the check passes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.plan.planning.revising.conftest import Case
from trimopt import (
    Book,
    DoneSet,
    FailedCheckError,
    Plan,
    PlanError,
    Replan,
    RunPlan,
    WhatRan,
    replan,
    verify_plan,
    what_ran,
)
from trimopt.plan.model import Block, SetRow


def rows(run: RunPlan) -> list[tuple[Block, SetRow]]:
    """Every set of a run with its block."""
    return [(block, row) for block in run.blocks for row in block.sets]


def goes_on(answer: Replan, book: Book, case: Case) -> None:
    """What holds of every plan of the rest."""
    plan = answer.plan
    assert verify_plan(plan, book, case.mill) == ()
    for run in plan.runs:
        numbers = [row.number for _, row in rows(run)]
        assert numbers == sorted(set(numbers))
        balance = run.balance
        parts = (
            balance.delivered_kg + balance.surplus_kg + balance.edge_trim_kg
            + balance.pattern_trim_kg + balance.sheeter_kg + balance.butts_kg
            + balance.start_end_kg + balance.culls_kg
        )  # fmt: skip
        assert parts == pytest.approx(balance.used_kg, abs=0.1)
        metres = sum(jumbo.length_m - jumbo.carried_forward_m for jumbo in run.jumbos)
        paper_kg = float(run.jumbo_width_mm) * metres * run.grammage_gsm / 1e6
        assert paper_kg == pytest.approx(balance.used_kg, abs=0.1)
        names = [jumbo.name for jumbo in run.jumbos]
        assert len(set(names)) == len(names)


def done(plan: Plan, place: int, count: int) -> WhatRan:
    """The first sets of a run, as planned."""
    run = plan.runs[place]
    return WhatRan(
        sets=tuple(DoneSet(run=run.name, number=row.number) for _, row in rows(run)[:count])
    )


@pytest.mark.parametrize("place", [0, 1])
def test_what_was_run_stands_and_numbers_go_on(cases: tuple[Case, Case], place: int) -> None:
    """Half of the first run was run; jumbos, sets and knives go on from there."""
    case = cases[place]
    issued = case.plan.runs[0]
    half = len(rows(issued)) // 2
    answer = replan(case.plan, case.book, case.mill, done(case.plan, 0, half))
    goes_on(answer, case.book, case)
    now = next(run for run in answer.plan.runs if run.name == issued.name)
    for (was, before), (block, row) in zip(rows(issued)[:half], rows(now), strict=False):
        assert row == replace(before, done=True)
        assert (block.positions, block.knives_mm) == (was.positions, was.knives_mm)
    following = rows(now)[half:]
    last = rows(issued)[half - 1][1]
    assert [row.number for _, row in following] == list(range(half + 1, half + 1 + len(following)))
    assert following[0][1].start == last.finish
    on_unwind = next(use for use in issued.jumbos if use.name == last.stretches[-1].jumbo)
    if last.stretches[-1].to_m < on_unwind.wound_m:  # it was not the last set of its jumbo
        assert following[0][1].stretches[0].jumbo in {on_unwind.name, f"{on_unwind.name}"}
    assert answer.plan.replaces == case.plan.number


def test_spoiled_reels_are_owed_again(cases: tuple[Case, Case]) -> None:
    """A set that is lost whole, and reels of another: made again, and named in the balance."""
    case = cases[0]
    run = case.plan.runs[0]
    ran = what_ran(case.plan, ["1-4"], spoiled=["2:", "3:1"])
    answer = replan(case.plan, case.book, case.mill, ran)
    goes_on(answer, case.book, case)
    now = answer.plan.runs[0]
    kg = sum(
        float(position.width_mm) * row.length_m * run.grammage_gsm / 1e6
        for block, row in rows(now)
        for position in block.positions
        if position.number in row.spoiled
    )
    assert now.balance.culls_kg == pytest.approx(kg, abs=0.1)
    assert kg > 1000
    assert all(line.planned >= line.min_quantity for line in now.orders)


def test_the_book_as_it_is_now(cases: tuple[Case, Case]) -> None:
    """A line is new, one is cancelled, one is doubled: reels run for the second serve no order."""
    case = cases[0]
    reels = [
        position.order
        for block, _ in rows(case.plan.runs[0])[:4]
        for position in block.positions
        if position.kind == "reel"
    ]
    gone, more = list(dict.fromkeys(reels))[:2]
    orders = [
        replace(each, quantity=2 * each.quantity) if each.number == more else each
        for each in case.book.orders
        if each.number != gone
    ]
    first = case.book.orders[0]
    rush = replace(first, number="rush", width_mm=Fraction(701), quantity=Fraction(6))
    book = replace(case.book, orders=(*orders, rush))
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 4))
    goes_on(answer, book, case)
    run = answer.plan.runs[0]
    lines = {line.number: line for line in run.orders}
    assert gone not in lines
    assert lines["rush"].planned >= 5
    assert lines[more].planned >= lines[more].min_quantity
    for block, row in rows(run):
        for position in block.positions:
            assert (position.order == gone) <= (row.done and position.number in row.spoiled)


def test_a_set_wound_short_and_a_jumbo_measured_short(cases: tuple[Case, Case]) -> None:
    """The metres as they were: what is left on the unwind, and the next set, go on from them."""
    case = cases[0]
    run = case.plan.runs[0]
    block, row = rows(run)[1]
    use = next(use for use in run.jumbos if use.name == row.stretches[0].jumbo)
    wound_m = sum(
        part.to_m - part.from_m for _, each in rows(run)[:2] for part in each.stretches
        if part.jumbo == use.name
    )  # fmt: skip
    reels = tuple(p.number for p in block.positions if p.kind != "broke")
    torn = DoneSet(run=run.name, number=row.number, length_m=900, spoiled=reels)
    first = DoneSet(run=run.name, number=1)
    short_m = use.loss_start_m + wound_m + 500 + use.loss_end_m
    ran = WhatRan(sets=(first, torn), jumbo_m=((use.name, short_m),))
    answer = replan(case.plan, case.book, case.mill, ran)
    goes_on(answer, case.book, case)
    now = answer.plan.runs[0]
    assert rows(now)[1][1].length_m == 900
    assert next(j for j in now.jumbos if j.name == use.name).length_m == short_m


def test_what_cannot_have_run_is_named(cases: tuple[Case, Case]) -> None:
    """A set that is none of the plan, a run that is not named, reels that a set has not."""
    case, two = cases
    with pytest.raises(PlanError, match="no set 999"):
        replan(case.plan, case.book, case.mill, what_ran(case.plan, ["999"]))
    with pytest.raises(PlanError, match="put one before it"):
        what_ran(two.plan, ["1-3"])
    with pytest.raises(PlanError, match="lie at 1, 2"):
        what_ran(case.plan, ["1"], spoiled=["1:55"])
    with pytest.raises(PlanError, match="not said to have been run"):
        what_ran(case.plan, ["1"], spoiled=["2:"])


def test_a_set_done_after_one_that_is_not_is_found(cases: tuple[Case, Case]) -> None:
    """The check: sets done stand first, and only in a plan that goes on from another."""
    case = cases[0]
    run = case.plan.runs[0]
    last = run.blocks[-1]
    marked = replace(last, sets=(*last.sets[:-1], replace(last.sets[-1], done=True)))
    plan = replace(case.plan, runs=(replace(run, blocks=(*run.blocks[:-1], marked)),))
    findings = "\n".join(map(str, verify_plan(plan, case.book, case.mill)))
    assert "after others" in findings
    assert "goes on from no other" in findings
    assert FailedCheckError.exit_code == 7
