"""Sets on the jumbos on which they were issued."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest

from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import done, goes_on, replan, rows, with_rush
from trimopt import Book, DoneSet, Effort, JumboInStock, Request, WhatRan, make_plan
from trimopt.book.model import Defect
from trimopt.plan.difference import difference_of
from trimopt.plan.model import Block
from trimopt.plan.planning.replanning.issued_places import IssuedPlaces, in_places
from trimopt.plan.planning.replanning.kept_sets import end_to_end
from trimopt.plan.planning.replanning.sets_changed import as_held
from trimopt.plan.planning.replanning.standing import Standing, standing_runs
from trimopt.report.words.replan_words import change_lines


def _standing(case: Case) -> Standing:
    """The first run with the sets of its first jumbo run."""
    run = case.plan.runs[0]
    first = run.jumbos[0].name
    ran = WhatRan(
        sets=tuple(
            DoneSet(run=run.name, number=row.number)
            for block in run.blocks
            for row in block.sets
            if row.stretches[0].jumbo == first
        )
    )
    return standing_runs(case.plan, case.book, case.mill, ran)[0]


def _of_jumbo(blocks: tuple[Block, ...], name: str) -> list[int]:
    return [r.number for b in blocks for r in b.sets if name in {p.jumbo for p in r.stretches}]


def test_sets_of_later_jumbos_stay_where_earlier_ones_go(cases: tuple[Case, Case]) -> None:
    """The first set of a jumbo is given up: those behind it move up on it, all others stay."""
    standing = _standing(cases[0])
    gone, name = standing.tail[0].sets[0], standing.tail[0].sets[0].stretches[0].jumbo
    blocks = tuple(
        replace(block, sets=tuple(row for row in block.sets if row is not gone))
        for block in standing.tail
    )
    found = in_places(standing, blocks)
    assert found is not None
    laid, jumbos = found
    was = {row.number: row for block in blocks for row in block.sets}
    of_jumbo = _of_jumbo(laid, name)
    assert of_jumbo
    for row in (row for block in laid for row in block.sets):
        before = was[row.number]
        assert (row == before) == (row.number not in of_jumbo)
        assert row.length_m == before.length_m
    assert set(jumbos) == {p.jumbo for b in laid for r in b.sets for p in r.stretches}
    gone_m = sum(use.usable_m for use in jumbos.values() if use.name == name)
    assert standing.after(laid, jumbos).reached_m[name] == gone_m - gone.length_m


def test_blocks_of_which_no_set_finds_paper_are_passed_over(cases: tuple[Case, Case]) -> None:
    """Blocks that are laid keep their place among all, though one before them is not."""
    standing = _standing(cases[0])
    hollow = replace(standing.tail[0], sets=())
    found = end_to_end(standing, (hollow, *standing.tail), "J")
    assert found.places == tuple(range(1, len(standing.tail) + 1))
    laid = [[row.number for row in block.sets] for block in found.blocks]
    assert laid == [[row.number for row in block.sets] for block in standing.tail]


def test_a_set_on_no_jumbo_of_the_plan_has_no_place(cases: tuple[Case, Case]) -> None:
    """Sets that save a late order are laid before the kept ones, on jumbos of their own."""
    standing = _standing(cases[0])
    block = standing.tail[0]
    row = block.sets[0]
    other = replace(row, stretches=tuple(replace(p, jumbo="none such") for p in row.stretches))
    assert in_places(standing, (replace(block, sets=(other,)), *standing.tail)) is None


def test_a_set_that_is_joined_no_more_has_new_labels(cases: tuple[Case, Case]) -> None:
    """What was cut out of its jumbo was none: only its reels say another number of joins."""
    run = cases[0].plan.runs[0]
    block = run.blocks[0]
    (part,) = block.sets[0].stretches
    joined = (
        replace(part, to_m=part.from_m + 1_000),
        replace(part, from_m=part.from_m + 1_200, to_m=part.to_m + 200),
    )
    sets = (replace(block.sets[0], stretches=joined), *block.sets[1:])
    issued = replace(run, blocks=(replace(block, sets=sets), *run.blocks[1:]))
    held = [row.issued for row in as_held(run, issued, "shift-1").sets]
    assert held == ["", *["shift-1"] * (len(held) - 1)]


def test_a_set_stays_joined_only_while_its_reels_may_be(cases: tuple[Case, Case]) -> None:
    """The order line says 0 joins since: the set is cut anew, not kept with its join."""
    standing = _standing(cases[0])
    block = standing.tail[0]
    (part,) = block.sets[0].stretches
    halves = (replace(part, to_m=part.from_m + 700), replace(part, from_m=part.from_m + 700))
    joined = replace(block.sets[0], stretches=halves)
    winder = replace(standing.mill.winder, joins_allowed=True)
    orders = tuple(replace(each, joins_allowed=1) for each in standing.run.orders)
    may = replace(
        standing,
        mill=replace(standing.mill, winders=(winder,)),
        run=replace(standing.run, orders=orders),
    )
    assert IssuedPlaces(case=may).against(block, joined) == ""
    for now in (replace(may, mill=standing.mill), replace(may, run=standing.run)):
        said = IssuedPlaces(case=now).against(block, joined)
        assert said == "1 join; its reels and the winder allow none"


def test_a_jumbo_taken_off_before_its_end_says_what_is_on_it(cases: tuple[Case, Case]) -> None:
    """Its sets were passed over for those of the next: what is left must not vanish unsaid."""
    case = cases[0]
    run = case.plan.runs[0]
    rows = [(block, row) for block in run.blocks for row in block.sets]
    first = run.jumbos[0].name
    wound = [rows[0][1], next(row for _, row in rows if row.stretches[0].jumbo != first)]
    ran = WhatRan(sets=tuple(DoneSet(run=run.name, number=row.number) for row in wound))
    standing = standing_runs(case.plan, case.book, case.mill, ran)[0]
    left_m = run.jumbos[0].wound_m + run.jumbos[0].butt_m - rows[0][1].length_m
    said = IssuedPlaces(case=standing).against(*rows[1])
    assert said.startswith(f"jumbo {first} was taken off with {left_m:,} m on it")


def test_more_is_wound_from_a_jumbo_with_a_hole_in_what_it_has_left(
    cases: tuple[Case, Case],
) -> None:
    """The last jumbo, its sets as issued, and an order wants more: what is left is no butt."""
    case = cases[1]
    run = case.plan.runs[1]
    use = run.jumbos[-1]
    orders = tuple(
        replace(each, quantity=each.quantity * 11 / 10) if each.number == "485-05" else each
        for each in case.book.orders
    )
    at_m = use.loss_start_m + use.wound_m + 2_000
    across = Fraction(use.width_mm)
    hole = Defect(from_m=at_m, to_m=at_m + 100, from_mm=Fraction(0), to_mm=across, what="hole")
    jumbo = JumboInStock(
        name=use.name, grade=run.grade, grammage_gsm=run.grammage_gsm, width_mm=across,
        length_m=use.length_m, loss_start_m=use.loss_start_m, loss_end_m=80, defects=(hole,),
    )  # fmt: skip
    book = replace(case.book, orders=orders, jumbos=(jumbo,))
    sets = [row.number for _, row in rows(run)]
    ran = WhatRan(
        sets=tuple(
            DoneSet(run=each.name, number=row.number)
            for each in case.plan.runs
            for _, row in rows(each)
            if each is not run or row.number < sets[-1]
        )
    )
    answer = replan(case.plan, book, case.mill, ran)
    after = next(each for each in answer.plan.runs if each.name == run.name)
    last = next(each for each in after.jumbos if each.name == use.name)
    assert last.wound_m > use.wound_m
    assert last.butt_m <= 0.2 * last.length_m


def _with_bad_edge(case: Case, to_m: int = 12_000) -> Case:
    """Two lines on a jumbo with a bad edge that has some to carry forward."""
    edge = Defect(from_m=500, to_m=to_m, from_mm=Fraction(0), to_mm=Fraction(45), what="bad edge")
    numbers = {"4801-01": 20, "4801-08": 7}
    orders = [
        replace(each, quantity=Fraction(numbers[each.number]))
        for each in case.book.orders
        if each.number in numbers
    ]
    jumbo = JumboInStock(
        name="M-7", grade=orders[0].grade, grammage_gsm=orders[0].grammage_gsm,
        width_mm=Fraction(4680), length_m=16_690, loss_start_m=120, loss_end_m=80, defects=(edge,),
    )  # fmt: skip
    book = replace(case.book, orders=tuple(orders), jumbos=(jumbo,))
    plan = make_plan(book, case.mill, Request(effort=Effort.QUICK), number="shift-1")
    (use,) = plan.runs[0].jumbos
    assert use.carried_forward_m
    return Case(book, case.mill, plan)


def _asking(book: Book, reels: int) -> Book:
    """The book with so many reels more, or less, of its first line."""
    first, *others = book.orders
    return replace(book, orders=(replace(first, quantity=first.quantity + reels), *others))


@pytest.mark.parametrize("to_m", [12_000, 4_000])
def test_a_jumbo_with_a_bad_edge_on_the_unwind_is_gone_on_with(
    cases: tuple[Case, Case], to_m: int
) -> None:
    """Four reels more: they lie on what it had to carry forward, not on a jumbo of their own.

    Whether the edge is bad there or was, in what has run.
    """
    case = _with_bad_edge(cases[0], to_m)
    book, sets = _asking(case.book, 4), rows(case.plan.runs[0])
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, len(sets) - 1))
    goes_on(answer, book, case)
    (after,) = answer.plan.runs[0].jumbos
    assert after.butt_m == 0 < after.carried_forward_m
    assert after.wound_m > case.plan.runs[0].jumbos[0].wound_m
    as_issued = [(b.positions, b.edge_front_mm, r.length_m) for b, r in sets]
    now = [(b.positions, b.edge_front_mm, r.length_m) for b, r in rows(answer.plan.runs[0])]
    assert now[: len(sets)] == as_issued


def test_a_jumbo_with_a_bad_edge_is_not_wound_for_reels_that_nobody_asks_for(
    cases: tuple[Case, Case],
) -> None:
    """Eight reels less: what they leave of it is carried forward, and their sets are named."""
    case = _with_bad_edge(cases[0])
    book = _asking(case.book, -8)
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 1))
    goes_on(answer, book, case)
    (after,) = answer.plan.runs[0].jumbos
    assert after.wound_m < case.plan.runs[0].jumbos[0].wound_m
    line = next(each for each in answer.plan.runs[0].orders if each.number == "4801-01")
    assert line.planned <= line.max_quantity
    assert any("4801-01 would get more than it may" in said for said in answer.forbidden)


def test_a_narrow_jumbo_is_cut_anew_beside_an_order_that_is_late(cases: tuple[Case, Case]) -> None:
    """Nothing is left of the plan as issued; the order is due before sets for it can be wound."""
    case = cases[0]
    run = case.plan.runs[0]
    first = run.blocks[0]
    issued = replace(case.plan, runs=(replace(run, blocks=(first,)),))
    odd = JumboInStock(
        name="N-1", grade=run.grade, grammage_gsm=run.grammage_gsm,
        width_mm=run.jumbo_width_mm - 20, length_m=16_000, loss_start_m=120, loss_end_m=80,
    )  # fmt: skip
    end = first.sets[-1].finish
    assert end is not None
    book = with_rush(case, end + timedelta(minutes=80))
    book = replace(book, jumbos=(odd,))
    goes_on(replan(issued, book, case.mill, done(issued, 0, len(first.sets))), book, case)


def test_a_reel_that_has_run_and_goes_elsewhere_has_its_label_changed(
    cases: tuple[Case, Case],
) -> None:
    """The labels file has none of it: nothing can be printed, and no label lies ready."""
    plan = cases[0].plan
    (run,) = plan.runs
    order = run.blocks[0].reels[0].order
    lines = (replace(e, customer="other") if e.number == order else e for e in run.orders)
    blocks = (
        replace(
            block,
            sets=tuple(replace(row, done=row.number == 1, issued="shift-1") for row in block.sets),
        )
        for block in run.blocks
    )
    after = replace(run, blocks=tuple(blocks), orders=tuple(lines))
    made = replace(plan, number="shift-2", replaces=plan.number, runs=(after,))
    difference = difference_of(plan, made)
    (labels,) = difference.labels
    assert labels.relabel == (1,)
    assert labels.reprint == labels.destroy
    assert labels.reprint
    assert 1 not in labels.reprint
    said = list(change_lines(made, difference))
    assert sum("change its label" in line for line in said) == 1
