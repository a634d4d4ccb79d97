"""The check of the ways out: runs above the target alone, orders of theirs, the best first.

What a change saves was found by planning it, which cannot be done again here.
"""

from __future__ import annotations

from itertools import pairwise

from trimopt.book.model import Book, paper_key
from trimopt.check.findings import Findings
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan
from trimopt.plan.way_out import RunWaysOut

_KINDS = frozenset(
    {"stock width", "width", "tolerance", "diameter", "next run", "taken in", "set-up", "deckle"}
)
_WITHIN = 1e-6


def check_ways_out(plan: Plan, book: Book, mill: Mill, notes: Findings) -> None:
    """Check that the runs above the target have ways out where they were asked for, no others."""
    target = mill.trim_target_percent
    above = [
        run.name
        for run in plan.runs
        if target is not None and 100 * run.balance.trim_loss > target and plan.request.ways_out
    ]
    said = [each.run for each in plan.ways_out]
    notes.same("ways out", "runs above the target", tuple(said), tuple(above))
    for each in plan.ways_out:
        _check_run(plan, book, mill, each, notes)


def _check_run(plan: Plan, book: Book, mill: Mill, each: RunWaysOut, notes: Findings) -> None:
    run = next((run for run in plan.runs if run.name == each.run), None)
    if run is None:
        return
    where = f"ways out of {each.run}"
    notes.near(where, "trim loss", each.trim_loss, run.balance.trim_loss, _WITHIN)
    notes.near(where, "target", each.target, (mill.trim_target_percent or 0) / 100, _WITHIN)
    of_run = {line.number: line.due for line in run.orders}
    of_next = {o.number: o.due for o in book.next_run if paper_key(o) == paper_key(run)}
    for way in each.ways:
        if way.kind not in _KINDS:
            notes.add(where, "kind of way out", way.kind, "none of them")
        due, whose = (of_next, "the next") if way.kind == "taken in" else (of_run, "this")
        if way.order and way.order not in due:
            notes.add(where, "order", way.order, f"not an order of {whose} run")
        if way.kind in ("next run", "taken in"):
            notes.same(where, f"due of order {way.order}", way.due, due.get(way.order))
        if not way.saved > 0:
            notes.add(where, "saved", way.saved, "nothing")
    if any(one.saved < other.saved for one, other in pairwise(each.ways)):
        notes.add(where, "order of the ways", "the best first", "otherwise")
    if each.planned < len(each.ways) or each.unplanned < 0:
        notes.add(where, "changes planned", each.planned, f"{len(each.ways)} ways")
