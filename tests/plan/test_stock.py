"""Jumbos that the book lists: what they are enough for, and in which order they are unwound."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from tests.making.orders import board_jumbo, board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Defect, JumboInStock, Order
from trimopt.check import verify_plan
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan, Request
from trimopt.plan.planning.plan_book import make_plan


def listed(name: str, usable_m: int) -> JumboInStock:
    """A jumbo of the sample mill's board in stock."""
    return board_jumbo(name, usable_m + 150, loss_start_m=100, loss_end_m=50)


def book(
    orders: tuple[Order, ...],
    *jumbos: JumboInStock,
    only: bool = False,
    in_order: bool = False,
) -> Book:
    """A book of these orders and jumbos."""
    return Book(
        source="stock.xlsx",
        fingerprint="f",
        as_of=date(2026, 3, 1),
        orders=orders,
        jumbos=jumbos,
        only_listed_jumbos=only,
        jumbos_in_order=in_order,
    )


def planned(of: Book, mill: Mill | None = None) -> Plan:
    """The plan of a book, checked."""
    mill = mill or sample_mill()
    plan = make_plan(of, mill, Request(), number="stock-1")
    assert [str(finding) for finding in verify_plan(plan, of, mill)] == []
    return plan


def test_a_run_without_a_listed_jumbo_is_left_out_with_the_reason() -> None:
    """Only listed jumbos exist and none is of the kraft: its order is named, the board planned."""
    kraft = replace(board_reel("K1"), grade="Sack kraft", grammage_gsm=90.0)
    plan = planned(book((board_reel("B1"), kraft), listed("A1", 20_000), only=True))
    assert [run.grade for run in plan.runs] == ["Folding board"]
    (left,) = plan.left_out
    assert left.order == "K1"
    assert "lists no jumbo of its grade and grammage" in left.why


def test_an_order_that_only_a_jumbo_with_a_defect_is_long_enough_for_is_made_of_it() -> None:
    """All the others are shorter than its shortest reel of 2,907 m."""
    streak = Defect(from_m=0, to_m=900, from_mm=Fraction(0), to_mm=Fraction(40), what="edge")
    long = replace(listed("long", 12_000), defects=(streak,))
    (run,) = planned(book((board_reel("B1"),), listed("rest", 2_000), long, only=True)).runs
    assert [jumbo.name for jumbo in run.jumbos] == ["long"]
    assert run.orders[0].planned >= 8


def test_jumbos_come_off_in_the_list_s_order_with_what_the_list_says_of_them() -> None:
    """A started jumbo first, then whole ones: identity, width, length and losses as listed."""
    started = replace(listed("old", 4_000), loss_start_m=0, length_m=4_050)
    stock = (started, listed("M-9", 12_000), listed("M-2", 9_000))
    order = board_reel("B1", quantity=Fraction(28), min_diameter_mm=1150.0)
    (run,) = planned(book((order,), *stock, in_order=True)).runs
    names = [jumbo.name for jumbo in run.jumbos]
    assert names[:3] == ["old", "M-9", "M-2"]
    for use, there in zip(run.jumbos, stock, strict=False):
        assert (use.width_mm, use.length_m, use.nominal) == (there.width_mm, there.length_m, False)
        assert use.loss_start_m == there.loss_start_m


def test_a_listed_jumbo_too_short_waits_or_is_set_aside() -> None:
    """A rest of 1,300 m lies first: small reels may still take it, unless the order is kept."""
    large = board_reel("L", width_mm=Fraction(1780), quantity=Fraction(6), min_diameter_mm=1240.0,
                       priority=1)  # fmt: skip
    small = board_reel("S", width_mm=Fraction(1780), quantity=Fraction(2), min_diameter_mm=790.0,
                       max_diameter_mm=800.0, core_mm=76.0, priority=2)  # fmt: skip
    stock = (listed("rest", 1_300), listed("A", 9_500))
    free = planned(book((large, small), *stock, only=True)).runs[0]
    kept = planned(book((large, small), *stock, only=True, in_order=True)).runs[0]
    assert {jumbo.name for jumbo in free.jumbos} == {"rest", "A"}
    places = ["rest", "A"]
    opened = [places.index(jumbo.name) for jumbo in kept.jumbos]
    assert opened == sorted(opened)


def reasons(plan: Plan) -> dict[str, str]:
    """Why no run takes a listed jumbo, by its name."""
    return {each.name: each.why for each in plan.unused_jumbos}


def test_a_jumbo_passed_over_is_named() -> None:
    """No set fits on a rest of 500 m, and the last jumbo is not reached."""
    stock = (listed("rest", 500), listed("A", 20_000), listed("B", 20_000))
    plan = planned(book((board_reel("B1"),), *stock))
    assert reasons(plan) == {
        "rest": "too short for the sets that were next: 500 m usable",
        "B": "not needed: Folding board 250 g/m² ends before it",
    }


@pytest.mark.parametrize("narrow_first", [True, False])
def test_a_jumbo_of_another_width_is_wound_to_its_own_deckle(narrow_first: bool) -> None:
    """A narrow jumbo among nominal ones is used up at its own width, wherever it is listed."""
    narrow = replace(listed("N", 20_000), width_mm=Fraction(3300))
    stock = (narrow, listed("A", 20_000)) if narrow_first else (listed("A", 20_000), narrow)
    order = board_reel("B1", quantity=Fraction(60), min_diameter_mm=1150.0)
    (run,) = planned(book((order,), *stock)).runs
    use = next(jumbo for jumbo in run.jumbos if jumbo.name == "N")
    assert use.wound_m > 0.9 * use.length_m
    for block in run.blocks:
        on_narrow = {part.jumbo for row in block.sets for part in row.stretches} == {"N"}
        assert run.web_mm(block) == (3300 if on_narrow else 3600)
        across = sum(position.width_mm for position in block.positions)
        assert block.edge_front_mm + across + block.edge_back_mm == run.web_mm(block)


def test_a_jumbo_that_would_lose_more_than_a_fifth_is_named() -> None:
    """Two reels of 1,500 mm lie on 3,600 mm; on 3,000 mm one, and half of it would be lost."""
    narrow = replace(listed("N", 20_000), width_mm=Fraction(3000))
    order = board_reel("B1", width_mm=Fraction(1500), quantity=Fraction(40))
    plan = planned(book((order,), narrow))
    assert reasons(plan) == {
        "N": "3000 mm wide, Folding board 250 g/m² is cut from 3600 mm: no sets lose less than a "
        "fifth of its paper"
    }


def test_where_only_listed_jumbos_exist_most_metres_say_the_width() -> None:
    """A short wide rest does not keep the narrow jumbos from being used, nor they it."""
    stock = [replace(listed(name, 20_000), width_mm=Fraction(3300)) for name in ("N1", "N2")]
    plan = planned(book((board_reel("B1"),), listed("A", 9_000), *stock, only=True))
    (run,) = plan.runs
    assert run.jumbo_width_mm == 3300
    for jumbo in run.jumbos:
        assert jumbo.width_mm == (3600 if jumbo.name == "A" else 3300)


def test_a_jumbo_of_no_run_is_named() -> None:
    """Another grade, another grammage, orders that cannot be made."""
    other = replace(listed("K", 20_000), grade="Sack kraft", grammage_gsm=80.0)
    heavy = replace(listed("H", 20_000), grammage_gsm=255.0)
    plan = planned(book((board_reel("B1"),), other, heavy))
    assert reasons(plan) == {
        "K": "no order is for Sack kraft",
        "H": "no order is for Folding board of 255 g/m²: the nearest is of 250 g/m², 2 % away, and "
        "the mill file takes 0.5 %",
    }
    heavier = replace(listed("H", 20_000), grammage_gsm=260.0)
    never = board_reel("X", grammage_gsm=260.0, width_mm=Fraction(9000))
    plan = planned(book((board_reel("B1"), never), heavier))
    assert reasons(plan) == {"H": "no order of Folding board 260 g/m² can be made"}


def test_a_jumbo_is_for_the_nearest_grammage_within_the_mill_s_tolerance() -> None:
    """Orders in pounds come to 205.062 g/m², the jumbo says 205; where both are ordered, each has
    its own. A mill that asks for the exact grammage gets it, and the reason."""
    odd = board_reel("B1", grammage_gsm=250.062)
    stock = (listed("A", 20_000), replace(listed("C", 20_000), grammage_gsm=250.062))
    both = planned(book((odd, board_reel("B2")), *stock))
    assert [[jumbo.name for jumbo in run.jumbos][:1] for run in both.runs] == [["C"], ["A"]]
    near = planned(book((odd,), stock[0]))
    assert near.runs[0].jumbos[0].name == "A"
    assert near.unused_jumbos == ()
    plain = sample_mill()
    exact = replace(plain, jumbo=replace(plain.jumbo, max_grammage_difference_percent=Fraction(0)))
    alone = planned(book((odd,), stock[0]), exact)
    assert alone.runs[0].jumbos[0].nominal
    assert "the nearest is of 250.062 g/m², 0.025 % away" in reasons(alone)["A"]
    assert verify_plan(near, book((odd,), stock[0]), exact) != ()


def test_the_check_misses_a_jumbo_that_is_not_named() -> None:
    """A listed jumbo that is neither used nor named, or is both, or has no reason, is found."""
    of = book((board_reel("B1"),), listed("A", 20_000), listed("B", 20_000))
    plan = planned(of)
    (b,) = plan.unused_jumbos
    for wrong in ((), (b, b), (replace(b, why=""),), (b, replace(b, name="A"))):
        assert verify_plan(replace(plan, unused_jumbos=wrong), of, sample_mill()) != ()


def test_the_check_finds_jumbos_out_of_the_list_s_order() -> None:
    """The same plan against a book that lists its jumbos the other way round."""
    stock = (listed("A", 6_500), listed("B", 6_500))
    order = board_reel("B1", quantity=Fraction(16), min_diameter_mm=1240.0)
    of = book((order,), *stock, in_order=True)
    plan = planned(of)
    assert [jumbo.name for jumbo in plan.runs[0].jumbos][:2] == ["A", "B"]
    turned = replace(of, jumbos=stock[::-1])
    said = [str(finding) for finding in verify_plan(plan, turned, sample_mill())]
    assert any("in the order of the book's list" in line for line in said)
