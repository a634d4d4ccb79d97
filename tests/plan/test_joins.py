"""Sets with a join: from the mill file and the orders to the check and the list of reels."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Order
from trimopt.check import verify_plan
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan, Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.reel_rows import reels_of

WIDE = {"width_mm": Fraction(890), "min_diameter_mm": 1249.0, "max_diameter_mm": 1250.0}


def mill(*, joins: bool, min_part_m: int = 1) -> Mill:
    """The sample mill: 12,700 m usable, where three sets of 3,160 m leave a butt."""
    plain = sample_mill()
    winder = replace(plain.winder, joins_allowed=joins, min_join_part_m=min_part_m)
    return replace(plain, winders=(winder,))


def book(*orders: Order) -> Book:
    """A book of these orders."""
    return Book(source="joins.xlsx", fingerprint="f", as_of=date(2026, 3, 1), orders=orders)


def planned(order: Order, at: Mill) -> tuple[Plan, RunPlan]:
    """The plan of one order, checked, and its run."""
    plan = make_plan(book(order), at, Request(), number="joins-1")
    assert [str(finding) for finding in verify_plan(plan, book(order), at)] == []
    return plan, plan.runs[0]


def joined(run: RunPlan) -> list[tuple[int, ...]]:
    """Metres on each jumbo of every set that has a join."""
    return [
        tuple(part.to_m - part.from_m for part in row.stretches)
        for block in run.blocks
        for row in block.sets
        if len(row.stretches) > 1
    ]


def test_a_join_saves_the_butt_where_mill_and_order_allow_it() -> None:
    """Thirty-two reels, four a set: eight sets leave a butt; joined they leave none."""
    order = board_reel("J1", quantity=Fraction(32), joins_allowed=1, **WIDE)
    without = planned(order, mill(joins=False))[1]
    with_join = planned(order, mill(joins=True))[1]
    assert joined(without) == []
    assert without.balance.butts_kg > 0
    assert len(joined(with_join)) == len(with_join.jumbos) - 1 > 0
    assert with_join.balance.butts_kg == 0
    assert with_join.balance.used_kg < without.balance.used_kg
    marked = [reel.joins for reel in reels_of(with_join)]
    assert (sum(marked), max(marked)) == (4 * len(joined(with_join)), 1)


def test_an_order_without_joins_gets_none() -> None:
    """The winder may join, the order's reels may not: sets lie whole on their jumbos."""
    order = board_reel("J2", quantity=Fraction(32), joins_allowed=0, **WIDE)
    assert joined(planned(order, mill(joins=True))[1]) == []


def test_a_part_beside_a_join_is_no_shorter_than_the_mill_says() -> None:
    """Where the rest of a jumbo is shorter than the least part, no join is made there."""
    order = board_reel("J3", quantity=Fraction(32), joins_allowed=1, **WIDE)
    parts = [metres for row in joined(planned(order, mill(joins=True))[1]) for metres in row]
    least = min(parts) + 1
    at = mill(joins=True, min_part_m=least)
    assert all(metres >= least for row in joined(planned(order, at)[1]) for metres in row)


def test_the_check_finds_a_join_that_is_not_allowed() -> None:
    """The same plan on a mill without joins, for an order without, and with too short a part."""
    order = board_reel("J4", quantity=Fraction(32), joins_allowed=1, **WIDE)
    plan, run = planned(order, mill(joins=True))
    off = [str(f) for f in verify_plan(plan, book(order), mill(joins=False))]
    assert any("this winder winds without joins" in line for line in off)
    none = [
        str(f) for f in verify_plan(plan, book(replace(order, joins_allowed=0)), mill(joins=True))
    ]
    assert any("joins of order J4" in line for line in none)
    least = min(metres for row in joined(run) for metres in row) + 1
    short = [str(f) for f in verify_plan(plan, book(order), mill(joins=True, min_part_m=least))]
    assert any(f"{least} m beside a join" in line for line in short)
