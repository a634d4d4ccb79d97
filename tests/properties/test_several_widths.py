"""Jumbos of several widths in one run: what holds of every plan, and the least paper."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from functools import cache
from itertools import product
from random import Random

import pytest

from tests.making.orders import board_jumbo, board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, JumboInStock, Order
from trimopt.check import verify_plan
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Plan, Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan

WIDE, EDGE = 3600, 2 * 15
MAX_LOST = Fraction(1, 5)  # of a jumbo's paper, or it is not used


def plain_mill() -> Mill:
    """The sample mill without limits on edge trim and on the mass of a set."""
    mill = sample_mill()
    winder = replace(
        mill.winder,
        max_edge_trim_mm=None,
        max_set_mass_kg=None,
        min_edge_trim_mm=Fraction(EDGE, 2),
        max_web_mm=Fraction(4000),
    )
    return replace(mill, winders=(winder,))


def planned(orders: Sequence[Order], jumbos: Sequence[JumboInStock], **rest: bool) -> Plan:
    """The plan of a book, checked."""
    book = Book(
        source="s",
        fingerprint="f",
        as_of=date(2026, 3, 1),
        orders=tuple(orders),
        jumbos=tuple(jumbos),
        **rest,  # type: ignore[arg-type]  # flags of the book
    )
    mill = plain_mill()
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="w-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    return plan


def patterns_in(widths: Sequence[int], deckle: int, most: int) -> list[tuple[int, ...]]:
    """Every choice of reels that fits."""
    ranges = [range(deckle // width + 1) for width in widths]
    return [
        counts
        for counts in product(*ranges)
        if 0 < sum(counts) <= most
        and sum(n * width for n, width in zip(counts, widths, strict=True)) <= deckle
    ]


def left_of(asked: tuple[int, ...], pattern: tuple[int, ...]) -> tuple[int, ...]:
    """Reels still to be made."""
    return tuple(max(0, a - n) for a, n in zip(asked, pattern, strict=True))


def ends(
    asked: tuple[int, ...], sets: int, patterns: Sequence[tuple[int, ...]]
) -> Iterator[tuple[int, ...]]:
    """Every way that so many sets can leave the orders."""
    states = {asked}
    for _ in range(sets):
        states = {left_of(state, pattern) for state in states for pattern in patterns}
    yield from states


def fewest_sets(widths: Sequence[int], most: int) -> object:
    """Fewest sets of the run's own width for what is left, by what is left."""
    patterns = patterns_in(widths, WIDE - EDGE, most)

    @cache
    def fewest(asked: tuple[int, ...]) -> int:
        if not any(asked):
            return 0
        first = next(i for i, n in enumerate(asked) if n)
        return 1 + min(fewest(left_of(asked, p)) for p in patterns if p[first])

    return fewest


@pytest.mark.parametrize("seed", range(6))
def test_a_narrow_jumbo_is_wound_for_the_least_paper(seed: int) -> None:
    """Reels of one length exactly: which patterns lie on the narrow jumbo is counted out.

    It is used where no more than a fifth of what is used of it is lost by it.
    """
    draw = Random(seed)
    widths = draw.sample(range(500, 1700, 10), draw.randint(2, 3))
    asked = tuple(draw.randint(2, 9) for _ in widths)
    narrow, sets = draw.choice([3580, 3500, 3300, 3000]), draw.randint(1, 3)
    orders = [
        board_reel(f"O{width}", width_mm=Fraction(width), quantity=Fraction(count),
                   min_diameter_mm=1250.0, max_diameter_mm=1250.0)
        for width, count in zip(widths, asked, strict=True)
    ]  # fmt: skip
    (run,) = planned(orders, ()).runs
    length_m = run.blocks[0].length_m
    jumbo = board_jumbo("N", sets * length_m, width_mm=Fraction(narrow))
    (run,) = planned(orders, (jumbo,)).runs
    most = min(plain_mill().winder.max_reels, plain_mill().winder.knives - 1)
    fewest = fewest_sets(widths, most)
    on_it = patterns_in(widths, narrow - EDGE, most)
    reward = MAX_LOST * narrow
    ways = [(Fraction(fewest(asked) * WIDE), 0)]  # type: ignore[operator]
    for many in range(1, sets + 1):
        for left in ends(asked, many, on_it):
            rest = fewest(left)  # type: ignore[operator]
            if many == sets or not rest:
                ways.append((many * (narrow - reward) + rest * WIDE, many))
    best, many = min(ways)
    paper = sum(run.web_mm(block) * row.length_m for block in run.blocks for row in block.sets)
    asked_for = (best + many * reward) * length_m
    assert float(paper) == pytest.approx(float(asked_for), rel=0.002)


def stock(draw: Random) -> list[JumboInStock]:
    """Jumbos of several widths, narrow and wide, and lengths."""
    return [
        board_jumbo(
            f"J{number}",
            draw.randint(3_000, 14_000),
            width_mm=Fraction(draw.choice([3600, 3600, 3580, 3595, 3300, 3650])),
            loss_start_m=draw.choice([0, 40]),
            loss_end_m=draw.choice([0, 60]),
        )
        for number in range(draw.randint(1, 5))
    ]


@pytest.mark.parametrize("seed", range(8))
def test_whatever_widths_there_are_the_plan_holds(seed: int) -> None:
    """Narrow and wide jumbos, some or none nominal, in the list's order or not: all is verified."""
    draw = Random(seed)
    most = 24 if seed < 7 else 8  # a long run of the last book takes a quarter of a minute
    orders = [
        board_reel(
            f"O{number}",
            width_mm=Fraction(width),
            quantity=Fraction(draw.randint(2, most)),
            max_diameter_mm=(greatest := draw.choice([1050.0, 1250.0])),
            min_diameter_mm=greatest - draw.choice([20.0, 60.0, 150.0]),
            under=Fraction(draw.choice([0, 5, 10]), 100),
            over=Fraction(draw.choice([0, 5, 10]), 100),
        )
        for number, width in enumerate(draw.sample(range(500, 1700, 5), draw.randint(2, 5)))
    ]
    jumbos = stock(draw)
    plan = planned(
        orders,
        jumbos,
        only_listed_jumbos=draw.random() < 0.3,
        jumbos_in_order=draw.random() < 0.3,
    )
    for run in plan.runs:
        check_run(run)


def check_run(run: RunPlan) -> None:
    """Every block lies on jumbos of its width; what is used up is paid for at its own width."""
    widths = {jumbo.name: jumbo.width_mm for jumbo in run.jumbos}
    for block in run.blocks:
        for row in block.sets:
            assert {widths[part.jumbo] for part in row.stretches} == {run.web_mm(block)}
    used = sum(j.width_mm * (j.length_m - j.carried_forward_m) for j in run.jumbos)
    assert run.balance.used_kg == pytest.approx(float(used) * run.grammage_gsm / 1e6)


@pytest.mark.parametrize("narrow", [0, 20])
def test_no_nominal_jumbo_bears_the_name_of_a_listed_one(narrow: int) -> None:
    """Left over from the plan before, of this paper or another, it is listed as it was named."""
    order = board_reel("A", width_mm=Fraction(1180), quantity=Fraction(60))
    own = replace(board_jumbo("R1-J 1", 9_000), width_mm=Fraction(WIDE - narrow))
    other = replace(board_jumbo("R1-J 2", 9_000), grade="Chromo", grammage_gsm=150.0)
    plan = planned((order,), (own, other))
    (run,) = plan.runs
    assert next(use.name for use in run.jumbos if use.nominal) == "R1-J 3"
    assert {use.name for use in run.jumbos if not use.nominal} <= {"R1-J 1"}
