"""Reels from stock in a plan of the rest: they stay with the orders that they were picked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from trimopt.book.model import StockReel
from trimopt.making.stock_reels import with_stock_left
from trimopt.plan.model import Plan

if TYPE_CHECKING:
    from trimopt.mill.model import Mill
    from trimopt.plan.planning.replanning.standing import Standing


def with_stock_as_picked(
    standing: Sequence[Standing], issued: Plan, stock: tuple[StockReel, ...], mill: Mill
) -> tuple[Standing, ...]:
    """Runs with reels from stock for what was not run of their orders.

    Parameters
    ----------
    issued
        Says which were picked for which order.
    stock
        The reels that are listed now.
    """
    if not stock:
        return tuple(standing)
    ran: dict[str, Fraction] = {}
    for case in standing:
        none = dict.fromkeys((order.number for order in case.run.orders), Fraction(0))
        ran |= case.made(case.head)[0] if case.head else none
    orders = tuple(each for case in standing for each in case.run.ordered)
    served = with_stock_left(
        orders,
        stock,
        mill.sheeters,
        ran=ran,
        picked={reel.name: number for number, _, reel in issued.stock_used},
        beyond={
            line.number: max(Fraction(0), line.planned - line.max_quantity)
            for run in issued.runs
            for line in run.orders
        },
    )
    by_number = {order.number: order for order in served}
    return tuple(
        replace(
            case,
            run=replace(
                case.run,
                orders=tuple(by_number.get(each.number, each) for each in case.run.orders),
            ),
        )
        for case in standing
    )
