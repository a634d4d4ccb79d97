"""Jumbos that the book lists: what they are enough for, and in which order they are unwound."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from tests.making.orders import board_reel
from tests.plan.sample import sample_mill
from trimopt.book.model import Book, JumboInStock, Order
from trimopt.plan.build import plan_book
from trimopt.plan.model import Plan, Settings
from trimopt.plan.verify import verify


def listed(name: str, usable_m: int) -> JumboInStock:
    """A jumbo of the sample mill's board in stock."""
    return JumboInStock(
        name=name,
        grade="Folding board",
        grammage_gsm=250.0,
        width_mm=Fraction(3600),
        length_m=usable_m + 150,
        loss_start_m=100,
        loss_end_m=50,
    )


def book(orders: tuple[Order, ...], *jumbos: JumboInStock, only: bool = False) -> Book:
    """A book of these orders and jumbos."""
    return Book(
        source="stock.xlsx",
        fingerprint="f",
        as_of=date(2026, 3, 1),
        orders=orders,
        jumbos=jumbos,
        only_listed_jumbos=only,
    )


def planned(of: Book) -> Plan:
    """The plan of a book, checked."""
    plan = plan_book(of, sample_mill(), Settings(), number="stock-1")
    assert [str(finding) for finding in verify(plan, of, sample_mill())] == []
    return plan


def test_a_run_without_a_listed_jumbo_is_left_out_with_the_reason() -> None:
    """Only listed jumbos exist and none is of the kraft: its order is named, the board planned."""
    kraft = replace(board_reel("K1"), grade="Sack kraft", grammage_gsm=90.0)
    plan = planned(book((board_reel("B1"), kraft), listed("A1", 20_000), only=True))
    assert [run.grade for run in plan.runs] == ["Folding board"]
    (left,) = plan.left_out
    assert left.order == "K1"
    assert "lists no jumbo of its grade and grammage" in left.why
