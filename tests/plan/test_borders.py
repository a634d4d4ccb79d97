"""Between two runs the knives stand where the first left them: moves and minutes are counted."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from io import StringIO
from itertools import pairwise, product
from random import Random

import pytest
from rich.console import Console

from tests.making.orders import board_jumbo, board_reel
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Book
from trimopt.check import verify_plan
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, Effort, Plan, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.report.terminal.plan_terminal import print_summary
from trimopt.report.words.plan_words import moves_text

TOLD = (Fraction(20), Fraction(1020), Fraction(2000))
_PAPERS = (("Folding board", 250.0), ("Sack kraft", 200.0), ("Folding board", 230.0))


def _mill(idle: str, told: tuple[Fraction, ...] = ()) -> Mill:
    mill = sample_mill()
    return replace(mill, winders=(replace(mill.winder, idle_knives=idle, knives_at_mm=told),))


def _book(seed: int) -> Book:
    """Three runs of a few widths each; the one that is due first is not the book's first."""
    draw = Random(seed)
    orders = tuple(
        replace(
            board_reel(
                f"{place}{k}",
                width_mm=Fraction(draw.randint(500, 1100)),
                quantity=Fraction(draw.randint(2, 9)),
                due=datetime(2026, 3, 8 - place),  # noqa: DTZ001  a mill's dates carry no zone
            ),
            grade=grade,
            grammage_gsm=gsm,
        )
        for place, (grade, gsm) in enumerate(_PAPERS)
        for k in range(draw.randint(1, 3))
    )
    return Book(source="b.xlsx", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)


def _named(block: Block) -> list[str]:
    """Where every knife stands, the ends by name."""
    first = next(i for i, place in enumerate(block.beam_mm) if place is not None)
    return [
        str(place) if place is not None else ("front" if i < first else "back")
        for i, place in enumerate(block.beam_mm)
    ]


def _min_parked(rows: list[tuple[Fraction, ...]], knives: int) -> int:
    """Fewest moves with idle knives parked, by trying every division between the ends."""
    ways = [
        [
            [*["front"] * front, *map(str, row), *["back"] * (knives - front - len(row))]
            for front in range(knives - len(row) + 1)
        ]
        for row in rows
    ]
    return min(
        sum(a != b for one, other in pairwise(way) for a, b in zip(one, other, strict=True))
        for way in product(*ways)
    )


def _minutes(plan: Plan, mill: Mill) -> list[float]:
    """Minutes by which each run's first set takes longer than it would with no knife moved."""
    found = []
    for run in plan.runs:
        block, winder = run.blocks[0], mill.winder
        row = block.sets[0]
        assert row.start is not None
        assert row.finish is not None
        metres = sum(part.to_m - part.from_m for part in row.stretches)
        speed = winder.speed_m_min / 60
        wound = (metres / speed + speed / (winder.acceleration_m_min_s / 60)) / 60
        rest = winder.set_up_min + winder.jumbo_change_min + winder.set_change_min + wound
        found.append((row.finish - row.start).total_seconds() / 60 - rest)
    return found


@pytest.mark.parametrize("told", [(), TOLD])
@pytest.mark.parametrize("idle", ["parked", "lifted"])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_run_begins_with_the_knives_where_the_run_before_left_them(
    seed: int, idle: str, told: tuple[Fraction, ...]
) -> None:
    """All moves counted again over the whole plan, and the minutes for those of a first block."""
    mill, book = _mill(idle, told), _book(seed)
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="b-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    blocks = [block for run in plan.runs for block in run.blocks]
    for before, block in pairwise(blocks):
        moved = [a != b for a, b in zip(_named(before), _named(block), strict=True)]
        assert block.knife_moves == sum(moved)
        cutting = [
            it
            for it, place in zip(moved, block.beam_mm, strict=True)
            if place in set(block.knives_mm)
        ]
        assert block.knives_moved == tuple(cutting)
    assert (blocks[0].knife_moves > 0) == bool(told)
    for run, minutes in zip(plan.runs, _minutes(plan, mill), strict=True):
        assert run.knife_moves == sum(block.knife_moves for block in run.blocks)
        assert minutes == pytest.approx(
            mill.winder.knife_move_min * run.blocks[0].knife_moves, abs=0.01
        )
        assert {point.knife_moves for point in run.trade_off if point.chosen} <= {run.knife_moves}
        rows = {row.number: row for block in run.blocks for row in block.sets}
        for line in run.orders:
            assert line.last_set is not None
            assert line.finished == rows[line.last_set].finish
    assert all(one.finish == other.start for one, other in pairwise(plan.runs))
    if idle == "parked" and not told:
        for one, other in pairwise(plan.runs):
            held = [one.blocks[-1].knives_mm, *(block.knives_mm for block in other.blocks)]
            assert other.knife_moves >= _min_parked(held, mill.winder.knives)


@pytest.mark.parametrize("idle", ["parked", "lifted"])
def test_the_check_asks_for_the_moves_between_runs(idle: str) -> None:
    """A first block that claims no move, or another beam, does not hold; nor do its minutes."""
    mill, book = _mill(idle), _book(3)
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="b-1")
    run = plan.runs[1]
    block = run.blocks[0]
    assert block.knife_moves
    for changed in (
        replace(block, knife_moves=0, knives_moved=(False,) * len(block.knives_mm)),
        replace(block, knife_moves=0, knives_moved=(False,) * len(block.knives_mm), beam_mm=()),
    ):
        less = run.knife_moves - block.knife_moves
        runs = (
            plan.runs[0],
            replace(run, blocks=(changed, *run.blocks[1:]), knife_moves=less),
            plan.runs[2],
        )
        said = "\n".join(map(str, verify_plan(replace(plan, runs=runs), book, mill)))
        assert "block 1: knife moves" in said
        assert "minutes from start to finish" in said or block.knife_moves <= 2
    last = replace(plan.runs[0].blocks[-1], beam_mm=())
    edited = replace(plan.runs[0], blocks=(*plan.runs[0].blocks[:-1], last))
    said = "\n".join(
        map(str, verify_plan(replace(plan, runs=(edited, *plan.runs[1:])), book, mill))
    )
    assert f"{run.name}, block 1" not in said


def test_the_moves_of_a_first_block_are_printed() -> None:
    """Worked by hand: five knives move from the board to the kraft, two and a half minutes.

    Of the very first block nobody knows what it takes, so no number is printed.
    """
    plan = sample_plan()
    board, kraft = plan.runs
    assert kraft.blocks[0].knife_moves == 5
    assert verify_plan(plan, sample_book(), sample_mill()) == ()
    assert board.start is not None
    assert moves_text(board.blocks[0]) == "knife moves not known, 5 knives"
    assert moves_text(kraft.blocks[0]) == "5 knife moves, 4 knives"
    console = Console(width=100, file=StringIO())
    print_summary(plan, console)
    assert isinstance(console.file, StringIO)
    assert "5 knife moves" in console.file.getvalue()
    assert timedelta(minutes=_minutes(plan, sample_mill())[1]) == timedelta(minutes=2.5)


@pytest.mark.parametrize(("wide_mm", "narrow_mm"), [(3640, 3300), (3700, 3400), (3700, 3200)])
def test_a_knife_beside_a_narrower_jumbo_is_parked_by_a_move(wide_mm: int, narrow_mm: int) -> None:
    """It cut the wide one before, where the narrow one has no web: the ends are places too."""
    mill = sample_mill()
    winder = replace(
        mill.winder, idle_knives="parked", max_edge_trim_mm=None, max_web_mm=Fraction(3700)
    )
    mill = replace(mill, winders=(winder,))
    orders = tuple(
        board_reel(name, width_mm=Fraction(width), quantity=Fraction(60))
        for name, width in (("A", 500), ("B", 640))
    )
    jumbos = tuple(
        board_jumbo(name, 13_000, width_mm=Fraction(width), loss_start_m=100, loss_end_m=200)
        for name, width in (("J-1", wide_mm), ("J-2", narrow_mm))
    )
    book = replace(_book(0), orders=orders, jumbos=jumbos)
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="1")
    assert verify_plan(plan, book, mill) == ()
    assert {block.jumbo_width_mm for block in plan.runs[0].blocks} >= {wide_mm, narrow_mm}
