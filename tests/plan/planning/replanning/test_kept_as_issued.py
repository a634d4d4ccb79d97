"""What a plan of the rest keeps of the plan as issued, and for what worth it changes."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from rich.console import Console

import trimopt
from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import done, goes_on, replan, rows, with_rush
from trimopt import (
    Book,
    Budget,
    EditedPlan,
    Effort,
    Instruction,
    Request,
    RequestError,
    RunPlan,
    make_plan,
    revise_plan,
    verify_plan,
)
from trimopt.book.model import Defect, InstructionPiece, JumboInStock, Order
from trimopt.paper import UnitSystem, Written, in_spans
from trimopt.plan.difference import SetChange
from trimopt.plan.model import Block
from trimopt.plan.planning.replanning.sets_changed import SetsChanged, changes_of
from trimopt.report.html import plan_page
from trimopt.report.labels import labels_csv
from trimopt.report.terminal.plan_terminal import print_replan
from trimopt.report.xlsx.plan_workbook import crew_workbook
from trimopt.whole_files import write_whole


def test_sets_that_start_soon_stay_as_issued(cases: tuple[Case, Case]) -> None:
    """To the millimetre and the second; the rush line comes after them, and in time."""
    case = cases[0]
    run = case.plan.runs[0]
    ran = done(case.plan, 0, 3)
    now = rows(run)[2][1].finish
    assert now is not None
    until = now + timedelta(minutes=45)
    book = with_rush(case, now + timedelta(minutes=200))
    answer = replan(case.plan, book, case.mill, ran, keep_until=until)
    goes_on(answer, book, case)
    assert answer.plan.replanned is not None
    assert answer.plan.replanned.keep_until == until
    soon = [(b, r) for b, r in rows(run) if r.start is not None and r.start < until]
    assert len(soon) > 4
    for (was, before), (block, row) in zip(soon, rows(answer.plan.runs[0]), strict=False):
        assert replace(row, done=False, issued="") == before
        assert (block.positions, block.knives_mm) == (was.positions, was.knives_mm)
    line = next(line for line in answer.plan.runs[0].orders if line.number == "rush")
    assert "late" not in line.states


def test_a_crew_that_is_faster_than_planned(cases: tuple[Case, Case]) -> None:
    """What it has run ends now, the rest comes as much sooner, and the next replan goes on there.

    Before what was run began nothing can have run.
    """
    case = cases[0]
    run = case.plan.runs[0]
    (_, first), (_, third) = rows(run)[0], rows(run)[2]
    assert first.start is not None
    assert third.finish is not None
    now = first.start + (third.finish - first.start) / 2
    answer = replan(case.plan, case.book, case.mill, done(case.plan, 0, 3), now=now)
    goes_on(answer, case.book, case)
    assert answer.difference.sets == ()
    after = [row for _, row in rows(answer.plan.runs[0])]
    assert after[2].finish == now == after[3].start
    assert after[0].start == first.start
    assert [row.number for row in after] == [row.number for _, row in rows(run)]
    plan = replace(answer.plan, number="shift-2")
    later = now + timedelta(days=1)
    again = replan(plan, case.book, case.mill, done(plan, 0, 4), now=later)
    goes_on(again, case.book, case)
    with pytest.raises(RequestError, match="no later than what was run began"):
        replan(case.plan, case.book, case.mill, done(case.plan, 0, 3), now=first.start)
    with pytest.raises(RequestError, match="no later than what was run began"):
        replan(plan, case.book, case.mill, done(plan, 0, 4), now=now)


def test_what_was_run_is_finished_before_the_shift_ends(cases: tuple[Case, Case]) -> None:
    """An end that is before it is named, unless the crew was ahead of the plan."""
    case = cases[0]
    (_, first), (_, third) = rows(case.plan.runs[0])[0], rows(case.plan.runs[0])[2]
    book = replace(case.book, shift_ends=first.finish)
    with pytest.raises(RequestError, match=r"the shift ends .* name a later end"):
        replan(case.plan, book, case.mill, done(case.plan, 0, 3))
    assert third.start != first.finish
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 3), now=first.finish)
    goes_on(answer, book, case)


def test_only_what_is_forbidden_leaves_the_frozen_sets(cases: tuple[Case, Case]) -> None:
    """An order is cancelled: its sets go and are named with the reason, the others stay."""
    case = cases[0]
    run = case.plan.runs[0]
    block, row = rows(run)[4]
    gone = next(p.order for p in block.positions if p.kind == "reel")
    orders = tuple(each for each in case.book.orders if each.number != gone)
    book = replace(case.book, orders=orders)
    until = rows(run)[-1][1].finish
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 1), keep_until=until)
    goes_on(answer, book, case)
    held = {r.number for b, r in rows(run)[1:] for p in b.positions if p.order == gone}
    assert row.number in held
    sets = in_spans(sorted(held))
    assert answer.forbidden == (f"{run.name}, sets {sets}: {gone} is cancelled",)
    layouts = [(b.positions, b.edge_front_mm, r.length_m) for b, r in rows(answer.plan.runs[0])]
    kept = [
        (b.positions, b.edge_front_mm, r.length_m) for b, r in rows(run) if r.number not in held
    ]
    places = iter(layouts)
    assert all(each in places for each in kept)  # in their order


HOLE = Defect(from_m=6_000, to_m=6_500, from_mm=Fraction(0), to_mm=Fraction(4680), what="hole")


def _listed(order: Order, name: str, width_mm: int, *defects: Defect) -> JumboInStock:
    return JumboInStock(
        name=name,
        grade=order.grade,
        grammage_gsm=order.grammage_gsm,
        width_mm=Fraction(width_mm),
        length_m=16_690,
        loss_start_m=100,
        loss_end_m=100,
        defects=defects,
    )


@pytest.mark.parametrize(("width_mm", "defects"), [(4640, ()), (4680, (HOLE,))])
def test_what_befalls_a_jumbo_leaves_the_sets_on_others(
    cases: tuple[Case, Case], width_mm: int, defects: tuple[Defect, ...]
) -> None:
    """One still to come is narrower, or has a hole: what lies on others stays, every set of it.

    Unless a block that changes saves more than the mill holds against it: here none does.
    """
    case = cases[0]
    mill = replace(case.mill, values=replace(case.mill.values, disturbance=1e5))
    run = case.plan.runs[0]
    use = run.jumbos[2]
    book = replace(case.book, jumbos=(_listed(case.book.orders[0], use.name, width_mm, *defects),))
    answer = replan(case.plan, book, mill, done(case.plan, 0, 2))
    assert verify_plan(answer.plan, book, mill) == ()

    def kinds(run: RunPlan, *, but: str = "") -> Counter[object]:
        return Counter(
            (block.positions, block.edge_front_mm, row.length_m)
            for block, row in rows(run)
            if but not in {part.jumbo for part in row.stretches}
        )

    assert not kinds(run, but=use.name) - kinds(answer.plan.runs[0])
    assert answer.forbidden


def test_a_jumbo_is_filled_by_few_sets_of_another_length(cases: tuple[Case, Case]) -> None:
    """One still to come is 1,500 m short: of six sets that were on it two stay as they were."""
    case = cases[0]
    use = case.plan.runs[0].jumbos[2]
    short = replace(_listed(case.book.orders[0], use.name, 4680), length_m=use.length_m - 1_500)
    book = replace(case.book, jumbos=(short,))
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 2))
    goes_on(answer, book, case)
    kinds = Counter(
        (b.positions, b.edge_front_mm, r.length_m) for b, r in rows(answer.plan.runs[0])
    )
    wound = [(b, r) for b, r in rows(case.plan.runs[0]) if use.name in r.jumbos]
    assert len(wound) == 6
    gone = Counter((b.positions, b.edge_front_mm, r.length_m) for b, r in wound) - kinds
    assert gone.total() <= 4


def test_of_two_changes_of_a_block_that_of_fewer_sets_weighs_less(cases: tuple[Case, Case]) -> None:
    """A block counts once, whichever of its sets change; each of these is a tenth more."""
    blocks = cases[0].plan.runs[0].blocks
    assert changes_of(blocks, blocks).weight == 0
    at = next(at for at, block in enumerate(blocks) if len(block.sets) > 2)

    def with_moved(count: int) -> tuple[Block, ...]:
        moved = [replace(row, length_m=row.length_m - 10) for row in blocks[at].sets[:count]]
        block = replace(blocks[at], sets=(*moved, *blocks[at].sets[count:]))
        return (*blocks[:at], block, *blocks[at + 1 :])

    sets = len(blocks[at].sets)
    one, all_of_it = (changes_of(blocks, with_moved(count)) for count in (1, sets))
    assert one == SetsChanged(blocks=1, sets=1)
    assert all_of_it == SetsChanged(blocks=1, sets=sets)
    assert 1 < one.weight < all_of_it.weight < 2


def test_all_that_was_run_off_a_defective_jumbo_is_cancelled(cases: tuple[Case, Case]) -> None:
    """Its lengths serve no order any more, and stand among those of the run on such jumbos."""
    case = cases[0]
    gone, left = (each for each in case.book.orders if each.number in {"4801-01", "4801-12"})
    jumbo = _listed(gone, "J-1", 4680, HOLE)
    book = replace(case.book, orders=(gone,), jumbos=(jumbo,))
    plan = make_plan(book, case.mill, Request(effort=Effort.QUICK), number="shift-1")
    blocks = [block for block in plan.runs[0].blocks if block.jumbo_width_mm is not None]
    assert blocks
    book = replace(book, orders=(left,))
    answer = replan(plan, book, case.mill, done(plan, 0, len(rows(plan.runs[0]))))
    goes_on(answer, book, case)
    listed = {(each.length_m, each.jumbo_width_mm) for each in answer.plan.runs[0].set_lengths}
    assert {(block.length_m, block.jumbo_width_mm) for block in blocks} <= listed


def _rush_for(case: Case, minutes: int) -> tuple[Book, datetime]:
    """Ten reels due so soon after the third set, an order cancelled; and when that set ends."""
    now = rows(case.plan.runs[0])[2][1].finish
    assert now is not None
    book = with_rush(case, now + timedelta(minutes=minutes))
    orders = [each for each in book.orders if each.number != "4801-08"]
    orders[-1] = replace(orders[-1], quantity=Fraction(10))
    return replace(book, orders=tuple(orders)), now


def test_no_order_is_late_for_money(cases: tuple[Case, Case]) -> None:
    """Cut among what the others lack it costs less, and is late: it is cut before them."""
    case = cases[0]
    book, now = _rush_for(case, 60)
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 3), keep_until=now)
    goes_on(answer, book, case)
    assert answer.difference.newly_late == ()


def test_sheets_are_late_when_they_are_cut(cases: tuple[Case, Case]) -> None:
    """Wound in time and cut ten minutes late, for want of a way that is dearer by a little."""
    case = cases[0]
    (now,) = (row.finish for _, row in rows(case.plan.runs[0])[2:3])
    (line,) = (each for each in case.plan.runs[0].orders if each.number == "4801-12")
    assert now is not None
    assert line.finished is not None
    book, due = with_rush(case, now + timedelta(minutes=150)), line.finished + timedelta(minutes=2)
    tight = (replace(o, due=due) if o.number == line.number else o for o in book.orders)
    book = replace(book, orders=tuple(tight))
    answer = trimopt.replan(
        case.plan, book, case.mill, done(case.plan, 0, 3), keep_until=now,
        request=replace(case.plan.request, time_limit_s=10), budget=Budget(),
    )  # fmt: skip
    assert answer.difference.newly_late == ()


def test_what_is_late_new_or_cut_short_is_said(cases: tuple[Case, Case]) -> None:
    """With times; an order that is new or cancelled; and that the clock ended the search."""
    case = cases[0]
    book, now = _rush_for(case, 5)
    ran = done(case.plan, 0, 3)
    answer = trimopt.replan(
        case.plan, book, case.mill, ran, keep_until=now, budget=Budget.lasting(0.2)
    )
    console = Console(file=StringIO(), width=400)
    print_replan(answer, console)
    said = console.file.getvalue()  # type: ignore[attr-defined]
    line = next(line for line in answer.plan.runs[0].orders if line.number == "rush")
    assert (
        f"Newly late: rush (finished {line.finished:%Y-%m-%d %H:%M}, due {line.due:%Y-%m-%d}"
        in said
    )
    assert re.search(r"rush.*: new, [\d,]+ reels \(.* kg\); late", said)
    assert re.search(r"4801-08 .*: cancelled; 1[0-9] reels", said)
    assert "The time limit or Ctrl-C ended" in said.partition("lost")[0]
    assert ": 4801-08 is cancelled" in said
    page = plan_page.page_html(replace(answer.plan, number="shift-2"), answer.difference)
    assert "The time limit or Ctrl-C ended" in page


@pytest.mark.parametrize("worth", [0.0, 1e6])
def test_a_block_changes_only_for_its_worth(cases: tuple[Case, Case], worth: float) -> None:
    """At a million none does; what was paid and gained is stated."""
    case = cases[0]
    mill = replace(case.mill, values=replace(case.mill.values, disturbance=worth))
    answer = replan(case.plan, with_rush(case), mill, done(case.plan, 0, 3))
    assert verify_plan(answer.plan, with_rush(case), mill) == ()
    stated = answer.plan.replanned
    assert stated is not None
    assert stated.paid_for_keeping >= 0
    if worth:
        assert stated.blocks_changed == 0
        assert stated.gained_by_changing == 0
        assert {each.change for each in answer.difference.sets} == {SetChange.NEW}
    else:
        assert stated.paid_for_keeping == 0


def test_a_pinned_block_keeps_place_and_layout(cases: tuple[Case, Case]) -> None:
    """Whatever else changes: one instruction for the block, whatever lengths its sets have."""
    case = cases[0]
    block = case.plan.runs[0].blocks[2]
    counts = Counter((p.order, p.ups, p.sheeter) for p in block.positions if p.kind != "broke")
    pin = Instruction(
        what="pin",
        grade=case.plan.runs[0].grade,
        grammage_gsm=case.plan.runs[0].grammage_gsm,
        pattern=tuple(
            InstructionPiece(order=order, ups=ups, sheeter=sheeter, count=count)
            for (order, ups, sheeter), count in counts.items()
        ),
        core_mm=block.core_mm,
        number=len(block.sets),
    )
    mill = replace(case.mill, values=replace(case.mill.values, disturbance=0.0))
    book = replace(with_rush(case), instructions=(pin,))
    now = rows(case.plan.runs[0])[0][1].finish
    answer = replan(case.plan, book, mill, done(case.plan, 0, 1), keep_until=now)
    assert verify_plan(answer.plan, book, mill) == ()
    run = answer.plan.runs[0]
    assert [each.kept for each in run.instructions] == [True]
    assert any(
        (each.positions, each.edge_front_mm) == (block.positions, block.edge_front_mm)
        for each in run.blocks
    )


def test_labels_and_the_crews_sheet(cases: tuple[Case, Case], tmp_path: Path) -> None:
    """Sets that stay keep their labels; no identity is ever used for two reels."""
    case = cases[0]
    book = with_rush(case)
    first = replan(case.plan, book, case.mill, done(case.plan, 0, 3))
    second = replan(replace(first.plan, number="shift-2"), book, case.mill, done(first.plan, 0, 6))
    goes_on(second, book, case)
    bore: dict[str, object] = {}
    for plan in (case.plan, replace(first.plan, number="shift-2"), second.plan):
        for line in labels_csv(replace(plan, number=plan.number or "shift-3")).splitlines()[1:]:
            identity, _, rest = line.partition(",")
            order, width = rest.split(",")[0], rest.split(",")[4]
            assert bore.setdefault(identity, (order, width)) == (order, width)
    (labels,) = first.difference.labels
    kept = {r.number for _, r in rows(first.plan.runs[0]) if r.issued == "shift-1"}
    assert {1, 2, 3} <= kept
    assert not kept & set(labels.reprint)
    assert set(labels.reprint) == {r.number for _, r in rows(first.plan.runs[0])} - kept
    assert set(labels.destroy) == {r.number for _, r in rows(case.plan.runs[0])} - kept
    write_whole(tmp_path / "crew.xlsx", crew_workbook(replace(first.plan, number="shift-2")))
    book_of_crew = load_workbook(tmp_path / "crew.xlsx")
    said = [
        str(cell.value)
        for sheet in book_of_crew
        for line in sheet.iter_rows()
        for cell in line
        if cell.value is not None and " BLOCK " in str(cell.value)
    ]
    assert any("as on the sheet of shift-1" in one for one in said)
    assert any("NEW" in one or "CHANGED" in one for one in said)


def test_a_plan_of_the_rest_is_revised(cases: tuple[Case, Case]) -> None:
    """A block of the rest is moved: what was run stands; a set that was run is not to be edited."""
    case = cases[0]
    book = with_rush(case)
    first = replan(case.plan, book, case.mill, done(case.plan, 0, 3))
    issued = replace(first.plan, number="shift-2")
    again = revise_plan(EditedPlan(issued=issued, plan=issued), book, case.mill)
    assert not again.faults
    assert again.plan is not None
    assert again.plan.runs == issued.runs
    run = issued.runs[0]
    blocks = (*run.blocks[:-2], run.blocks[-1], run.blocks[-2])
    moved = replace(issued, runs=(replace(run, blocks=blocks),))
    revision = revise_plan(EditedPlan(issued=issued, plan=moved), book, case.mill)
    assert revision.plan is not None
    assert not revision.faults, [str(fault) for fault in revision.faults]
    assert verify_plan(revision.plan, book, case.mill) == ()
    assert rows(revision.plan.runs[0])[:3] == rows(run)[:3]
    assert revision.difference is not None
    assert revision.difference.sets
    block = run.blocks[0]
    shorter = replace(block.sets[0], length_m=block.sets[0].length_m - 10)
    blocks = (replace(block, sets=(shorter, *block.sets[1:])), *run.blocks[1:])
    wrong = replace(issued, runs=(replace(run, blocks=blocks),))
    revision = revise_plan(EditedPlan(issued=issued, plan=wrong), book, case.mill)
    assert [fault.sets for fault in revision.faults] == [(1,)]
    assert "run already" in revision.faults[0].what
    block = run.blocks[-1]
    longer = replace(block, sets=tuple(replace(row, length_m=90_000) for row in block.sets))
    wrong = replace(issued, runs=(replace(run, blocks=(*run.blocks[:-1], longer)),))
    in_inches = replace(issued, written=Written(system=UnitSystem.INCH_POUND))
    revision = revise_plan(EditedPlan(issued=in_inches, plan=wrong), book, case.mill)
    assert re.match(r"295,276 ft \(90,000 m\); ", revision.faults[0].what)


def test_the_crew_reads_what_is_still_to_run(cases: tuple[Case, Case], tmp_path: Path) -> None:
    """Of a block that goes on no set that has run, and no set-up; no core for what has run."""
    case = cases[0]
    number = next(b.sets[0].number for b in case.plan.runs[0].blocks[1:] if len(b.sets) > 1)
    plan = replan(case.plan, case.book, case.mill, done(case.plan, 0, number)).plan
    plan = replace(plan, number="shift-2")
    write_whole(tmp_path / "crew.xlsx", crew_workbook(plan))
    book_of_crew = load_workbook(tmp_path / "crew.xlsx")
    slitter = [" ".join(map(str, filter(None, row))) for row in book_of_crew.worksheets[0].values]
    at = next(at for at, row in enumerate(slitter) if " BLOCK " in row)
    assert re.search(rf"sets? {number + 1}\b", slitter[at])
    assert "no set-up, 0 knife moves" in slitter[at + 1]
    page = plan_page.page_html(plan)
    assert ", <strong>has run</strong>" in page
    assert re.search(rf"<strong>already run: {number}, +as on the sheet of", page)
    columns: list[tuple[Any, ...]] = list(book_of_crew["Cores to cut"].values)
    cores = sum(row[columns[0].index("Pieces")] for row in columns[1:])
    waiting = [(b, r) for run in plan.runs for b, r in rows(run) if not r.done]
    assert cores == sum(len(block.positions) for block, _ in waiting)


@pytest.mark.parametrize("number", ["4801-05", "4801-08"])
def test_a_jumbo_with_a_hole_is_not_begun_for_a_little(
    cases: tuple[Case, Case], number: str
) -> None:
    """It is listed, and an order wants some more: what it gives must be worth the rest of it."""
    case = cases[0]
    orders = tuple(
        replace(each, quantity=each.quantity * 6 / 5) if each.number == number else each
        for each in case.book.orders
    )
    hole = Defect(from_m=3000, to_m=3100, from_mm=Fraction(0), to_mm=Fraction(4680), what="hole")
    jumbo = JumboInStock(
        name="M-77", grade=orders[0].grade, grammage_gsm=250.0, width_mm=Fraction(4680),
        length_m=15_000, loss_start_m=120, loss_end_m=80, defects=(hole,),
    )  # fmt: skip
    book = replace(case.book, orders=orders, jumbos=(jumbo,))
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 0))
    goes_on(answer, book, case)
    for use in answer.plan.runs[0].jumbos:
        assert use.butt_m <= 0.2 * use.length_m, use.name


@pytest.mark.parametrize("behind", [True, False])
def test_a_rest_with_a_narrow_jumbo_is_revised(cases: tuple[Case, Case], *, behind: bool) -> None:
    """What lies on the narrow jumbo stays on it; none is put on twice."""
    case = cases[0]
    run = case.plan.runs[0]
    was = run.jumbos[1]
    narrow = JumboInStock(
        name=was.name, grade=run.grade, grammage_gsm=run.grammage_gsm, length_m=was.length_m,
        width_mm=run.jumbo_width_mm - 20, loss_start_m=was.loss_start_m,
        loss_end_m=case.mill.jumbo.loss_end_m,
    )  # fmt: skip
    book = replace(case.book, jumbos=(narrow,))
    issued = replace(replan(case.plan, book, case.mill, done(case.plan, 0, 1)).plan, number="2")
    run = issued.runs[0]
    waiting = [(block, row) for block, row in rows(run) if not row.done]
    groups: dict[str, list[Block]] = {}
    for block, row in waiting:  # a block of each set, so that jumbos can change places
        groups.setdefault(row.stretches[0].jumbo, []).append(replace(block, sets=(row,)))
    ran = [replace(b, sets=tuple(r for r in b.sets if r.done)) for b in run.blocks]
    names = list(groups)
    assert narrow.name in names
    last = groups[names[-1]] if behind else groups[names[-1]][:1]
    rest = [block for name in names[1:] for block in groups[name] if block not in last]
    order = (*groups[names[0]], *last, *rest) if behind else (*last, *groups[names[0]], *rest)
    blocks = (*(block for block in ran if block.sets), *order)
    edited = EditedPlan(issued=issued, plan=replace(issued, runs=(replace(run, blocks=blocks),)))
    answer = revise_plan(edited, book, case.mill)
    said = [str(fault) for fault in answer.faults]
    assert not [each for each in said if "the plan says" in each]
    if behind:
        assert answer.plan is not None
        used = {use.name: use.width_mm for use in answer.plan.runs[0].jumbos}
        assert used[narrow.name] == narrow.width_mm
    else:
        assert "would be put on twice" in said[0]
