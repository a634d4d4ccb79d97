"""Held enquiries beside the orders of a book: what sales has offered until a day, and not sold yet.

A held enquiry is an `Order` with a day on which it ends. Its caller reads which are in force; here
they join the book, each once: one that has become an order is not planned a second time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trimopt.book.model import Book, LeftOut, Order, TakenUp, paper_key


def taken_up(book: Book, held: Sequence[Order]) -> tuple[TakenUp, ...]:
    """Say which held enquiries have become orders: those whose number an order bears or names."""
    numbers = {each.number.casefold(): each.number for each in held}
    return tuple(
        TakenUp(held=numbers[name], order=order.number)
        for order in book.orders
        for name in dict.fromkeys((order.held_as.casefold(), order.number.casefold()))
        if name in numbers
    )


def with_held(book: Book, held: Sequence[Order]) -> Book:
    """Give the book with what is held, behind its orders.

    What has become an order is not held any more. A paper that no order of the book is of is not
    run for a held enquiry alone: that is left out, and named.
    """
    taken = {each.held for each in taken_up(book, held)}
    papers = book.papers
    waiting = [each for each in held if each.number not in taken]
    return replace(
        book,
        orders=(*book.orders, *(each for each in waiting if paper_key(each) in papers)),
        left_out=(
            *book.left_out,
            *(
                LeftOut(order=each.number, why=_NOT_RUN.format(until=each.held_until))
                for each in waiting
                if paper_key(each) not in papers
            ),
        ),
    )


_NOT_RUN = "held until {until}, not ordered; the book has no order of its paper"
