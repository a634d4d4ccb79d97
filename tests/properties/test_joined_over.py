"""Sets joined over what is cut out of a jumbo: least paper counted out, all verified."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import pytest

from tests.making.orders import board_jumbo, board_reel
from tests.plan.planning.replanning.rests import replan
from tests.properties.test_defects import book_with
from tests.properties.test_several_widths import (
    EDGE,
    MAX_LOST,
    WIDE,
    ends,
    fewest_sets,
    left_of,
    patterns_in,
    plain_mill,
)  # fmt: skip
from trimopt import DoneSet, WhatRan, read_edited, revise_plan, write_plan
from trimopt.book.model import Book, Defect, Order
from trimopt.check import verify_plan
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Plan, Request, RunPlan, SetRow
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.reel_rows import reels_of


def joining_mill(min_part_m: int = 1) -> Mill:
    """The plain mill, which joins."""
    mill = plain_mill()
    own = replace(mill.winder, joins_allowed=True, min_join_part_m=min_part_m)
    return replace(mill, winders=(own,))


def hole(from_m: int, to_m: int) -> Defect:
    """From side to side."""
    return Defect(from_m=from_m, to_m=to_m, from_mm=Fraction(0), to_mm=Fraction(WIDE), what="hole")


def a_book(orders: list[Order], length_m: int, *defects: Defect) -> Book:
    """Orders, and a jumbo with these defects."""
    jumbo = board_jumbo("D", length_m, defects=defects)
    return Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=tuple(orders),
                jumbos=(jumbo,))  # fmt: skip


def planned(book: Book, mill: Mill) -> Plan:
    """The plan of a book, checked."""
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="j-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    return plan


def joined(run: RunPlan) -> list[SetRow]:
    """Sets with a join within a jumbo."""
    return [row for row in run.sets if len(row.stretches) > len(row.jumbos)]


@pytest.mark.parametrize("seed", range(8))
def test_a_jumbo_with_a_hole_is_wound_for_the_least_paper(seed: int) -> None:
    """Reels of one length exactly: what lies on either side, and what is joined, is counted out.

    The jumbo is used where no more than a fifth of what is used of it is lost by it.
    """
    draw = Random(seed)
    widths = draw.sample(range(500, 1700, 10), draw.randint(2, 3))
    asked = tuple(draw.randint(3, 7) for _ in widths)
    takes = [draw.random() < 0.8 for _ in widths]
    orders = [
        board_reel(f"O{width}", width_mm=Fraction(width), quantity=Fraction(count),
                   min_diameter_mm=1250.0, max_diameter_mm=1250.0, joins_allowed=int(may))
        for width, count, may in zip(widths, asked, takes, strict=True)
    ]  # fmt: skip
    least = draw.choice([1, 1, 900])
    mill = joining_mill(least)
    metres = planned(replace(a_book(orders, 1), jumbos=()), mill).runs[0].blocks[0].length_m
    before, behind = (draw.randint(300, 2 * metres) for _ in range(2))
    (run,) = planned(a_book(orders, before + behind + 200, hole(before, before + 200)), mill).runs

    most = min(mill.winder.max_reels, mill.winder.knives - 1)
    fewest = fewest_sets(widths, most)
    across = patterns_in(widths, WIDE - EDGE, most)
    over = [p for p in across if all(may for may, n in zip(takes, p, strict=True) if n)]
    counts = {(n, 0) for n in range(1, before // metres + behind // metres + 1)}
    first = before % metres
    if first >= least and least <= metres - first <= behind:
        more = (behind - metres + first) // metres
        counts |= {(before // metres + n, 1) for n in range(more + 1)}
    whole, ways = before + behind, [(fewest(asked) * metres, 0)]  # type: ignore[operator]
    for apart, joins in counts:
        for left in ends(asked, apart, across):
            for after in {left_of(left, p) for p in over} if joins else {left}:
                rest = fewest(after)  # type: ignore[operator]
                on_it = whole if rest else (apart + joins) * metres
                ways.append(((1 - MAX_LOST) * on_it + rest * metres, joins))
    best = min(paid for paid, _ in ways)
    rest = sum(row.length_m for row in run.sets if "D" not in row.jumbos)
    on_it = sum(row.length_m for row in run.sets if "D" in row.jumbos)
    paid = rest + (on_it and (1 - MAX_LOST) * (whole if rest else on_it))
    # A reel of that diameter may have a few metres more or less.
    assert float(paid) == pytest.approx(float(best), rel=0.002)
    close = {joins for each, joins in ways if each < best * 1.002}
    assert len(joined(run)) in close


#: Six reels a set of it fill the deckle; sets of 3,150 to 3,165 m.
ORDER = board_reel(
    "A", width_mm=Fraction(590), quantity=Fraction(60), under=Fraction(1, 20),
    over=Fraction(1, 10), joins_allowed=1,
)  # fmt: skip


@cache
def a_joined_plan() -> tuple[Plan, Book, Mill]:
    """Its second set lies over the hole."""
    mill, book = joining_mill(300), a_book([ORDER], 13_100, hole(4_000, 4_300))
    return planned(book, mill), book, mill


def test_a_set_is_joined_where_its_order_and_the_winder_allow_it() -> None:
    """Else the same jumbo gives a set less, and a butt; what is cut out is the same."""
    plan, book, mill = a_joined_plan()
    (run,) = plan.runs
    (row,) = joined(run)
    one, other = row.stretches
    assert (one.to_m, other.from_m) == (4_000, 4_300)
    assert min(one.to_m - one.from_m, other.to_m - other.from_m) >= 300
    assert {reel.joins for reel in reels_of(run) if reel.set_number == row.number} == {1}
    winder = replace(mill.winder, joins_allowed=False)
    for books, at in (
        (replace(book, orders=(replace(ORDER, joins_allowed=0),)), mill),
        (book, replace(mill, winders=(winder,))),
    ):
        (without,) = planned(books, at).runs
        assert not joined(without)
        assert without.balance.defects_kg == run.balance.defects_kg
        assert without.balance.butts_kg > run.balance.butts_kg + 500


def test_leave_to_join_costs_nothing() -> None:
    """Of wide ranges a plan without any join may be the better: here by 79 kg and two set-ups."""
    orders = tuple(
        board_reel(
            f"O{width}", width_mm=Fraction(width), quantity=Fraction(reels), over=Fraction(1, 10),
            min_diameter_mm=float(least), max_diameter_mm=float(most), joins_allowed=1,
        )
        for width, reels, least, most in (
            (900, 37, 1200, 1350),
            (1060, 34, 1200, 1400),
            (860, 34, 1200, 1300),
            (1430, 14, 1200, 1350),
        )
    )  # fmt: skip
    mill, book = joining_mill(300), a_book(list(orders), 13_000, hole(5822, 5822 + 200))
    unjoined = replace(mill, winders=(replace(mill.winder, joins_allowed=False),))
    (may,), (without,) = (planned(book, each).runs for each in (mill, unjoined))
    lost = [run.balance.used_kg - run.balance.delivered_kg + (run.balance.under_kg
            + run.balance.over_kg) / 10 for run in (may, without)]  # fmt: skip
    assert lost[0] <= lost[1] + 0.1
    assert may.set_ups <= without.set_ups


def test_a_join_takes_its_minutes() -> None:
    """Run-down, cutting out and joining, run-up: beside a set of the same length without."""
    plan, _, mill = a_joined_plan()
    taken = [(row.finish - row.start).total_seconds() / 60  # type: ignore[operator]
             for row in plan.runs[0].sets[:3]]  # fmt: skip
    winder = mill.winder
    again = winder.speed_m_min / winder.acceleration_m_min_s / 60
    assert taken[1] - taken[2] == pytest.approx(winder.join_min + again, abs=0.3)


def test_the_check_finds_a_join_over_nothing() -> None:
    """A set in two parts between which nothing is cut out."""
    plan, book, mill = a_joined_plan()
    (run,) = plan.runs
    first = run.blocks[0]
    (row, *others) = first.sets
    (part,) = row.stretches
    parts = replace(part, to_m=part.from_m + 1_000), replace(part, from_m=part.from_m + 1_000)
    block = replace(first, sets=(replace(row, stretches=parts), *others))
    wrong = replace(plan, runs=(replace(run, blocks=(block, *run.blocks[1:])),))
    said = [str(finding) for finding in verify_plan(wrong, book, mill)]
    assert any("join at metre 1000 of D" in line and "nothing is cut out" in line for line in said)


def test_a_plan_with_a_join_is_read_back_and_goes_on(tmp_path: Path) -> None:
    """Untouched it revises to itself; run before, with or after the join, it stays as issued."""
    plan, book, mill = a_joined_plan()
    written = write_plan(plan, book, mill, tmp_path, request=Request(effort=Effort.QUICK)).plan
    for end in (".xlsx", ".json"):
        revision = revise_plan(read_edited(tmp_path / f"{written.number}{end}"), book, mill)
        assert revision.plan == written
        assert not revision.changed
    issued = [row.stretches for row in written.runs[0].sets]
    for done in range(1, 5):
        ran = WhatRan(sets=tuple(
            DoneSet(run=written.runs[0].name, number=number) for number in range(1, done + 1)
        ))  # fmt: skip
        after = replan(written, book, mill, ran).plan
        assert verify_plan(after, book, mill) == ()
        assert [row.stretches for row in after.runs[0].sets] == issued


def test_a_set_before_the_join_that_came_short_moves_the_join() -> None:
    """What was left before the hole is wound: the joined set's first part is longer."""
    plan, book, mill = a_joined_plan()
    (run,) = plan.runs
    ran = WhatRan(sets=(DoneSet(run=run.name, number=1, length_m=3_100),
                        DoneSet(run=run.name, number=2)))  # fmt: skip
    after = replan(plan, book, mill, ran).plan
    assert verify_plan(after, book, mill) == ()
    spans = [(part.from_m, part.to_m) for part in after.runs[0].sets[1].stretches]
    assert spans == [(3_100, 4_000), (4_300, 4_300 + run.sets[1].length_m - 900)]


@pytest.mark.parametrize("wound_m", [400, 3_000])
def test_a_set_that_breaks_before_or_behind_the_join(wound_m: int) -> None:
    """It has come to the hole or not; what follows goes on where it ended."""
    plan, book, mill = a_joined_plan()
    (run,) = plan.runs
    every = tuple(position.number for position in run.blocks[0].positions)
    broken = DoneSet(run=run.name, number=2, length_m=wound_m, spoiled=every)
    ran = WhatRan(sets=(DoneSet(run=run.name, number=1), broken))
    after = replan(plan, book, mill, ran).plan
    assert verify_plan(after, book, mill) == ()
    second, third = after.runs[0].sets[1:3]
    assert len(second.stretches) == 1 + (wound_m > run.sets[1].joins_at_m[0])
    assert third.stretches[0].from_m >= second.stretches[-1].to_m


def test_a_set_of_two_jumbos_that_breaks_on_the_first_leaves_the_second_whole() -> None:
    """What was wound lies on the first alone."""
    mill = joining_mill(300)
    order = replace(ORDER, min_diameter_mm=1150.0, max_diameter_mm=1150.0)
    book = replace(a_book([order], 1), jumbos=())
    plan = planned(book, mill)
    (run,) = plan.runs
    row = next(each for each in run.sets if len(each.jumbos) > 1)
    done = [DoneSet(run=run.name, number=n) for n in range(1, row.number)]
    broken = DoneSet(run=run.name, number=row.number, length_m=row.joins_at_m[0] - 100)
    after = replan(plan, book, mill, WhatRan(sets=(*done, broken))).plan
    assert verify_plan(after, book, mill) == ()
    now = next(each for each in after.runs[0].sets if each.number == row.number)
    assert now.jumbos == row.jumbos[:1]


@pytest.mark.parametrize("seed", [105, 109])
def test_a_joined_set_is_laid_out_round_bands_on_either_side(seed: int) -> None:
    """A streak before the hole, a bad edge behind it: reels that they hit are lost or seconds."""
    draw = Random(seed)
    at = draw.randint(4_000, 9_000)
    front = draw.randint(40, 3_000)
    behind = draw.randint(900, 3_000)
    streak = replace(hole(at - 2_000, at), from_mm=Fraction(front), to_mm=Fraction(front + 30))
    edge = replace(hole(at + 250, at + behind), to_mm=Fraction(80))
    book = book_with(draw, (streak, hole(at, at + 200), edge))
    orders = tuple(
        replace(order, joins_allowed=1, takes_seconds=draw.random() < 0.5) for order in book.orders
    )
    (run,) = planned(replace(book, orders=orders), joining_mill()).runs
    (row,) = joined(run)
    assert row.stretches[0].to_m == at - 120  # metres are counted from behind the start loss
    assert row.spoiled or row.seconds
