"""A revision on a terminal: what was changed, what does not hold, and what it does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.plan.difference import PlanDifference
from trimopt.plan.model import Plan
from trimopt.plan.replan import Replan
from trimopt.plan.revision import Revision
from trimopt.report.plan_tables import CHANGES
from trimopt.report.terminal.plan_terminal import say_supplies
from trimopt.report.terminal.terminal_writer import TerminalWriter
from trimopt.report.words import replan_words
from trimopt.report.words.proof_words import cut_short_text
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

if TYPE_CHECKING:
    from rich.console import Console

_SHOWN = 20  # changes, and orders


def print_revision(revision: Revision, console: Console | None = None) -> None:
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
    if revision.plan is None or revision.difference is None:
        say.section(text("revision.effects"))
        say.wrapped(text("revision.not_laid_out"))
    else:
        _effects(say, revision.plan, revision.difference)


def print_replan(replan: Replan, console: Console | None = None) -> None:
    """Print what a plan of the rest changes, for the scheduler."""
    issued = replan.issued
    say = TerminalWriter(console, Units(replan.plan.written))
    say.line(text("replan.title", number=issued.number, now=replan.now), "bold")
    if cut_short := cut_short_text(replan.plan, say.units):
        say.wrapped(cut_short, style="bold")
    if replan.forbidden:
        say.section(text("replan.forbidden"))
        say.items(replan.forbidden)
    _effects(say, replan.plan, replan.difference)
    say_supplies(say, replan.plan)


def _effects(say: TerminalWriter, plan: Plan, difference: PlanDifference) -> None:
    say.section(text("revision.effects"))
    head = [column.title(say.units) for column in CHANGES]
    say.table(head, replan_words.figure_rows(difference, say.units), "tnnn")
    say.line()
    say.items(replan_words.change_lines(plan, difference))
    say.section(text("revision.orders"))
    say.items(replan_words.order_lines(plan, difference, say.units, most=_SHOWN))
