"""Defects of jumbos: layouts and orders counted out, plans with any of them verified."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import date
from fractions import Fraction
from itertools import permutations
from pathlib import Path
from random import Random
from typing import Any, NoReturn

import pytest
from hypothesis import given, settings, strategies as st

from tests.making.orders import board_jumbo, board_reel
from tests.properties.test_several_widths import plain_mill
from trimopt import read_book, read_mill
from trimopt.book.model import Book, Defect, JumboInStock
from trimopt.budget import SearchEnded
from trimopt.check import verify_plan
from trimopt.cutting import Instance, Pattern
from trimopt.cutting.search.pattern_enumeration import all_patterns
from trimopt.mill.model import Winder
from trimopt.plan.model import Effort, Plan, Request, RunPlan
from trimopt.plan.planning.odd_jumbos import odd_part
from trimopt.plan.planning.odd_jumbos.odd_sets import OddSet, choose_odd_sets
from trimopt.plan.planning.plan_book import make_plan
from trimopt.winding.knives.band_layout import layout_round_bands
from trimopt.winding.model import Lot, Strip

WEB = 400
ORDERS = Path(__file__).parents[2] / "orders"


def small_winder(outside: bool) -> Winder:
    """A winder of small figures, so that every place can be counted out."""
    return replace(
        plain_mill().winder,
        min_edge_trim_mm=Fraction(5),
        max_edge_trim_mm=Fraction(60),
        min_reel_width_mm=Fraction(40),
        min_broke_width_mm=Fraction(40),
        max_reel_width_mm=Fraction(300),
        min_knife_spacing_mm=Fraction(20),
        broke_position="edge" if outside else "anywhere",
        max_web_mm=Fraction(1000),
    )


def layouts(laid: tuple[Strip, ...], winder: Winder) -> Iterator[tuple[Strip, ...]]:
    """Every order of the strips that the winder allows."""
    for order in set(permutations(laid)):
        if order[0].no_edge or order[-1].no_edge:
            continue
        plain = [n for n, strip in enumerate(order) if not strip.broke]
        inside = any(strip.broke and plain[0] < n < plain[-1] for n, strip in enumerate(order))
        if not (inside and winder.broke_position == "edge"):
            yield order


@settings(max_examples=120)
@given(
    st.lists(st.sampled_from([50, 60, 70, 90, 100]), min_size=2, max_size=4),
    st.lists(st.tuples(st.integers(0, 39), st.integers(1, 6)), min_size=1, max_size=2),
    st.booleans(),
    st.booleans(),
)
def test_a_layout_round_bands_is_the_best_of_all(
    widths: list[int], bands: list[tuple[int, int]], outside: bool, guarded: bool
) -> None:
    """Over every order of the strips and every millimetre that the web can be shifted."""
    winder = small_winder(outside)
    used = sum(widths)
    if used > WEB - 10:
        return
    broke = 0 if WEB - used <= 120 else 1
    strips = tuple(
        Strip(key=str(n), width_mm=Fraction(width), no_edge=guarded and n == 0)
        for n, width in enumerate(widths)
    )
    if guarded and len(widths) + broke < 3:
        return
    lot = Lot(number=0, strips=strips, sets=1, length_m=100, core_mm=76.0, broke_reels=broke)
    costs = {strip.key: int(strip.width_mm) for strip in strips}
    where = [(Fraction(10 * a), Fraction(10 * a + 5 * b)) for a, b in bands]
    found = layout_round_bands(lot, winder, Fraction(WEB), where, costs)
    laid = found.layout.strips
    total = sum(int(strip.width_mm) for strip in laid)
    best = None
    for order in layouts(laid, winder):
        for edge in range(max(5, WEB - total - 60), min(60, WEB - total - 5) + 1):
            cost, front = 0, edge
            for strip in order:
                back = front + int(strip.width_mm)
                if not strip.broke and any(a < back and front < b for a, b in where):
                    cost += costs[strip.key]
                front = back
            best = cost if best is None else min(best, cost)
    assert found.cost == best
    hit = sum(costs[laid[number - 1].key] for number in found.hit)
    assert hit == found.cost


def book_with(draw: Random, defects: tuple[Defect, ...]) -> Book:
    """A book with a jumbo that has these defects."""
    orders = tuple(
        board_reel(
            f"O{number}",
            width_mm=Fraction(width),
            quantity=Fraction(draw.randint(6, 24)),
            min_diameter_mm=1250.0 - draw.choice([40.0, 120.0]),
            under=Fraction(5, 100),
            over=Fraction(10, 100),
            takes_seconds=draw.random() < 0.3,
        )
        for number, width in enumerate(draw.sample(range(500, 1600, 5), draw.randint(2, 4)))
    )
    jumbo = board_jumbo("D", 14_200, loss_start_m=120, loss_end_m=80, defects=defects)
    return Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders, jumbos=(jumbo,))


def defects_of(draw: Random) -> tuple[Defect, ...]:
    """A hole from side to side, a streak, a bad edge: some of them."""
    hole = draw.randint(3_000, 9_000)
    found = [
        Defect(from_m=hole, to_m=hole + draw.randint(20, 600), from_mm=Fraction(0),
               to_mm=Fraction(3600), what="hole"),
        Defect(from_m=draw.randint(0, 1_000), to_m=draw.randint(1_500, 2_900),
               from_mm=Fraction(draw.randint(40, 3_000)), to_mm=Fraction(3_030), what="streak"),
        Defect(from_m=10_000, to_m=draw.randint(10_500, 14_200), from_mm=Fraction(0),
               to_mm=Fraction(draw.choice([15, 45, 80])), what="bad edge"),
    ]  # fmt: skip
    return tuple(sorted(draw.sample(found, draw.randint(1, 3)), key=lambda each: each.from_m))


def planned(book: Book, hours: float | None = None) -> Plan:
    """The plan of a book, checked."""
    mill = plain_mill()
    request = Request(effort=Effort.QUICK, hours=hours)
    plan = make_plan(book, mill, request, number="d-1")
    assert [str(finding) for finding in verify_plan(plan, book, mill)] == []
    return plan


@pytest.mark.parametrize("seed", range(7))
def test_whatever_defects_there_are_the_plan_holds(seed: int) -> None:
    """What is lost stands in the balance, and no more is lost than lies in reels and across."""
    draw = Random(seed)
    book = book_with(draw, defects_of(draw))
    for run in planned(book).runs:
        used = sum(getattr(run.balance, name) for name in run.balance.PARTS)
        assert run.balance.used_kg == pytest.approx(used, abs=0.1)
        cut = sum(float(j.width_mm) * j.defect_m * run.grammage_gsm / 1e6 for j in run.jumbos)
        assert run.balance.defects_kg == pytest.approx(cut + lost_kg(run))


@pytest.mark.parametrize("seed", [0, 2, 3, 6, 10, 11])
def test_the_jumbos_there_are_are_wound_though_orders_lack(seed: int) -> None:
    """No set more would go onto any of them that loses less than a fifth of it."""
    draw = Random(seed)
    book = book_with(draw, defects_of(draw))
    many = draw.choice([2, 4])
    short = tuple(replace(each, quantity=each.quantity * many) for each in book.orders)
    own = [board_jumbo("N", metres) for metres in draw.sample([6_000, 14_200], draw.randint(0, 1))]
    book = replace(book, orders=short, jumbos=(*book.jumbos, *own), only_listed_jumbos=True)
    (run,) = planned(book).runs
    assert any(line.lacking_kg for line in run.orders)
    assert {use.name for use in run.jumbos} == {each.name for each in book.jumbos}
    assert all(use.carried_forward_m < 3_200 for use in run.jumbos)  # metres of one set


@pytest.mark.parametrize("hours", [0.6, 1.5])
def test_a_shift_too_short_for_an_odd_jumbo_s_sets_holds(hours: float) -> None:
    """Its sets are cut off, or left for others: either way all is verified."""
    draw = Random(3)
    planned(book_with(draw, defects_of(draw)), hours=hours)


def lost_kg(run: RunPlan) -> float:
    """Mass of the reels that serve no order."""
    return sum(
        float(position.width_mm) * row.length_m * run.grammage_gsm / 1e6
        for block in run.blocks
        for row in block.sets
        for position in block.positions
        if position.number in row.spoiled
    )


def test_a_streak_in_a_reel_of_an_order_that_takes_seconds_costs_nothing() -> None:
    """The same streak costs a reel of every set over it where no order takes them."""
    streak = Defect(from_m=0, to_m=12_300, from_mm=Fraction(1_700), to_mm=Fraction(1_720), what="s")
    order = board_reel("A", width_mm=Fraction(590), quantity=Fraction(120), under=Fraction(1, 10))
    jumbo = board_jumbo("D", 12_300, defects=(streak,))
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,),
                jumbos=(jumbo,))  # fmt: skip
    (firsts,) = planned(book).runs
    (seconds,) = planned(replace(book, orders=(replace(order, takes_seconds=True),))).runs
    assert seconds.balance.defects_kg == 0 < firsts.balance.defects_kg
    assert any(row.seconds for block in seconds.blocks for row in block.sets)


def test_patterns_of_a_streaked_jumbo_are_those_of_the_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It is as wide as they are: they are sought once for both."""
    asked: list[Instance] = []

    def seen(part: Instance, *, max_looked: int, max_found: int) -> list[Pattern] | None:
        asked.append(part)
        return all_patterns(part, max_looked=max_looked, max_found=max_found)

    monkeypatch.setattr("trimopt.cutting.search.pattern_enumeration.all_patterns", seen)
    streak = Defect(
        from_m=2_000, to_m=6_000, from_mm=Fraction(1_000), to_mm=Fraction(1_040), what="streak"
    )
    planned(book_with(Random(3), (streak,)))
    assert asked
    assert len(asked) == len(set(asked))


def test_a_jumbo_of_which_a_band_costs_more_than_a_fifth_is_left_and_named() -> None:
    """Three reels lie across, and one of them is lost all along."""
    streak = Defect(from_m=0, to_m=14_200, from_mm=Fraction(1_700), to_mm=Fraction(1_720), what="s")
    order = board_reel("A", width_mm=Fraction(1180), quantity=Fraction(60))
    jumbo = board_jumbo("D", 14_200, defects=(streak,))
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,),
                jumbos=(jumbo,))  # fmt: skip
    (left,) = planned(book).unused_jumbos
    assert left.why == "it has defects: no sets lose less than a fifth of its paper"


def test_a_bad_edge_is_left_to_the_edge_strip() -> None:
    """Patterns are chosen narrower for it, rather than that a reel of each set is lost."""
    edge = Defect(from_m=0, to_m=14_200, from_mm=Fraction(0), to_mm=Fraction(60), what="edge")
    orders = tuple(
        board_reel(f"O{width}", width_mm=Fraction(width), quantity=Fraction(40),
                   under=Fraction(1, 10), over=Fraction(1, 10))
        for width in (1190, 1170, 880)
    )  # fmt: skip
    jumbo = board_jumbo("D", 14_200, defects=(edge,))
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders,
                jumbos=(jumbo,))  # fmt: skip
    (run,) = planned(book).runs
    assert {use.name for use in run.jumbos} > {"D"}
    assert run.balance.defects_kg == 0


def test_streaks_behind_one_another_cost_a_reel_of_each_set() -> None:
    """Not one for each streak: no set meets both, and less than a fifth of the jumbo is lost."""
    streaks = tuple(
        Defect(from_m=start, to_m=end, from_mm=Fraction(at), to_mm=Fraction(at + 20), what="s")
        for start, end, at in ((0, 6_100, 1_700), (6_200, 12_300, 2_300))
    )
    order = board_reel("A", width_mm=Fraction(590), quantity=Fraction(120), under=Fraction(1, 10))
    jumbo = board_jumbo("D", 12_300, defects=streaks)
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,),
                jumbos=(jumbo,))  # fmt: skip
    (run,) = planned(book).runs
    assert {use.name for use in run.jumbos} > {"D"}


def test_of_many_patterns_the_best_are_laid_round_a_band(monkeypatch: pytest.MonkeyPatch) -> None:
    """A jumbo with an edge of 20 mm that is bad for a quarter of its metres is used."""
    mill = read_mill(ORDERS / "mill.toml")
    book = read_book(ORDERS / "shift.xlsx", mill)
    lines = {"4801-01": 36, "4801-03": 14_400, "4801-06": 14, "4801-09": 36_000}
    orders = tuple(
        replace(each, quantity=Fraction(lines[each.number]))
        for each in book.orders
        if each.number in lines
    )
    edge = Defect(
        from_m=2_784, to_m=6_815, from_mm=Fraction(0), to_mm=Fraction(20), what="bad edge"
    )
    jumbo = JumboInStock(
        name="M", grade=orders[0].grade, grammage_gsm=orders[0].grammage_gsm,
        width_mm=Fraction(4_680), length_m=16_690, loss_start_m=120, loss_end_m=80,
        defects=(edge,),
    )  # fmt: skip
    chosen = list[OddSet]()

    def seen(*args: Any, **kwargs: Any) -> NoReturn:
        chosen.extend(choose_odd_sets(*args, **kwargs))
        raise SearchEnded  # what follows is not looked at

    monkeypatch.setattr(odd_part, "choose_odd_sets", seen)
    with suppress(SearchEnded):
        make_plan(replace(book, orders=orders, jumbos=(jumbo,)), mill, Request(effort=Effort.QUICK))
    assert sum(each.length_m for each in chosen) > 16_000


def test_the_check_finds_a_reel_with_a_defect_that_is_delivered() -> None:
    """A plan that says nothing of a streak does not pass."""
    streak = Defect(from_m=0, to_m=12_300, from_mm=Fraction(1_700), to_mm=Fraction(1_720), what="s")
    order = board_reel("A", width_mm=Fraction(590), quantity=Fraction(120), under=Fraction(1, 10))
    book = Book(source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=(order,),
                jumbos=(board_jumbo("D", 12_300, defects=(streak,)),))  # fmt: skip
    plan = planned(book)
    (run,) = plan.runs
    first = run.blocks[0]
    silent = replace(first, sets=tuple(replace(row, spoiled=()) for row in first.sets))
    wrong = replace(plan, runs=(replace(run, blocks=(silent, *run.blocks[1:])),))
    said = [str(finding) for finding in verify_plan(wrong, book, plain_mill())]
    assert any("reels lost to a defect" in line for line in said)
