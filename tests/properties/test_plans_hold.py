"""Random books of reels and sheets on random winders: every plan passes the independent check."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from random import Random

import pytest

from tests.making.orders import board_jumbo, board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, JumboInStock, Order, Unit
from trimopt.check import verify_plan
from trimopt.errors import InfeasibleError
from trimopt.mill.model import Mill
from trimopt.plan.codec import from_json, plan_json
from trimopt.plan.model import Effort, Request
from trimopt.plan.planning.plan_book import make_plan

AS_OF = date(2026, 3, 1)
DUE = datetime.fromisoformat("2026-03-03T12:00")


def random_mill(draw: Random) -> Mill:
    mill = sample_mill()
    winder = replace(
        mill.winder,
        idle_knives=draw.choice(["lifted", "parked"]),
        max_edge_trim_mm=draw.choice([None, Fraction(60), Fraction(25)]),
        max_set_mass_kg=draw.choice([None, 9000.0, 2900.0]),
        max_reels=draw.choice([4, 7]),
        web_shift=draw.random() < 0.7,
    )
    if draw.random() < 0.3:
        winder = replace(winder, kind="single-drum", max_reels_per_side=draw.choice([2, 4]))
    values = mill.values
    if draw.random() < 0.5:
        values = replace(values, trim_cost_per_t=300.0, set_up=30.0, knife_move=2.0)
    return replace(mill, winders=(winder,), values=values)


def _order(draw: Random, number: int) -> Order:
    percent = Fraction(1, 100)
    if draw.random() < 0.4:
        unit = draw.choice([Unit.SHEETS, Unit.KG])
        most = 60_000 if unit is Unit.SHEETS else 9_000
        return board_sheet(
            f"S{number}",
            width_mm=Fraction(draw.randint(350, 900)),
            chop_mm=Fraction(draw.randint(450, 1200)),
            quantity=Fraction(draw.randint(500, most)),
            unit=unit,
        )
    unit = draw.choice([Unit.REELS, Unit.KG, Unit.METRES])
    most = {Unit.REELS: 30, Unit.KG: 15_000, Unit.METRES: 40_000}[unit]
    return board_reel(
        f"R{number}",
        width_mm=Fraction(draw.randint(600, 3000), 2),
        quantity=Fraction(draw.randint(1, most)),
        unit=unit,
        under=draw.choice([0, 5, 10]) * percent,
        over=draw.choice([0, 5, 10]) * percent,
        min_diameter_mm=draw.choice([None, 900.0, 1100.0, 1200.0]),
        max_diameter_mm=draw.choice([None, 1250.0, 1210.0]),
        core_mm=draw.choice([76.0, 152.0, 152.0, None]),
        no_edge=draw.random() < 0.2,
        due=draw.choice([None, DUE]),
        priority=draw.choice([None, 1, 2]),
        max_reel_mass_kg=draw.choice([None, None, 900.0]),
    )


def random_book(draw: Random) -> Book:
    jumbos: tuple[JumboInStock, ...] = ()
    if draw.random() < 0.3:
        jumbos = tuple(
            board_jumbo(f"K{k}", draw.randint(7_000, 13_000), loss_start_m=50, loss_end_m=50)
            for k in range(draw.randint(1, 4))
        )
    return Book(
        source="random",
        fingerprint="f",
        as_of=AS_OF,
        orders=tuple(_order(draw, k) for k in range(draw.randint(1, 7))),
        jumbos=jumbos,
        only_listed_jumbos=bool(jumbos) and draw.random() < 0.3,
    )


@pytest.mark.parametrize("seed", [0, 5, 7, 13, 23, 30, 32, 38])
def test_every_plan_holds(seed: int) -> None:
    """Units, cores, edges, limits, stock, too little paper: nothing is found, nothing is lost.

    An order that no pattern can hold is named instead.
    """
    draw = Random(seed)
    mill, book = random_mill(draw), random_book(draw)
    winder = replace(
        mill.winder, core_change_is_set_up=seed % 2 == 1, length_change_is_set_up=seed % 4 < 2
    )
    mill = replace(mill, winders=(winder,))
    stopped = ""
    try:
        effort = Effort.QUICK if seed % 10 else Effort.NORMAL
        request = Request(effort=effort)
        plan = make_plan(book, mill, request, number="random-1")
    except InfeasibleError as error:
        stopped = str(error)
    if stopped:
        assert any(order.number in stopped for order in book.orders)
        return
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    named = {line.number for run in plan.runs for line in run.orders}
    assert named | {left.order for left in plan.left_out} == {o.number for o in book.orders}
    assert from_json(plan_json(plan)) == plan
