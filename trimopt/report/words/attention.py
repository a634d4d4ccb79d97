"""The orders about which somebody must do something, the most pressing first."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from trimopt.plan.model import Plan
from trimopt.report.words.plan_words import (
    needs_attention,
    pressing,
    quantity_text,
    states_text,
    why_text,
)
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

MAX_CALLS = 12
"""So many are named in front; the rest stand with the orders, first there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """An order that needs attention: its state, and why."""

    order: str
    customer: str
    state: str
    why: str


def calls_of(plan: Plan, units: Units) -> tuple[Call, ...]:
    """Give what needs attention: lines left out, then orders by how pressing, then by due date."""
    left_out = text("attention.left_out")
    found = [
        Call(order=each.order, customer="", state=left_out, why=each.why) for each in plan.left_out
    ]
    lines = [line for run in plan.runs for line in run.orders if needs_attention(line)]
    for line in sorted(lines, key=pressing):
        why = why_text(line) or text(
            "attention.amount",
            ordered=quantity_text(line.asked, line, units),
            planned=quantity_text(line.planned, line, units),
        )
        held = line.held_until is not None
        state = text("attention.held") if held else states_text((line.state,))
        found.append(Call(order=line.number, customer=line.customer, state=state, why=why))
    return tuple(found)


def count_text(calls: tuple[Call, ...]) -> str:
    """Count calls by their state.

    >>> one = Call(order="1", customer="", state="late", why="")
    >>> count_text((one, one))
    '2 orders need attention: 2 late'
    """
    counts = Counter(call.state for call in calls)
    each = ", ".join(f"{count} {state}" for state, count in counts.items())
    return text("attention.count", count=len(calls), each=each)
