"""Stock widths of which a plan makes more than it may: the clock ended its search before that."""

from __future__ import annotations

from collections.abc import Collection, Sequence, Set
from dataclasses import replace
from typing import TYPE_CHECKING

from trimopt.budget import Budget
from trimopt.plan.model import Block, RunPlan
from trimopt.plan.planning.schedule.run_winding import WoundRun

if TYPE_CHECKING:
    from trimopt.plan.planning.run_patterns import RunTask

_SECONDS = 2.0  # for the run planned anew, where no time is left


def overstocked(run: RunPlan) -> frozenset[str]:
    """Those of which more is made than may be; else those of sets without an order beside them."""
    stock = {line.number: line for line in run.orders if line.stock_share is not None}
    over = frozenset(name for name, line in stock.items() if line.planned > line.max_quantity)
    return over or alone_in_sets(run.blocks, stock.keys())


def alone_in_sets(blocks: Sequence[Block], stock: Set[str]) -> frozenset[str]:
    """The stock widths, of these, of sets without an order beside them."""
    sets = [{reel.order for reel in block.reels} for block in blocks]
    return frozenset().union(*(each for each in sets if each <= stock))


def without_stock(task: RunTask, widths: Collection[str]) -> RunTask:
    """The task of the run without them, with little work."""
    orders = tuple(order for order in task.run.orders if order.number not in widths)
    budget = Budget.lasting(_SECONDS) if task.budget.over() else task.budget
    return replace(task, run=replace(task.run, orders=orders), budget=budget, swift=True)


def not_made(wound: WoundRun, widths: Collection[str]) -> WoundRun:
    """A run that was planned without some stock widths, which says so."""
    note = (
        f"Nothing is made for stock of {', '.join(sorted(widths))}: the search was cut off before "
        "its limit was kept. The lower bound is one on plans without it."
    )
    return replace(wound, plan=replace(wound.plan, notes=(*wound.plan.notes, note)))
