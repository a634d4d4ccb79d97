"""The check of what was asked of a plan, and of what holds for it.

Every setting is the mill's, the request's or the book's. The shift: runs one after another, all of
it finished before the shift ends. Held enquiries: each is planned once, as an order or as held, or
left out and named. Ways out: of runs above the target alone, the best first; what a change saves
was found by planning it, which cannot be done again here. Of a plan that goes on from another, what
was run stands first, under its numbers.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import asdict, replace
from datetime import datetime, time, timedelta
from itertools import pairwise

from trimopt.book.model import Book, Order, paper_key
from trimopt.check.check_formulas import minutes_between
from trimopt.check.findings import MINUTES_WITHIN, Findings
from trimopt.mill.model import Mill
from trimopt.paper import UnitSystem
from trimopt.plan.model import Plan, Replanned, Request, RunPlan
from trimopt.plan.states import OrderState
from trimopt.plan.way_out import RunWaysOut, WayOut


def check_settings(
    plan: Plan, book: Book, mill: Mill, request: Request | None, notes: Findings
) -> None:
    """Check the settings one by one, and the request where it is known what was asked."""
    asked = plan.request
    if request is not None:
        notes.same("request", "what was asked", str(asked), str(request))
    start = asked.start or datetime.combine(book.as_of, time(6))
    until = asked.until or book.shift_ends
    if asked.hours is not None:
        notes.same("request", "an end of the shift beside hours", asked.until, None)
        until = start + timedelta(hours=asked.hours)
    due: dict[str, object] = {"start": start, "until": until}
    for source, names in (
        (asked, ("seed", "time_limit_s", "effort", "give_up_kg")),
        (mill.values, ("under", "over", "trim_cost_per_t", "set_up", "knife_move", "currency",
                       "split_blocks")),
        (mill.winder, ("core_change_is_set_up", "length_change_is_set_up")),
    ):  # fmt: skip
        due |= {name: getattr(source, name) for name in names}
    for name, held in asdict(plan.settings).items():
        notes.same("settings", name.replace("_", " "), held, due.get(name, "no such setting"))
    units = mill.units
    shown = book.unit_system if units.shown == "book" else UnitSystem(units.shown)
    notes.same("plan", "unit system", plan.written.system, shown)
    notes.same("plan", "parts of an inch", plan.written.inches, units.inches)
    notes.same("plan", "metric beside inches", plan.written.metric_beside, units.metric_beside)
    if book.faults and not asked.leave_out_faulty:
        notes.add("request", "a book without faults", "", f"{len(book.faults)} faults")


def _goes_on(run: RunPlan) -> datetime:
    """When the first set starts that is still to run; a run that has none comes first."""
    rows = (row.start for row in run.sets if not row.done)
    return next((start for start in rows if start is not None), datetime.min)  # noqa: DTZ901


def check_shift(plan: Plan, notes: Findings) -> None:
    """Check that runs do not overlap on the winder, and that the shift's end is kept.

    Where the plan has no end of shift, no order can be carried over for want of hours.
    """
    start, until = plan.settings.start, plan.settings.until
    timed = [run for run in plan.runs if run.start is not None and run.finish is not None]
    before = None if start is None else ("the shift begins", start)
    if plan.replanned is not None:
        before = "the plan goes on", plan.replanned.now
    for run in timed if plan.replanned is None else sorted(timed, key=_goes_on):
        assert run.finish is not None
        rows = (row for row in run.sets if not row.done)
        begins = next((row.start for row in rows), None)
        if begins is not None:
            if before is not None and not minutes_between(before[1], begins) >= 0:
                notes.add(run.name, f"starts after {before[0]}", begins, before[1])
            before = f"{run.name} is finished", run.finish
    for run in plan.runs:
        _check_end(run, until, notes)


def _check_end(run: RunPlan, until: datetime | None, notes: Findings) -> None:
    if until is None:
        for line in run.orders:
            if line.state is OrderState.CARRIED_OVER:
                where = f"{run.name}, order {line.number}"
                notes.add(where, "state", line.state, "the plan has no end of shift")
        return
    if run.blocks and run.start is None:
        notes.add(run.name, "has a timetable, for the shift ends", "none", until)
    for row in run.sets:
        if row.finish is not None and not minutes_between(row.finish, until) >= 0:
            where = f"{run.name}, set {row.number}"
            notes.add(where, "finished before the shift ends", row.finish, until)


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


_KINDS = frozenset(
    {"stock width", "width", "tolerance", "diameter", "next run", "taken in", "set-up", "deckle"}
)
_ASKED = frozenset({"sales", "planning", "machine"})
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
    values = mill.values
    priced = values.trim_cost_per_t is not None and values.set_up is not None
    notes.same(where, "unit", each.unit, (values.currency or "money") if priced else "kg")
    for way in each.ways:
        _check_way(book, run, way, where, notes)
    if any(one.saved < other.saved for one, other in pairwise(each.ways)):
        notes.add(where, "order of the ways", "the best first", "otherwise")
    if each.planned < len(each.ways) or each.unplanned < 0:
        notes.add(where, "changes planned", each.planned, f"{len(each.ways)} ways")


def _check_way(book: Book, run: RunPlan, way: WayOut, where: str, notes: Findings) -> None:
    if way.kind not in _KINDS:
        notes.add(where, "kind of way out", way.kind, "none of them")
    if way.asks not in _ASKED:
        notes.add(where, "who is to be asked", way.asks, "nobody who could agree")
    due, whose = {line.number: line.due for line in run.orders}, "this"
    if way.kind == "taken in":
        whose = "the next"
        due = {o.number: o.due for o in book.next_run if paper_key(o) == paper_key(run)}
    if way.order and way.order not in due:
        notes.add(where, "order", way.order, f"not an order of {whose} run")
    if way.kind in ("next run", "taken in"):
        notes.same(where, f"due of order {way.order}", way.due, due.get(way.order))
    if not 0 <= way.trim_loss < 1:
        notes.add(where, f"trim loss with: {way.what}", way.trim_loss, "a share from 0 to 1")
    if not way.saved > 0:
        notes.add(where, "saved", way.saved, "nothing")


def check_replanned(plan: Plan, notes: Findings) -> None:
    """Check that sets done are those of a plan that goes on, ahead of all others of their run.

    Their numbers rise, and no position is spoiled that a set has not.
    """
    _check_sets(plan, notes)
    done = sum(row.done for run in plan.runs for row in run.sets)
    if done and plan.replanned is None:
        notes.add("", "sets done", done, "the plan goes on from no other")
    if plan.replanned is not None:
        _check_going_on(plan, plan.replanned, notes)


def _check_going_on(plan: Plan, stated: Replanned, notes: Findings) -> None:
    now = stated.now
    if stated.keep_until < now:
        notes.add("", "sets are kept until", stated.keep_until, f"before {now}, when it goes on")
    for run in plan.runs:
        for row in run.sets:
            if row.done and row.finish and minutes_between(row.finish, now) < -MINUTES_WITHIN:
                where = f"{run.name}, set {row.number}"
                notes.add(where, "was run before the plan goes on", row.finish, now)
    for what, claimed in (
        ("blocks changed", stated.blocks_changed),
        ("paid for keeping", stated.paid_for_keeping),
        ("gained by changing", stated.gained_by_changing),
    ):
        if not 0 <= claimed < math.inf:
            notes.add("", what, claimed, "below 0, or endless")


def _check_sets(plan: Plan, notes: Findings) -> None:
    for run in plan.runs:
        rows = run.sets_in_blocks
        for (_, one), (_, other) in pairwise(rows):
            where = f"{run.name}, set {other.number}"
            if other.done and not one.done:
                notes.add(where, "run before all that are still to run", "done", "after others")
            if other.number <= one.number:
                notes.add(where, "number above that of the set before", other.number, one.number)
        for block, row in rows:
            where = f"{run.name}, set {row.number}"
            known = {position.number for position in block.positions if position.kind != "broke"}
            if not set(row.spoiled) <= known or len(set(row.spoiled)) < len(row.spoiled):
                notes.add(where, "spoiled reels, each once", row.spoiled, "no reels of the set")
            if not set(row.seconds) <= known:
                notes.add(where, "reels that go as seconds", row.seconds, "no reels of the set")
            # A plan that is not issued yet has no number of its own.
            own = row.issued == plan.number != plan.replaces
            if row.issued and (own or not plan.replaces):
                found = "this plan" if own else "it replaces none"
                notes.add(where, "issued with an earlier plan", row.issued, found)
