"""Held enquiries: each is planned once, as an order or as held, or left out and named."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from trimopt.book.model import Book, Order, paper_key
from trimopt.check.findings import Findings
from trimopt.plan.model import Plan


def held_beside(book: Book, plan: Plan) -> Book:
    """The book with those held enquiries of the request that are to be planned."""
    more = tuple(each for each in plan.request.held if _is_to_be_planned(each, book))
    return replace(book, orders=book.orders + more)


def _orders_for(held: Order, book: Book) -> list[str]:
    """The orders that have taken its place."""
    name = held.number.casefold()
    return [
        each.number
        for each in book.orders
        if name in {each.number.casefold(), each.held_as.casefold()}
    ]


def _is_to_be_planned(held: Order, book: Book) -> bool:
    if _orders_for(held, book):
        return False
    return paper_key(held) in book.papers


def check_held(plan: Plan, book: Book, notes: Findings) -> None:
    """Check what became of each: no other is in the plan as held, and none is lost.

    `book` is the order book alone, without them.
    """
    due = sorted((each.number, number) for each in plan.request.held
                 for number in _orders_for(each, book))  # fmt: skip
    claimed = sorted((each.held, each.order) for each in plan.taken_up)
    notes.same("held enquiries", "those that have become orders", claimed, due)
    left_out = {each.order for each in plan.left_out}
    for number, times in Counter(each.number.casefold() for each in plan.request.held).items():
        if times > 1:
            notes.add(f"held enquiry {number}", "is there once", times, 1)
    for each in plan.request.held:
        where = f"held enquiry {each.number}"
        if each.held_until is None:
            notes.add(where, "day on which it ends", "", "none")
        waits = not _orders_for(each, book) and not _is_to_be_planned(each, book)
        if waits and each.number not in left_out:
            notes.add(where, "planned, or left out with a reason", "", "neither")
