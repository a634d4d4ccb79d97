"""The plan on a terminal: what needs attention, the runs, the patterns as pictures, the trade-off.

Lines are broken here, never by the console, so that a pipe gets the same lines as a window. With
NO_COLOR, or where the output is no terminal, nothing but plain text is written.
"""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING

from trimopt.plan.model import Block, Plan, RunPlan
from trimopt.plan.reel_rows import cores_across
from trimopt.report.terminal.characters import bar, draw, fitting_marks
from trimopt.report.words.attention import CALLS, calls_of, count_text
from trimopt.report.words.instruction_words import (
    head_text,
    instruction_text,
    reply_text,
    together_text,
)
from trimopt.report.words.plan_words import (
    TRADE_OFF_NOTE,
    alike,
    bound_text,
    carried_text,
    core_text,
    diameter_text,
    kind_word,
    loads_by_sheeter,
    loads_text,
    metres_text,
    metres_verdict,
    moment,
    number,
    percent,
    sets_text,
    shift_text,
    trade_off_rows,
    unused_texts,
    verdict,
)
from trimopt.text import for_terminal

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["print_summary"]

_UNIT = re.compile(r"(?<=[\d.]) (?=(?:%|mm|kg|min|m|t)\b|%)")
_MAX_NOTES = 200  # a book has a warning for every overdue line
_LEAST, _MOST = 40, 100  # characters: below, a picture says nothing; above, lines tire the eye


class _Voice:
    """Writes lines to a console in what its locale and NO_COLOR allow."""

    def __init__(self, console: Console) -> None:
        self.console = console
        self.encoding = console.encoding
        self.width = max(_LEAST, min(console.width, _MOST))
        self.marks = fitting_marks(console.encoding)

    def line(self, text: str = "", style: str = "") -> None:
        from rich.text import Text

        plain = for_terminal(text, self.encoding).rstrip()
        weighty = self.console.is_terminal and not self.console.no_color
        self.console.print(
            Text(plain, style=style if weighty else ""), soft_wrap=True, highlight=False
        )

    def wrapped(self, text: str, *, first: str = "  ", rest: str = "  ", style: str = "") -> None:
        # A figure and its unit stay on one line; textwrap does not break at a no-break space.
        bound = _UNIT.sub("\u00a0", text)
        parts = textwrap.wrap(
            bound, self.width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
        )
        for part in parts or [first]:
            self.line(part.replace("\u00a0", " "), style)


def print_summary(plan: Plan, console: Console, *, pictures: bool = True) -> None:
    """Print a plan for the scheduler.

    Parameters
    ----------
    plan : Plan
        A plan that was checked.
    console : rich.console.Console
        Where to: results belong on standard output.
    pictures : bool
        Whether each pattern is drawn.
    """
    say = _Voice(console)
    say.line(f"Slitter plan {plan.number}", "bold")
    replaces = f"; replaces {plan.replaces}" if plan.replaces else ""
    say.wrapped(
        f"{plan.mill_name}, {plan.winder}; made {moment(plan.made_at)} from {plan.book.name} "
        f"(as of {plan.as_of}) and {plan.mill.name}{replaces}"
    )
    if shift := shift_text(plan):
        say.wrapped(shift)
    _attention(say, plan)
    for run in plan.runs:
        _run(say, run)
        _instructions(say, run)
        if run.trade_off:
            _trade_off(say, run)
        if pictures:
            for block in run.blocks:
                _pattern(say, run, block)
    if plan.unused_jumbos:
        say.line()
        say.line("Listed jumbos not used", "bold")
        for said in unused_texts(plan):
            say.wrapped(said, first="  - ", rest="    ")
    if plan.loads:
        say.line()
        say.line("Sheeters", "bold")
        for name, loads in loads_by_sheeter(plan):
            say.wrapped(f"{name}: {loads_text(loads)}", rest="      ")
    if plan.notes:
        say.line()
        say.line("Notes", "bold")
        for note in plan.notes[:_MAX_NOTES]:
            say.wrapped(note, first="  - ", rest="    ")
        if len(plan.notes) > _MAX_NOTES:
            say.line(
                f"  and {len(plan.notes) - _MAX_NOTES:,} more, in the workbook and on the page"
            )
    say.line()
    say.wrapped(plan.caution, first="", rest="", style="dim")


def _attention(say: _Voice, plan: Plan) -> None:
    calls = calls_of(plan)
    say.line()
    if not calls:
        say.line("Every order of the book is planned and met.", "bold")
        return
    say.line(count_text(calls), "bold red")
    for call in calls[:CALLS]:
        words = f"{call.state.upper()}  {call.order}  {call.customer}  {call.why}"
        say.wrapped(words, first="  ", rest="      ")
    if len(calls) > CALLS:
        say.line(f"  and {len(calls) - CALLS} more: see the sheet Orders of the workbook")


def _run(say: _Voice, run: RunPlan) -> None:
    balance = run.balance
    sets = sum(len(block.sets) for block in run.blocks)
    ordered = sum(line.ordered_kg for line in run.orders)
    share = f" ({percent(balance.delivered_kg / ordered, 1)} of ordered)" if ordered else ""
    say.line()
    say.line(run.name.upper().replace("G/M²", "g/m²"), "bold")
    set_ups = bound_text(run.set_ups, run.set_ups_bound)
    moves = bound_text(run.knife_moves, run.knife_moves_bound)
    say.wrapped(
        f"{_count(len(run.jumbos), 'jumbo')}, {_count(sets, 'set')}, "
        f"{_count(len(run.blocks), 'block')}; set-ups {set_ups}, knife moves {moves}; "
        f"{number(run.minutes, 0)} min"
    )
    trim = balance.edge_trim_kg + balance.pattern_trim_kg
    say.wrapped(
        f"{balance.used_kg / 1000:,.2f} t used, {balance.delivered_kg / 1000:,.2f} t delivered"
        f"{share}"
    )
    say.wrapped(
        f"trim loss {percent(balance.trim_loss)} ({number(trim, 0)} of "
        f"{number(balance.wound_kg, 0)} kg wound), on the deckle "
        f"{percent(balance.trim_loss_deckle)}, total loss {percent(balance.total_loss)}"
    )
    say.wrapped(f"answer: {verdict(run)}")
    if run.blocks:
        say.wrapped(metres_verdict(run))
    if carried := carried_text(run):
        say.wrapped(carried)
    for note in run.notes:
        say.wrapped(note, first="  - ", rest="    ")


def _instructions(say: _Voice, run: RunPlan) -> None:
    if not run.instructions:
        return
    say.line()
    say.line(head_text([run]), "bold")
    for answer in run.instructions:
        say.wrapped(
            f"{instruction_text(answer.instruction)}: {reply_text(answer)}",
            first="  - ",
            rest="    ",
        )
    if run.instructions_price is not None:
        say.wrapped(together_text(run.instructions_price))


def _count(value: int, word: str) -> str:
    return f"{value:,} {word}" + ("" if value == 1 else "s")


def _pattern(say: _Voice, run: RunPlan, block: Block) -> None:
    say.line()
    facts = (
        f"{block.number}.  {len(block.sets)} × {metres_text(block)}, {sets_text(block)}, "
        f"{core_text(block)}, ø {diameter_text(run, block)}"
    )
    if block.number > 1 or block.knife_moves:
        facts += f", {_count(block.knife_moves, 'knife move')}"
    say.wrapped(facts, first="  ", rest="      ", style="bold")
    for line in draw(block, say.width - 4, say.marks):
        say.line("  " + line)
    knives = " ".join(
        f"{say.marks.moved if moved else ''}{number(knife)}"
        for knife, moved in zip(block.knives_mm, block.knives_moved, strict=True)
    )
    say.wrapped(f"knives at {knives}", first="  ", rest="            ", style="dim")
    customers = {line.number: line.customer for line in run.orders}
    mixed = len(cores_across(block)) > 1
    for count, position in alike(block):
        if position.kind == "broke":
            words = f"{count} × {number(position.width_mm)} mm  broke reel"
        else:
            sheeter = f"  for {kind_word(position)}" if position.kind == "sheeter" else ""
            words = (
                f"{count} × {number(position.width_mm)} mm  {position.order}  "
                f"{customers.get(position.order, '')}{sheeter}"
            )
        if mixed and position.core_mm is not None:
            size = diameter_text(run, block, position.core_mm)
            words += f"  core {number(position.core_mm)} mm, ø {size}"
        say.wrapped(words, first="    ", rest="        ")


def _trade_off(say: _Voice, run: RunPlan) -> None:
    rows = trade_off_rows(run)
    most = max(lost_kg for _, lost_kg, *_ in rows)
    say.line()
    say.line("  What fewer set-ups cost in paper", "bold")
    say.line("  patterns  kg with butts  trim loss  moves")
    for point, lost_kg, trim_loss, words in rows:
        moves = "" if point.knife_moves is None else str(point.knife_moves)
        drawn = bar(lost_kg, most, say.width - 70, say.marks) if say.width >= 76 else ""
        said = words if say.width >= 70 else ""
        mark = f"{say.marks.chosen} {said}" if point.chosen else f"  {said}"
        say.line(
            f"  {point.patterns:8}{lost_kg:15,.0f}{percent(trim_loss):>11}{moves:>7} "
            f"{mark:23}{drawn}",
            "bold" if point.chosen else "",
        )
    say.wrapped(TRADE_OFF_NOTE, first="  ", rest="  ")
