"""Random plans with butts, joins, carried remainders and short shifts: everything adds up."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from random import Random

from tests.properties.test_plans_hold import random_book, random_mill
from trimopt.book.model import Book
from trimopt.check import verify_plan
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan

BEGIN = datetime.fromisoformat("2026-03-01T06:00")


def with_all(seed: int) -> tuple[Mill, Book, Request]:
    """A random mill and book, at times with joins, jumbos in order, splits and a short shift."""
    draw = Random(seed)
    mill, book = random_mill(draw), random_book(draw)
    values = mill.values
    if values.trim_cost_per_t is not None:
        values = replace(values, split_blocks=draw.random() < 0.5)
    winder = replace(
        mill.winder, joins_allowed=draw.random() < 0.6, min_join_part_m=draw.choice([1, 400])
    )
    orders = tuple(replace(order, joins_allowed=draw.choice([0, 1, 1, 2])) for order in book.orders)
    book = replace(book, orders=orders, jumbos_in_order=draw.random() < 0.5)
    until = BEGIN + timedelta(minutes=draw.randint(60, 240)) if draw.random() < 0.5 else None
    request = Request(effort=Effort.QUICK, until=until)
    return replace(mill, winders=(winder,), values=values), book, request


def check_metres(run: RunPlan) -> None:
    """Each jumbo: its parts are its length, its sets lie end to end, one is open at a time."""
    stretches = [part for block in run.blocks for row in block.sets for part in row.stretches]
    assert [jumbo.name for jumbo in run.jumbos] == list(dict.fromkeys(p.jumbo for p in stretches))
    for jumbo in run.jumbos:
        own = [part for part in stretches if part.jumbo == jumbo.name]
        assert own[0].from_m == 0
        assert all(one.to_m == other.from_m for one, other in pairwise(own))
        assert own[-1].to_m == jumbo.wound_m
        assert jumbo.length_m == (
            jumbo.loss_start_m
            + jumbo.wound_m
            + jumbo.butt_m
            + jumbo.carried_forward_m
            + jumbo.loss_end_m
        )
    for block in run.blocks:
        for row in block.sets:
            assert sum(part.to_m - part.from_m for part in row.stretches) == row.length_m


def check_balance(run: RunPlan) -> None:
    """The paper that left the jumbos is what became of it, to 0.1 kg."""
    balance = run.balance
    parts = (
        balance.delivered_kg
        + balance.surplus_kg
        + balance.edge_trim_kg
        + balance.pattern_trim_kg
        + balance.sheeter_kg
        + balance.butts_kg
        + balance.start_end_kg
    )
    used_mm_m = sum(
        (jumbo.width_mm * (jumbo.length_m - jumbo.carried_forward_m) for jumbo in run.jumbos),
        Fraction(0),
    )
    used_kg = float(used_mm_m * Fraction(str(run.grammage_gsm)) / 1_000_000)
    assert abs(balance.used_kg - used_kg) <= 0.1
    assert abs(balance.used_kg - parts) <= 0.1


def seen_in(run: RunPlan) -> set[str]:
    """Which of the things that must add up a run has."""
    rows = [row for block in run.blocks for row in block.sets]
    found = {
        "butts": any(jumbo.butt_m for jumbo in run.jumbos),
        "carried forward": any(jumbo.carried_forward_m for jumbo in run.jumbos),
        "joins": any(len(row.stretches) > 1 for row in rows),
        "carried over": any(line.state == "carried over" for line in run.orders),
    }
    return {name for name, there in found.items() if there}


def test_metres_and_kilograms_add_up() -> None:
    """Jumbos add up to the metre and the balance to 0.1 kg, whatever was drawn, and it verifies.

    Butts, joins, remainders carried forward and orders carried over are all among what was drawn.
    """
    seen = set()
    for seed in (12, 25, 42, 71):
        mill, book, request = with_all(seed)
        plan = make_plan(book, mill, request, number="random-1")
        assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
        for run in plan.runs:
            check_metres(run)
            check_balance(run)
            seen |= seen_in(run)
    assert seen == {"butts", "carried forward", "joins", "carried over"}
