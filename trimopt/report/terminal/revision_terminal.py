"""A revision on a terminal: what was changed, what does not hold, and what it does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.plan.difference import OrderDifference, PlanDifference, PlanFigures
from trimopt.plan.replan import Replan
from trimopt.plan.revision import Revision
from trimopt.report.terminal.terminal_writer import TerminalWriter
from trimopt.report.words.plan_words import states_text
from trimopt.report.words.replan_words import change_lines, cut_short_lines, sets_line
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

if TYPE_CHECKING:
    from rich.console import Console

_SHOWN = 20  # changes, and orders


def print_revision(revision: Revision, console: Console) -> None:
    """Print a revision for the scheduler."""
    issued = revision.edited.issued
    say = TerminalWriter(console, Units(issued.written))
    say.line(text("revision.title", number=issued.number), "bold")
    if changes := revision.edited.changes:
        say.section(text("revision.changes"))
        say.items(changes[:_SHOWN])
        if len(changes) > _SHOWN:
            say.wrapped(text("revision.more_changes", count=len(changes) - _SHOWN))
    say.section(text("revision.faults"))
    if revision.faults:
        say.items(str(fault) for fault in revision.faults)
    else:
        say.wrapped(text(f"revision.{'no_faults' if revision.changed else 'unchanged'}"))
    say.section(text("revision.effects"))
    if revision.difference is None:
        say.wrapped(text("revision.not_laid_out"))
        return
    _figures(say, revision.difference)
    say.line()
    say.wrapped(sets_line(revision.difference))
    _orders(say, revision.difference)
    for name in revision.difference.given_up:
        say.wrapped(text("revision.given_up", name=name))


def print_replan(replan: Replan, console: Console) -> None:
    """Print what a plan of the rest changes, for the scheduler."""
    issued = replan.issued
    say = TerminalWriter(console, Units(replan.plan.written))
    say.line(text("replan.title", number=issued.number, now=replan.now), "bold")
    for line in cut_short_lines(replan.plan):
        say.wrapped(line)
    if replan.forbidden:
        say.section(text("replan.forbidden"))
        say.items(replan.forbidden)
    say.section(text("revision.effects"))
    difference = replan.difference
    _figures(say, difference)
    say.line()
    say.items(change_lines(replan.plan, difference))
    _orders(say, difference, frozenset(each.order for each in replan.plan.left_out))


def _figures(say: TerminalWriter, difference: PlanDifference) -> None:
    before, after = difference.figures_before, difference.figures_after
    unit = say.units.sign("kg")
    rows = []
    for name, was, now in (
        ("lost", before.lost_kg, after.lost_kg),
        ("used", before.used_kg, after.used_kg),
        ("set_ups", before.set_ups, after.set_ups),
        ("moves", before.knife_moves, after.knife_moves),
        ("hours", _hours(before), _hours(after)),
        ("sets", before.sets, after.sets),
        ("jumbos", before.jumbos, after.jumbos),
        ("late", before.late_orders, after.late_orders),
    ):
        kind = "kg" if name in ("lost", "used") else "count"
        places = 1 if name == "hours" else 0
        shown = [say.units.bare(value, kind, places) for value in (was, now, abs(now - was))]
        sign = "" if shown[2].strip("0.") == "" else "+" if now > was else "\N{MINUS SIGN}"
        rows.append((text(f"revision.{name}", unit=unit), *shown[:2], sign + shown[2]))
    say.table(
        ["", *(text(f"revision.{one}") for one in ("before", "after", "change"))], rows, "tnnn"
    )


def _hours(figures: PlanFigures) -> float:
    return figures.minutes / 60


def _orders(
    say: TerminalWriter, difference: PlanDifference, left_out: frozenset[str] = frozenset()
) -> None:
    """The orders that get something else, those first whose mass changes most."""
    changed = [each for each in difference.orders if not each.in_time_only]
    changed.sort(key=lambda each: (_same_states(each), -_more_kg(each)))
    say.section(text("revision.orders"))
    if not changed:
        say.wrapped(text("revision.orders_none"))
    say.items(_order_text(each, say.units, left_out) for each in changed[:_SHOWN])
    if rest := changed[_SHOWN:]:
        mass = say.units.said(max(map(_more_kg, rest)), "kg")
        say.wrapped(text("revision.orders_more", count=len(rest), mass=mass))
    moved = [each for each in difference.orders if each.in_time_only]
    if moved:
        words = text("revision.orders_in_time", count=len(moved))
        later = max(_later_min(each) for each in moved)
        say.wrapped(text("revision.later", text=words, minutes=later) if later > 0 else words)


def _same_states(each: OrderDifference) -> bool:
    states = [None if side is None else side.states for side in (each.before, each.after)]
    return states[0] == states[1]


def _more_kg(each: OrderDifference) -> float:
    before, after = (0.0 if side is None else side.planned_kg for side in (each.before, each.after))
    return abs(after - before)


def _later_min(each: OrderDifference) -> float:
    before, after = (None if side is None else side.finished for side in (each.before, each.after))
    return 0.0 if before is None or after is None else (after - before).total_seconds() / 60


def _order_text(each: OrderDifference, units: Units, left_out: frozenset[str]) -> str:
    shown = []
    for side in (each.before, each.after):
        planned = 0 if side is None else side.planned
        quantity = units.said(planned, each.unit, 1)
        mass = units.said(0.0 if side is None else side.planned_kg, "kg")
        shown.append(quantity if each.unit == "kg" else f"{quantity} ({mass})")
    state = ""
    if not _same_states(each):
        states = [None if s is None else states_text(s.states) for s in (each.before, each.after)]
        gone = "left_out" if each.number in left_out else "cancelled"
        name = "new" if states[0] is None else gone if states[1] is None else "state"
        state = text(f"revision.order_{name}", before=states[0], after=states[1])
    return text(
        "revision.order", number=each.number, customer=each.customer, before=shown[0],
        after=shown[1], state=state,
    )  # fmt: skip
