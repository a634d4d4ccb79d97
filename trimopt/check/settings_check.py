"""The check of what holds for a plan: every setting is the mill's, the request's or the book's."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime, time, timedelta

from trimopt.book.model import Book
from trimopt.check.findings import Findings
from trimopt.mill.model import Mill
from trimopt.paper import UnitSystem
from trimopt.plan.model import Plan, Request


def check_settings(
    plan: Plan, book: Book, mill: Mill, request: Request | None, notes: Findings
) -> None:
    """Check the settings one by one, and the request where it is known what was asked."""
    asked, values, winder = plan.request, mill.values, mill.winder
    if request is not None:
        notes.same("request", "what was asked", str(asked), str(request))
    start = asked.start or datetime.combine(book.as_of, time(6))
    until = asked.until or book.shift_ends
    if asked.hours is not None:
        notes.same("request", "an end of the shift beside hours", asked.until, None)
        until = start + timedelta(hours=asked.hours)
    due = {
        "seed": asked.seed,
        "time_limit_s": asked.time_limit_s,
        "effort": asked.effort,
        "under": values.under,
        "over": values.over,
        "trim_cost_per_t": values.trim_cost_per_t,
        "set_up": values.set_up,
        "knife_move": values.knife_move,
        "currency": values.currency,
        "split_blocks": values.split_blocks,
        "core_change_is_set_up": winder.core_change_is_set_up,
        "length_change_is_set_up": winder.length_change_is_set_up,
        "give_up_kg": asked.give_up_kg,
        "start": start,
        "until": until,
    }
    for name, held in asdict(plan.settings).items():
        notes.same("settings", name.replace("_", " "), held, due.get(name, "no such setting"))
    units = mill.units
    shown = book.unit_system if units.shown == "book" else UnitSystem(units.shown)
    notes.same("plan", "unit system", plan.written.system, shown)
    notes.same("plan", "parts of an inch", plan.written.inches, units.inches)
    notes.same("plan", "metric beside inches", plan.written.metric_beside, units.metric_beside)
    if book.faults and not asked.leave_out_faulty:
        notes.add("request", "a book without faults", "", f"{len(book.faults)} faults")
