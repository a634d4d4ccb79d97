"""Widths that the mill makes for stock: trim that would be broke, never more than allowed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from random import Random

import pytest

from tests.making.orders import board_reel
from tests.plan.planning.replanning.rests import replan
from tests.plan.sample_book import sample_mill
from tests.plan.test_small_runs import small_book, small_mill
from trimopt import DoneSet, WhatRan
from trimopt.book.model import Book
from trimopt.check import verify_plan
from trimopt.mill import Mill, StockWidth
from trimopt.plan.model import Effort, Plan, Request
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.states import OrderState

STOCK = StockWidth(
    name="STOCK-500", grade="Folding board", grammage_gsm=250.0, width_mm=Fraction(500),
    core_mm=152.0, max_diameter_mm=1250.0, min_diameter_mm=1150.0, max_kg=Fraction(2000),
    value_share=Fraction(4, 5),
)  # fmt: skip
ORDER = board_reel("A", width_mm=Fraction(1450), quantity=Fraction(12))


def mill_with(*widths: StockWidth) -> Mill:
    """The sample mill, 3,560 mm of deckle, with stock widths."""
    return replace(sample_mill(), stock_widths=widths)


def book_of(*orders: object) -> Book:
    """A book of these orders."""
    return Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)  # type: ignore[arg-type]


def plan_of(book: Book, mill: Mill) -> Plan:
    """Its plan, in which the check finds nothing."""
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="1")
    assert verify_plan(plan, book, mill) == ()
    return plan


def test_trim_becomes_reels_for_stock() -> None:
    """Two of 1,450 leave 660 of the deckle: some becomes reels for stock, worth their share."""
    plain = plan_of(book_of(ORDER), mill_with()).runs[0]
    run = plan_of(book_of(ORDER), mill_with(STOCK)).runs[0]
    line = next(line for line in run.orders if line.number == "STOCK-500")
    assert line.state is OrderState.FOR_STOCK
    assert 0 < line.planned_kg <= 2000
    balance, before = run.balance, plain.balance
    assert balance.used_kg == before.used_kg
    assert balance.made_for_stock_kg == pytest.approx(line.planned_kg)
    assert balance.stock_worth_kg == pytest.approx(0.8 * line.planned_kg)
    assert balance.delivered_kg == pytest.approx(before.delivered_kg)
    trim, trim_before = (b.edge_trim_kg + b.pattern_trim_kg for b in (balance, before))
    assert trim < trim_before - 0.9 * line.planned_kg
    assert sum(getattr(balance, name) for name in balance.PARTS) == pytest.approx(balance.used_kg)
    assert run.proof.loss_kg < plain.proof.loss_kg - 0.75 * line.planned_kg


@pytest.mark.parametrize("most_kg", [100, 400, 900, 3000])
def test_no_more_than_the_most_is_made(most_kg: int) -> None:
    """A reel weighs about 370 kg: no reel, one, two, six."""
    run = plan_of(book_of(ORDER), mill_with(replace(STOCK, max_kg=Fraction(most_kg)))).runs[0]
    made = [line for line in run.orders if line.stock_share is not None]
    assert sum(line.planned_kg for line in made) <= most_kg
    assert all(line.surplus_kg == 0 for line in made)
    assert sum(line.planned_kg for line in made) > min(most_kg, 2200) - 480


def test_another_paper_or_no_space_makes_none() -> None:
    """Of another grammage, too wide for what is left, or of a core that no set has."""
    for odd in (
        replace(STOCK, grammage_gsm=300.0),
        replace(STOCK, width_mm=Fraction(900)),
        replace(STOCK, core_mm=76.0),
    ):
        run = plan_of(book_of(ORDER), mill_with(odd)).runs[0]
        assert run.balance.made_for_stock_kg == 0
        assert not any(line.planned for line in run.orders if line.stock_share is not None)


def test_a_finding_where_too_much_or_stock_alone_is_made() -> None:
    """The check knows the most of the mill file, and sees a set without an order's reel."""
    book, mill = book_of(ORDER), mill_with(STOCK)
    plan = plan_of(book, mill)
    less = mill_with(replace(STOCK, max_kg=Fraction(300)))
    said = "\n".join(map(str, verify_plan(plan, book, less)))
    assert "order STOCK-500: made: the plan says" in said
    assert "found 300 kg at the most" in said
    block = plan.runs[0].blocks[0]
    alone = tuple(replace(p, order="STOCK-500") for p in block.positions if p.kind != "broke")
    blocks = (replace(block, positions=alone), *plan.runs[0].blocks[1:])
    changed = replace(plan, runs=(replace(plan.runs[0], blocks=blocks),))
    said = "\n".join(map(str, verify_plan(changed, book, mill)))
    assert "block 1: made for: the plan says stock alone; found no order in it" in said


@pytest.mark.parametrize("count", [0, 2, 5])
def test_what_was_run_counts_against_the_most_in_a_plan_of_the_rest(count: int) -> None:
    """Twice as much is ordered by then, so more trim could be filled: no more than 900 kg is."""
    of_mill = mill_with(replace(STOCK, max_kg=Fraction(900)))
    issued = plan_of(book_of(ORDER), of_mill)
    (run,) = issued.runs
    ran = WhatRan(sets=tuple(DoneSet(run=run.name, number=n + 1) for n in range(count)))
    more = book_of(replace(ORDER, quantity=Fraction(24)))
    answer = replan(issued, more, of_mill, ran)
    assert verify_plan(answer.plan, more, of_mill) == ()
    line = next(each for each in answer.plan.runs[0].orders if each.number == STOCK.name)
    reels = [
        (row.done, float(STOCK.width_mm) * row.length_m * 0.25 / 1000)
        for block in answer.plan.runs[0].blocks
        for row in block.sets
        for position in block.positions
        if position.order == STOCK.name
    ]
    assert 450 < sum(kg for _, kg in reels) <= 900
    assert line.planned_kg == pytest.approx(sum(kg for _, kg in reels))
    assert (line.delivered_kg, line.surplus_kg) == (0, 0)
    if count == 5:
        assert any(done for done, _ in reels)


@pytest.mark.parametrize("seed", [1, 2, 5, 11])
def test_small_runs_hold_and_lose_no_more(seed: int) -> None:
    """Whatever the widths, shares and tonnes: all holds, and where proven no loss is greater."""
    draw = Random(f"stock widths {seed}")
    book, mill = small_book(draw), small_mill()
    widths = tuple(
        replace(
            STOCK,
            name=f"K{width}",
            width_mm=Fraction(width),
            max_diameter_mm=float(draw.choice([1000, 1150, 1250])),
            min_diameter_mm=None if draw.random() < 0.3 else 880.0,
            max_kg=Fraction(draw.choice([150, 500, 2000, 10**6])),
            value_share=Fraction(draw.choice([1, 50, 80, 99]), 100),
        )
        for width in draw.sample(range(300, 1200, 5), draw.randint(1, 3))
    )
    plain = plan_of(book, mill).runs[0]
    run = plan_of(book, replace(mill, stock_widths=widths)).runs[0]
    if run.proof.status == plain.proof.status == "optimal":
        assert run.proof.loss_kg <= plain.proof.loss_kg + 0.01
    assert run.proof.bound_kg <= plain.proof.loss_kg + 0.01


def test_a_search_that_the_clock_ends_makes_no_more_than_may_be(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Reels that keep off the edge lie beside stock alone, of which a first plan makes too much.

    Plans built or priced quickly are better; where none comes of them, the first is left.
    """
    few = replace(STOCK, name="STOCK-466", width_mm=Fraction(466), max_kg=Fraction(700))
    many = replace(STOCK, name="STOCK-633", width_mm=Fraction(633), max_kg=Fraction(50_000))
    mill = mill_with(many, few)
    mill = replace(mill, winders=(replace(mill.winder, max_edge_trim_mm=None),))
    book = book_of(replace(ORDER, no_edge=True, quantity=Fraction(18)))
    request = Request(effort=Effort.QUICK, time_limit_s=1e-6)
    plan = make_plan(book, mill, request, number="1")
    assert verify_plan(plan, book, mill) == ()
    monkeypatch.setattr("trimopt.cutting.setups.direct_builds.quick_builds", lambda _: iter(()))
    monkeypatch.setattr("trimopt.cutting.engine._WORK_ANYWAY", 0)
    plan = make_plan(book, mill, request, number="1")
    assert verify_plan(plan, book, mill) == ()
    assert plan.left_out == ()
    assert any("STOCK-466" in note for note in plan.runs[0].notes)
