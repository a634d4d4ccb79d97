"""Sheeter reels that more than one sheeter takes: so spread that the sheets are cut soonest."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from itertools import product
from random import Random

import pytest

from tests.making.orders import board_reel, board_sheet
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Book, Instruction, InstructionPiece
from trimopt.check import verify_plan
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.planning.sheeters.sheeter_loads import matched, sheeted
from trimopt.plan.planning.sheeters.sheeter_spread import spread
from trimopt.plan.proof_data import InstructionAnswer
from trimopt.plan.sheeter_load import Load


def _mill(*changes: dict[str, object]) -> Mill:
    """The sample mill with its sheeter as often as there are changes, named by number."""
    mill = sample_mill()
    sheeters = tuple(
        replace(mill.sheeters[0], name=f"Sheeter {n}", **change)  # type: ignore[arg-type]
        for n, change in enumerate(changes, start=1)
    )
    return replace(mill, sheeters=sheeters)


def _all_on(run: RunPlan, name: str) -> RunPlan:
    blocks = tuple(
        replace(
            block,
            positions=tuple(
                replace(p, sheeter=name) if p.kind == "sheeter" else p for p in block.positions
            ),
        )
        for block in run.blocks
    )
    return replace(run, blocks=blocks)


def _last(loads: Sequence[Load]) -> datetime:
    return max(load.finish for load in loads)


def _soonest(run: RunPlan, mill: Mill) -> datetime:
    """When the last load is cut at the soonest, over all ways to give places to sheeters.

    A sheeter that never waits while a load is ready is done at one time, whatever their order.
    """
    lines = {line.number: line for line in run.orders}
    places = [
        (block, position)
        for block in run.blocks
        for position in block.positions
        if position.kind == "sheeter"
    ]
    best = datetime.max  # noqa: DTZ901  a mill's dates carry no zone
    for given in product(mill.sheeters, repeat=len(places)):
        last = datetime.min  # noqa: DTZ901  as above
        for sheeter in mill.sheeters:
            reels: dict[tuple[object, ...], list[tuple[int, int, int, datetime | None]]]
            reels = defaultdict(list)
            for (block, position), its in zip(places, given, strict=True):
                if its is sheeter:
                    kind = position.order, position.width_mm, position.ups
                    reels[kind] += [
                        (row.number, position.number, row.length_m, row.finish)
                        for row in block.sets
                    ]
            loads = []
            for (order, *_), of_kind in reels.items():
                theirs = sorted(of_kind)
                chop = lines[str(order)].chop_mm
                assert chop is not None
                lengths = [each[2] for each in theirs]
                for group in matched(lengths, sheeter.unwinds, sheeter.max_length_difference_m):
                    ready = [theirs[at][3] for at in group]
                    speed = sheeter.speed_m_min
                    if sheeter.max_cuts_per_min is not None:
                        speed = min(speed, sheeter.max_cuts_per_min * float(chop) / 1000)
                    minutes = sheeter.load_change_min + min(lengths[at] for at in group) / speed
                    loads.append((max(x for x in ready if x is not None), minutes))
            now = datetime.min  # noqa: DTZ901  as above
            for ready_at, minutes in sorted(loads):
                now = max(now, ready_at) + timedelta(minutes=minutes)
            last = max(last, now)
        best = min(best, last)
    return best


@pytest.mark.parametrize(
    "changes",
    [
        ({}, {}),
        ({"unwinds": 1}, {"unwinds": 1}),
        ({"unwinds": 2, "speed_m_min": 90.0}, {"unwinds": 1, "load_change_min": 30.0}),
        ({"unwinds": 1, "speed_m_min": 40.0}, {"unwinds": 1}, {"unwinds": 2}),
    ],
)
def test_the_hand_worked_run_is_cut_as_soon_as_can_be(changes: tuple[dict[str, object]]) -> None:
    """Three places of sheeter reels: no way to give them to two or three sheeters ends sooner."""
    mill = _mill(*changes)
    run = _all_on(sample_plan().runs[0], "Sheeter 1")
    (cut,), loads = sheeted(spread((run,), mill), mill)
    assert _last(loads) == _soonest(run, mill)
    plan = replace(sample_plan(), runs=(cut, sample_plan().runs[1]), loads=loads)
    assert verify_plan(plan, sample_book(), mill) == ()


@pytest.mark.parametrize(
    "other",
    [
        {"trim_per_side_mm": Fraction(12)},
        {"waste_share": 0.02},
        {"max_chop_mm": Fraction(1000)},
        {"max_web_mm": Fraction(1400)},
        {"max_ups": 1},
        {"max_reel_diameter_mm": 1200.0},
    ],
)
def test_a_sheeter_that_does_not_take_them_alike_gets_none(other: dict[str, object]) -> None:
    """Another trim, waste, chop, width, ups or diameter: the reels stay where they are."""
    run = _all_on(sample_plan().runs[0], "Sheeter 1")
    mill = _mill({"unwinds": 1}, {"unwinds": 1, **other})
    assert spread((run,), mill) == (run,)


def _book(seed: int) -> Book:
    draw = Random(seed)
    sheets = [
        board_sheet(
            f"S{k}",
            width_mm=Fraction(draw.randint(400, 800)),
            chop_mm=Fraction(draw.randint(500, 1000)),
            quantity=Fraction(draw.randint(10_000, 60_000)),
            due=draw.choice([None, datetime.fromisoformat("2026-03-01T12:00")]),
        )
        for k in range(draw.randint(1, 4))
    ]
    reel = board_reel("R", width_mm=Fraction(draw.randint(600, 1100)), quantity=Fraction(4))
    return Book(source="s.xlsx", fingerprint="f", as_of=date(2026, 3, 1), orders=(*sheets, reel))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_mill_file_s_order_does_not_decide(seed: int) -> None:
    """Two sheeters alike, named in either order: cut no later than on one, and as late or early.

    Never more minutes late than on one sheeter, and every plan holds.
    """
    book = _book(seed)
    mill = _mill({"speed_m_min": 120.0}, {"speed_m_min": 120.0})
    turned = replace(mill, sheeters=mill.sheeters[::-1])

    def late(loads: Sequence[Load]) -> float:
        due = {order.number: order.due for order in book.orders}
        cut: dict[str, datetime] = {}
        for load in loads:
            cut[load.order] = max(load.finish, cut.get(load.order, load.finish))
        return sum(
            max(0.0, (done - by).total_seconds())
            for number, done in cut.items()
            if (by := due[number]) is not None
        )

    ends = []
    for each in (mill, turned):
        plan = make_plan(book, each, Request(effort=Effort.QUICK), number="s-1")
        assert [str(finding) for finding in verify_plan(plan, book, each)] == []
        alone = replace(each, sheeters=each.sheeters[:1])
        runs = tuple(_all_on(run, alone.sheeters[0].name) for run in plan.runs)
        _, one = sheeted(runs, alone)
        assert late(plan.loads) <= late(one)
        assert (late(plan.loads), _last(plan.loads)) <= (late(one), _last(one))
        ends.append((late(plan.loads), _last(plan.loads)))
    assert ends[0] == ends[1]


def test_a_pinned_block_keeps_the_sheeter_that_its_instruction_names() -> None:
    """Two places of the last block are pinned: all of the work but theirs may go elsewhere."""
    run = _all_on(sample_plan().runs[0], "Sheeter 1")
    pieces = (
        InstructionPiece(count=2, order="4103", ups=2, sheeter="Sheeter 1"),
        InstructionPiece(count=1, order="4104"),
    )
    pin = Instruction(row=4, what="pin", pattern=pieces, number=2)
    run = replace(run, instructions=(InstructionAnswer(instruction=pin, kept=True),))
    (given_run,) = spread((run,), _mill({"unwinds": 1}, {"unwinds": 1}))
    given = [[p.sheeter for p in b.positions if p.kind == "sheeter"] for b in given_run.blocks]
    assert given == [[], ["Sheeter 2"], ["Sheeter 1", "Sheeter 1"]]
