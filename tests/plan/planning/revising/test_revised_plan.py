"""Edited plans: legal edits give the right figures, illegal ones are named at their set alone."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest

from tests.plan.planning.conftest import Case
from tests.plan.planning.revising.counting import added_up, made_of
from tests.plan.planning.revising.edits import BREAKS, LEGAL, Broken, Ground, edited
from trimopt import (
    EditedPlan,
    Effort,
    Instruction,
    Plan,
    Request,
    Revision,
    make_plan,
    read_edited,
    revise_plan,
    verify_plan,
)
from trimopt.plan.codec import plan_json
from trimopt.plan.difference import PlanFigures
from trimopt.plan.planning.request_settings import settings_of
from trimopt.plan.planning.schedule.block_knives import with_knives
from trimopt.report.xlsx.plan_workbook import plan_workbook
from trimopt.whole_files import write_whole

EDITS = 42


def revised(case: Case, plan: Plan) -> Revision:
    """What comes of an edited plan."""
    return revise_plan(EditedPlan(issued=case.plan, plan=plan), case.book, case.mill)


def ground(case: Case, place: int, draw: Random) -> Ground:
    """One of its runs to be edited."""
    return Ground(run=case.plan.runs[place], mill=case.mill, book=case.book, draw=draw)


@pytest.mark.parametrize("place", [0, 1])
def test_an_untouched_plan_is_revised_to_itself(
    cases: tuple[Case, Case], place: int, tmp_path: Path
) -> None:
    """Through its workbook and its JSON file; stale figures are passed over."""
    case = cases[place]
    number = case.plan.number
    write_whole(tmp_path / f"{number}.xlsx", plan_workbook(case.plan, case.mill))
    stale = replace(case.plan, runs=tuple(replace(run, minutes=1.0) for run in case.plan.runs))
    (tmp_path / "edited.json").write_text(plan_json(stale), encoding="utf-8")
    for name in (f"{number}.xlsx", "edited.json"):
        revision = revise_plan(read_edited(tmp_path / name), case.book, case.mill)
        assert revision.plan == case.plan
        assert not revision.faults
        assert not revision.changed
        assert revision.difference is not None
        assert revision.difference.sets == ()
        assert revision.difference.orders == ()


def test_legal_edits_give_the_right_figures(cases: tuple[Case, Case]) -> None:
    """Drawn edits: nothing is named, the check passes, figures add up before and after."""
    done: dict[str, int] = {}
    for seed in range(EDITS):
        edit, draw = LEGAL[seed % len(LEGAL)], Random(seed)
        case = cases[seed // len(LEGAL) % 2]
        blocks = None
        for _ in range(200):
            place = draw.randrange(len(case.plan.runs))
            blocks = edit(ground(case, place, draw))
            if blocks is not None:
                break
        if blocks is None:
            continue
        revision = revised(case, edited(case.plan, place, blocks))
        said = f"{edit.__name__}, seed {seed}"
        assert not revision.faults, (said, [str(fault) for fault in revision.faults])
        assert revision.plan is not None, said
        assert verify_plan(revision.plan, case.book, case.mill) == (), said
        assert revision.changed, said
        _figures_add_up(case, revision, said)
        _held_as_issued(case.plan, revision, said)
        now, was = revision.plan.runs[place], case.plan.runs[place]
        if [b.knives_mm for b in now.blocks] == [b.knives_mm for b in was.blocks]:
            assert now.knife_moves <= was.knife_moves, said
        if edit.__name__ != "move_block":  # which is laid out anew
            wanted = [(b.core_mm, s.length_m) for b in blocks for s in b.sets]
            rows = [
                (b.core_mm, s.length_m) for b in revision.plan.runs[place].blocks for s in b.sets
            ]
            assert rows == wanted, said
        done[edit.__name__] = done.get(edit.__name__, 0) + 1
    assert set(done) == {edit.__name__ for edit in LEGAL}
    assert sum(done.values()) >= 30
    assert done["move_block"] >= 4


def _held_as_issued(issued: Plan, revision: Revision, said: str) -> None:
    """Sets that are as on the crew's sheet bear its number, so that none is recorded twice."""

    def sheet(plan: Plan) -> dict[tuple[str, int], object]:
        return {
            (run.name, row.number): (
                [(p.order, p.width_mm, p.ups, p.core_mm, p.sheeter) for p in block.positions],
                (block.edge_front_mm, block.core_mm, row.length_m),
                [part.jumbo for part in row.stretches],
            )
            for run in plan.runs
            for block in run.blocks
            for row in block.sets
        }

    plan, difference = revision.plan, revision.difference
    assert plan is not None
    assert difference is not None
    assert plan.replaces == issued.number
    held, now = sheet(issued), sheet(plan)
    new = {
        (run.name, row.number)
        for run in plan.runs
        for block in run.blocks
        for row in block.sets
        if row.issued != issued.number
    }
    assert new == {key for key, each in now.items() if each != held.get(key)}, said
    labels = {(each.run, number) for each in difference.labels for number in each.reprint}
    assert labels == new, said
    destroy = {(each.run, number) for each in difference.labels for number in each.destroy}
    assert destroy == held.keys() - (now.keys() - new), said


def _figures_add_up(case: Case, revision: Revision, said: str) -> None:
    difference = revision.difference
    assert difference is not None
    assert revision.plan is not None
    for plan, figures in (
        (case.plan, difference.figures_before),
        (revision.plan, difference.figures_after),
    ):
        for name, value in added_up(plan, case.mill).items():
            assert getattr(figures, name) == pytest.approx(value, abs=0.2), (said, name)
        assert sum(figures.lost_to_kg) == pytest.approx(figures.lost_kg, abs=0.2), said
    changed = {each.number: each for each in difference.orders}
    for was, now in zip(case.plan.runs, revision.plan.runs, strict=True):
        before, after = made_of(was, case.mill), made_of(now, case.mill)
        for number, (quantity, kg) in after.items():
            if number not in changed:
                assert before[number][0] == quantity, (said, number)
                continue
            gets = changed[number].after
            assert gets is not None
            assert float(gets.planned) == pytest.approx(float(quantity), abs=0.01), said
            assert gets.planned_kg == pytest.approx(float(kg), abs=0.05), said


def test_illegal_edits_are_named_at_their_set_and_nothing_else(cases: tuple[Case, Case]) -> None:
    """Drawn edits: every fault stands at the set, or the order, that the edit breaks."""
    done: dict[str, int] = {}
    for seed in range(EDITS):
        edit, draw = BREAKS[seed % len(BREAKS)], Random(100 + seed)
        case, broken = cases[seed // len(BREAKS) % 2], None
        if edit.__name__ in ("wrong_ups", "no_sheeter", "to_the_edge"):
            case = cases[0]  # which has sheets, and an order that may not lie at the edge
        for _ in range(200):
            place = draw.randrange(len(case.plan.runs))
            broken = edit(ground(case, place, draw))
            if broken is not None:
                break
        assert broken is not None, edit.__name__
        revision = revised(case, edited(case.plan, place, broken.blocks))
        _named(revision, broken, f"{edit.__name__}, seed {seed}")
        done[edit.__name__] = done.get(edit.__name__, 0) + 1
    assert set(done) == {edit.__name__ for edit in BREAKS}


def _named(revision: Revision, broken: Broken, said: str) -> None:
    shown = [str(fault) for fault in revision.faults]
    assert shown, said
    assert len(set(shown)) == len(shown), (said, shown)
    for fault in revision.faults:
        assert broken.words in fault.what, (said, shown)
    if broken.orders:
        assert {fault.order for fault in revision.faults} == broken.orders, (said, shown)
        assert len(shown) == len(broken.orders), (said, shown)
    else:
        assert [fault.sets for fault in revision.faults] == [broken.sets], (said, shown)


def test_the_difference_has_every_figure(cases: tuple[Case, Case]) -> None:
    """Added up here is what it states, but for jumbos, delivery and lateness."""
    stated = {field.name for field in fields(PlanFigures)}
    added = set(added_up(cases[0].plan, cases[0].mill))
    assert stated - added == {"delivered_kg", "jumbos", "late_orders", "lost_to_kg"}


def test_an_instruction_that_the_edit_breaks_is_given_up(cases: tuple[Case, Case]) -> None:
    """A cap on set-ups, and two orders apart: the answer says so, and the plan holds all the same.

    Two orders of one width stand in one set once a reel of the one is made for the other.
    """
    case = cases[1]
    orders = ("486-02", "486-05")
    asked = (
        Instruction(what="apart", orders=orders, grade="White-top liner", grammage_gsm=140.0),
        Instruction(what="set-ups", number=8, grade="White-top liner", grammage_gsm=140.0),
    )
    request = Request(effort=Effort.QUICK, instructions=asked)
    lines = tuple(each for each in case.book.orders if each.grade == "White-top liner")
    book = replace(case.book, orders=lines)
    case = replace(case, book=book, plan=make_plan(book, case.mill, request))
    place = next(n for n, run in enumerate(case.plan.runs) if "White-top" in run.name)
    run = case.plan.runs[place]
    assert all(answer.kept for answer in run.instructions)
    at, number = next(
        (at, order)
        for at, block in enumerate(run.blocks)
        for order in orders
        if sum(p.order == order for p in block.positions) > 1
    )
    block = run.blocks[at]
    place_of = next(p.number for p in block.positions if p.order == number)
    other = orders[number == orders[0]]
    new = tuple(replace(p, order=other) if p.number == place_of else p for p in block.positions)
    parts = (
        replace(block, positions=new, sets=block.sets[:1]),
        replace(block, sets=block.sets[1:]),
    )
    blocks = (*run.blocks[:at], *(part for part in parts if part.sets), *run.blocks[at + 1 :])
    revision = revised(case, edited(case.plan, place, blocks))
    assert not [fault for fault in revision.faults if not fault.order], revision.faults
    assert revision.plan is not None
    assert revision.difference is not None
    assert revision.difference.given_up == (asked[0].name,)
    answer = revision.plan.runs[place].instructions[0]
    assert (answer.kept, answer.price) == (False, None)
    assert "revised by hand" in answer.why
    assert verify_plan(revision.plan, case.book, case.mill, request) == ()


def test_a_set_after_the_shift_is_named(cases: tuple[Case, Case]) -> None:
    """A longer run pushes the last set beyond the shift's end: that one is named, once."""
    case = cases[0]
    finish = case.plan.runs[-1].finish
    assert finish is not None
    request = Request(effort=Effort.QUICK, until=finish + timedelta(seconds=30))
    settings = settings_of(case.book, case.mill, request)
    case = replace(case, plan=replace(case.plan, request=request, settings=settings))
    run = case.plan.runs[0]
    assert run.finish is not None
    assert (finish + timedelta(seconds=30) - run.finish).total_seconds() >= 0
    blocks = list(run.blocks)
    at = max(range(len(blocks)), key=lambda at: len(blocks[at].sets))
    blocks[at] = replace(blocks[at], sets=blocks[at].sets * 2)
    revision = revised(case, edited(case.plan, 0, blocks))
    late = [fault for fault in revision.faults if "the shift ends" in fault.what]
    assert len(late) == 1
    assert len(late[0].sets) == 1


def test_knives_stand_as_issued_wherever_the_idle_ones_stood(cases: tuple[Case, Case]) -> None:
    """Idle knives at the back of the beam may stand at its front: no move more is counted."""
    for case in cases:
        for run in case.plan.runs:
            spare = min(
                len(b.beam_mm) - 1 - max(i for i, at in enumerate(b.beam_mm) if at is not None)
                for b in run.blocks
            )
            turned = tuple(
                replace(b, beam_mm=(*[None] * spare, *b.beam_mm[: len(b.beam_mm) - spare]))
                for b in run.blocks
            )
            blocks = with_knives(turned, case.mill, case.plan.settings)
            was = sum(block.knife_moves for block in run.blocks[1:])
            assert sum(block.knife_moves for block in blocks) <= was
