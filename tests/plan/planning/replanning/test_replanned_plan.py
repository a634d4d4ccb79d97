"""A plan of the rest: what was run stands, numbers go on, nothing is lost, the check passes."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from io import StringIO
from time import process_time

import pytest
from rich.console import Console

import trimopt
from tests.plan.planning.conftest import ROOT, Case
from tests.plan.planning.replanning.rests import done, goes_on, replan, rows, with_rush
from tests.slowness import slowness
from trimopt import (
    Budget,
    DoneSet,
    Effort,
    FailedCheckError,
    PlanError,
    Request,
    StockReel,
    WhatRan,
    make_plan,
    read_book,
    read_mill,
    verify_plan,
    what_ran,
)
from trimopt.book.model import JumboInStock
from trimopt.interrupt import ask_to_stop
from trimopt.paper import in_spans
from trimopt.plan.codec import plan_json
from trimopt.plan.difference import LabelSets, difference_of
from trimopt.progress import RunProgress
from trimopt.report.html.plan_page import page_html
from trimopt.report.terminal.plan_terminal import print_replan
from trimopt.report.words.replan_words import change_lines, figure_rows
from trimopt.report.words.units import Units


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
        assert row == replace(before, done=True, issued=case.plan.number)
        assert (block.positions, block.knives_mm) == (was.positions, was.knives_mm)
    following = rows(now)[half:]
    last = rows(issued)[half - 1][1]
    assert [row.number for _, row in following] == list(range(half + 1, half + 1 + len(following)))
    assert following[0][1].start == last.finish
    on_unwind = next(use for use in issued.jumbos if use.name == last.stretches[-1].jumbo)
    if last.stretches[-1].to_m < on_unwind.wound_m:  # it was not the last set of its jumbo
        assert following[0][1].stretches[0].jumbo in {on_unwind.name, f"{on_unwind.name}"}
    assert answer.plan.replaces == case.plan.number


@pytest.mark.parametrize(
    ("place", "ran"),
    [(0, "{0}: 1-2,{1}-{2}"), (0, "{0}: {1}"), (1, "{3}: 1-2"), (1, "{0}: 1;{3}: 1-2")],
)
def test_blocks_may_be_passed_over(cases: tuple[Case, Case], place: int, ran: str) -> None:
    """A block of the run, or a whole run, is left for later: knife moves are those that were."""
    case = cases[place]
    issued, names = case.plan.runs[0], [run.name for run in case.plan.runs]
    block = next(block for block in issued.blocks[2:] if len(block.sets) > 1)
    first, last = block.sets[0].number, block.sets[-1].number
    asked = ran.format(names[0], first, last, names[-1]).split(";")
    answer = replan(case.plan, case.book, case.mill, what_ran(case.plan, asked))
    goes_on(answer, case.book, case)


def test_spoiled_reels_are_owed_again(cases: tuple[Case, Case]) -> None:
    """A set that is lost whole, and reels of another: made again, and named in the balance.

    They are lost in every plan that goes on from there: in its loss and in its bound.
    """
    case = cases[0]
    run = case.plan.runs[0]
    ran = what_ran(case.plan, ["1-4"], spoiled=["2:", "3:1"])
    little = Request(effort=Effort.QUICK, time_limit_s=1)
    answer = trimopt.replan(
        case.plan, case.book, case.mill, ran, request=little, budget=Budget()
    )  # no clock: a bound that it ends is none
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
    assert now.proof.bound_kg > run.proof.bound_kg + 0.9 * kg
    assert now.proof.gap_kg < run.proof.gap_kg + 0.5 * kg
    assert all(line.planned >= line.min_quantity for line in now.orders)
    lines = list(change_lines(answer.plan, answer.difference))
    assert f"{run.name}: set 3 ran with a reel for no order: position 1" in lines
    places = in_spans([position.number for position in rows(now)[1][0].positions])
    assert f"{run.name}: set 2 ran with reels for no order: positions {places}" in lines
    later = difference_of(answer.plan, answer.plan)
    assert not any("for no order" in line for line in change_lines(answer.plan, later))
    page = " ".join(re.sub("<[^>]*>", " ", page_html(answer.plan, answer.difference)).split())
    for cells in figure_rows(answer.difference, Units(answer.plan.written)):
        assert " ".join(cells) in page


def test_work_ends_the_search_and_equal_input_gives_equal_plans(cases: tuple[Case, Case]) -> None:
    """However fast the machine: no clock runs, and what is asked for is little work.

    It ends in ten seconds of the processor at the usual speed of one.
    """
    case = cases[0]
    ran = what_ran(case.plan, ["1-4"], spoiled=["2:", "3:1"])
    request = Request(effort=Effort.QUICK, time_limit_s=1)
    max_s = 10 * slowness()

    def made() -> str:
        begun = process_time()
        answer = trimopt.replan(
            case.plan, case.book, case.mill, ran, request=request, budget=Budget()
        )
        assert process_time() - begun < max_s
        assert answer.plan.replanned is not None
        assert not answer.plan.replanned.cut_short
        read = re.compile(r'"(made_at|seconds)": [^,}\n]*')  # off the clock
        return read.sub("", plan_json(answer.plan))

    assert made() == made()


def _week_s_largest_run() -> Case:
    """Its first plan: what is gone on from need not be the best."""
    mill = read_mill(ROOT / "orders" / "mill.toml")
    book = read_book(ROOT / "orders" / "week.xlsx", mill)
    papers = Counter((order.grade, order.grammage_gsm) for order in book.orders)
    (paper, _), *_ = papers.most_common()
    orders = tuple(order for order in book.orders if (order.grade, order.grammage_gsm) == paper)
    book = replace(book, orders=orders)

    def observer(event: RunProgress) -> None:
        if event.loss_kg is not None:
            ask_to_stop()

    try:
        request = Request(effort=Effort.QUICK)
        return Case(book, mill, make_plan(book, mill, request, number="week-1", observer=observer))
    finally:
        ask_to_stop(yes=False)


def test_ctrl_c_gives_the_best_rest_so_far() -> None:
    """It is asked for as soon as one is told of: of the week's largest run within three seconds.

    They are those of the processor at its usual speed; on a slow one half as much again as the
    first plan of the run took. What is told before never falls back.
    """
    begun = process_time()
    case = _week_s_largest_run()
    max_s = max(3.0 * slowness(), 1.5 * (process_time() - begun))
    told: list[RunProgress] = []
    first: list[float] = []

    def observer(event: RunProgress) -> None:
        told.append(event)
        if event.loss_kg is not None:
            first.append(process_time() - begun)
            ask_to_stop()

    ran = what_ran(case.plan, ["1-20"], spoiled=["12"])
    begun = process_time()
    try:
        answer = trimopt.replan(case.plan, case.book, case.mill, ran, observer=observer)
    finally:
        ask_to_stop(yes=False)
    assert first[0] < max_s
    assert process_time() - begun < max_s + 2
    goes_on(answer, case.book, case)
    assert answer.plan.replanned is not None
    assert answer.plan.replanned.cut_short
    shares = [event.share for event in told]
    assert shares == sorted(shares)
    balance = answer.plan.runs[0].balance
    assert told[-1].loss_kg == pytest.approx(balance.used_kg - balance.delivered_kg)


def test_the_book_as_it_is_now(cases: tuple[Case, Case]) -> None:
    """A line is new, one is cancelled, one is doubled: reels run for the second serve no order.

    One lacks nothing, and could not be made: it is said all the same.
    """
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
    narrow = replace(first, number="elsewhere", width_mm=Fraction(120), made=first.quantity)
    book = replace(case.book, orders=(*orders, rush, narrow))
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 4))
    goes_on(answer, book, case)
    assert [each.order for each in answer.plan.left_out] == ["elsewhere"]
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


def test_with_nothing_changed_the_plan_stays(cases: tuple[Case, Case]) -> None:
    """However much was run: sets, layouts, lengths, jumbos, knives and times are as issued."""
    for case, few in zip(cases, (False, True), strict=True):
        last = len(rows(case.plan.runs[0]))
        for count in (last // 2,) if few else (0, 1, last // 2, last):
            answer = replan(case.plan, case.book, case.mill, done(case.plan, 0, count))
            goes_on(answer, case.book, case)
            assert answer.difference.sets == ()
            assert answer.forbidden == ()
            for was, now in zip(case.plan.runs, answer.plan.runs, strict=True):
                assert now.jumbos == was.jumbos
                assert now.balance == was.balance
                for before, block in zip(was.blocks, now.blocks, strict=True):
                    sets = tuple(replace(row, done=False, issued="") for row in block.sets)
                    assert replace(block, sets=sets) == before


def test_a_run_that_was_finished_is_taken_up_again(cases: tuple[Case, Case]) -> None:
    """A line of its paper comes while the next run is on: it waits for that one, and says so."""
    case = cases[1]
    first, second = case.plan.runs
    ran = what_ran(case.plan, [f"{first.name}: all", f"{second.name}: 1-2"])
    like = next(o for o in case.book.orders if o.number == first.orders[0].number)
    late = replace(like, number="late", quantity=Fraction(max(1, int(like.quantity) // 4)))
    book = replace(case.book, orders=(*case.book.orders, late))
    answer = replan(case.plan, book, case.mill, ran)
    goes_on(answer, book, case)
    again, current = answer.plan.runs
    assert (again.name, current.name) == (first.name, second.name)
    waiting = [row for _, row in rows(again) if not row.done]
    assert waiting
    assert waiting[0].start == current.finish
    assert any("taken up again" in note for note in again.notes)
    assert not any("taken up again" in note for note in current.notes)


def test_a_shift_that_ends(cases: tuple[Case, Case]) -> None:
    """What it has no hours for stays carried over; a rush line takes hours from what comes last."""
    two = cases[1]
    few = [each for each in two.book.orders if each.number[-1] in "123"]
    two = replace(two, book=replace(two.book, orders=tuple(few)))
    request = Request(effort=Effort.QUICK, hours=3)
    plan = make_plan(two.book, two.mill, request, number="week-2")
    assert "carried over" in {line.state for run in plan.runs for line in run.orders}
    case = replace(two, plan=plan)
    answer = replan(plan, two.book, two.mill, done(plan, 0, 2))
    goes_on(answer, two.book, case)
    assert answer.difference.sets == ()
    assert answer.difference.orders == ()
    book = with_rush(case)
    answer = replan(plan, book, two.mill, done(plan, 0, 2))
    goes_on(answer, book, case)
    until = plan.settings.until
    assert until is not None
    assert all(
        row.finish <= until for run in answer.plan.runs for _, row in rows(run) if row.finish
    )


def test_a_new_line_of_which_nothing_is_lacking_changes_nothing(cases: tuple[Case, Case]) -> None:
    """It was made elsewhere, of a width that this winder takes too."""
    case = cases[0]
    like = next(each for each in case.book.orders if each.unit.value == "reels")
    made = replace(like, number="made", made=like.quantity)
    book = replace(case.book, orders=(*case.book.orders, made))
    answer = replan(case.plan, book, case.mill, WhatRan())
    assert verify_plan(answer.plan, book, case.mill) == ()
    assert [row.number for _, row in rows(answer.plan.runs[0])] == [
        row.number for _, row in rows(case.plan.runs[0])
    ]


def test_the_rest_of_a_jumbo_listed_anew_is_warned_of(cases: tuple[Case, Case]) -> None:
    """By a name of its own, as long as what is on the unwind; one of another length is not."""
    case = cases[0]
    run = case.plan.runs[0]
    last = run.sets[2].stretches[-1]
    use = next(each for each in run.jumbos if each.name == last.jumbo)
    left_m = use.length_m - use.loss_start_m - last.to_m
    anew = JumboInStock(
        name="rest", grade=run.grade, grammage_gsm=run.grammage_gsm, width_mm=use.width_mm,
        length_m=left_m + 20, loss_start_m=20, loss_end_m=80,
    )  # fmt: skip
    book = replace(case.book, jumbos=(anew, replace(anew, name="M-1", length_m=left_m + 3_000)))
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 3))
    (warning,) = answer.warnings
    assert warning.startswith("jumbo rest is new in the book")
    assert f"{left_m:,} m are left of {use.name}" in warning


def test_reels_found_in_stock_and_jumbos_left_are_said(cases: tuple[Case, Case]) -> None:
    """Of an order that gets fewer reels the rest comes from stock: it is not short of them."""
    case = cases[0]
    order = next(each for each in case.book.orders if each.number == "4801-05")
    row = next(r for b, r in rows(case.plan.runs[0]) if "4801-05" in {p.order for p in b.positions})
    reels = tuple(
        StockReel(
            name=name, grade=order.grade, grammage_gsm=order.grammage_gsm, width_mm=order.width_mm,
            diameter_mm=row.diameter_mm, length_m=row.length_m, core_mm=order.core_mm or 152.0,
        )
        for name in ("S-1", "S-2")
    )  # fmt: skip
    narrow = JumboInStock(
        name="N-1", grade=order.grade, grammage_gsm=order.grammage_gsm, width_mm=Fraction(1000),
        length_m=9000, loss_start_m=0, loss_end_m=0,
    )  # fmt: skip
    plain = replace(order, customer="")
    orders = tuple(plain if each is order else each for each in case.book.orders)
    book = replace(case.book, orders=orders, stock=reels, jumbos=(narrow,))
    answer = replan(case.plan, book, case.mill, WhatRan())
    console = Console(file=StringIO(), width=400)
    print_replan(answer, console)
    said = console.file.getvalue()  # type: ignore[attr-defined]
    assert re.search(r"4801-05: 29 reels .* to 2[5-9] reels \(.*\) and 2 reels from stock", said)
    assert "S-2: 905 mm" in said
    assert "N-1" in said.partition("Listed jumbos not used")[2]
    labels = (LabelSets(run="A", destroy=(16,), reprint=(16, 17)),)
    lines = list(change_lines(answer.plan, replace(answer.difference, labels=labels)))
    assert lines[-2].startswith("A: destroy the labels of set 16 of ")
    assert lines[-1] == "A: print the labels of sets 16–17"


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
    torn = WhatRan(sets=(DoneSet(run=case.plan.runs[0].name, number=1, spoiled=(55,)),))
    with pytest.raises(PlanError, match="its reels lie at 1, 2"):
        replan(case.plan, case.book, case.mill, torn)


def test_a_jumbo_on_the_unwind_is_not_of_another_width_from_its_start(
    cases: tuple[Case, Case],
) -> None:
    """What is left of it may be: it is listed apart, as the message says; sets fit on it."""
    case = cases[0]
    run = case.plan.runs[0]
    use, ran = run.jumbos[0], done(case.plan, 0, 1)
    gone_m = use.loss_start_m + run.blocks[0].sets[0].length_m
    whole = JumboInStock(
        name=use.name, grade=run.grade, grammage_gsm=run.grammage_gsm,
        width_mm=use.width_mm - 40, length_m=use.length_m, loss_start_m=use.loss_start_m,
        loss_end_m=80,
    )  # fmt: skip
    said = f"list {gone_m} m of it at 4680 mm .* the other {use.length_m - gone_m} m under another"
    with pytest.raises(PlanError, match=said):
        replan(case.plan, replace(case.book, jumbos=(whole,)), case.mill, ran)
    gone = replace(whole, width_mm=use.width_mm, length_m=gone_m, loss_end_m=0)
    left = replace(whole, name="rest", length_m=use.length_m - gone_m, loss_start_m=0)
    answer = replan(case.plan, replace(case.book, jumbos=(gone, left)), case.mill, ran)
    on_it = [
        block.across_mm + 40 for block, row in rows(answer.plan.runs[0]) if "rest" in row.jumbos
    ]
    assert on_it
    assert max(on_it) <= left.width_mm


@pytest.mark.parametrize(("left", "head"), [(None, 1), ("N-1", 4), ("second", 1)])
def test_no_more_jumbos_come(cases: tuple[Case, Case], left: str | None, head: int) -> None:
    """From now on only listed ones: what was run off nominal ones stands; orders may be short."""
    case = cases[0]
    run = case.plan.runs[0]
    known = [jumbo.name for jumbo in run.jumbos]
    odd = JumboInStock(
        name=known[1] if left == "second" else "N-1", grade=run.grade,
        grammage_gsm=run.grammage_gsm, width_mm=run.jumbo_width_mm - 60, length_m=9000,
        loss_start_m=120, loss_end_m=80,
    )  # fmt: skip
    jumbos = () if left is None else (odd,)
    book = replace(case.book, only_listed_jumbos=True, jumbos=jumbos)
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, head))
    goes_on(answer, book, case)
    (after,) = answer.plan.runs
    opened = {part.jumbo for row in run.sets[:head] for part in row.stretches}
    assert {jumbo.name for jumbo in after.jumbos} <= opened | {each.name for each in jumbos}
    assert after.jumbo_width_mm == run.jumbo_width_mm


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
