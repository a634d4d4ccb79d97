"""The plan on a terminal: what needs attention, the runs, the trade-off, the patterns.

Of a revision and of a plan of the rest: what was changed, what does not hold, what it does.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trimopt.book.model import StockReel
from trimopt.paper import number
from trimopt.plan.difference import PlanDifference
from trimopt.plan.model import Block, Plan, RunPlan
from trimopt.plan.proof_data import TradePoint
from trimopt.plan.replan import Replan
from trimopt.plan.revision import Revision
from trimopt.report import plan_tables
from trimopt.report.plan_tables import CHANGES
from trimopt.report.terminal.terminal_writer import TerminalWriter, bar, draw
from trimopt.report.words import instruction_words, plan_words, proof_words, replan_words
from trimopt.report.words.attention import MAX_CALLS, calls_of, count_text
from trimopt.report.words.proof_words import cut_short_text
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, moment, percent

if TYPE_CHECKING:
    from rich.console import Console


_BARS_FROM = 76  # characters of a line that has space for bars
_WAYS = 4  # ways out of a run that are named here
_TABLE = 70  # of them the table beside the bars


def print_summary(plan: Plan, console: Console | None = None) -> None:
    say = TerminalWriter(console, Units(plan.written))
    _head(say, plan)
    _attention(say, plan)
    for run in plan.runs:
        _run_and_patterns(say, run)
    say_supplies(say, plan)
    if plan.request.ways_out:
        _ways_out(say, plan)
    if plan.loads:
        say.section(text("plan.sheeters"))
        for name, loads in plan_words.loads_by_sheeter(plan):
            say.wrapped(f"{name}: {plan_words.loads_text(loads)}", rest="      ")
    say.line()
    if plan.notes:
        say.wrapped(text("plan.notes", count=len(plan.notes)), first="")
    say.wrapped(text("plan.caution"), first="", rest="", style="dim")


def _run_and_patterns(say: TerminalWriter, run: RunPlan) -> None:
    _run(say, run)
    if run.instructions:
        _instructions(say, run)
    if points := plan_tables.trade_points(run):
        _trade_off(say, points)
    for block in run.blocks:
        _pattern(say, run, block)


def _head(say: TerminalWriter, plan: Plan) -> None:
    say.line(text("plan.title", number=plan.number), "bold")
    source = text(
        "plan.source", mill=plan.mill_name, winder=plan.winder, made=moment(plan.made_at),
        book=plan.book.name, date=plan.as_of, mill_file=plan.mill.name,
    )  # fmt: skip
    if replaced := plan_words.replaces_text(plan):
        source += text("plan.source_replaces", replaced=replaced)
    say.wrapped(source)
    if shift := plan_words.shift_text(plan):
        say.wrapped(shift)
    if cut_short := proof_words.cut_short_text(plan, say.units):
        say.wrapped(cut_short, style="bold")


def _attention(say: TerminalWriter, plan: Plan) -> None:
    calls = calls_of(plan, say.units)
    say.line()
    if not calls:
        say.line(f"{text('attention.none')}.", "bold")
        return
    say.line(count_text(calls), "bold red")
    for call in calls[:MAX_CALLS]:
        words = f"{call.state.upper()}  {call.order}  {call.customer}  {call.why}"
        say.wrapped(words, rest="      ")
    if len(calls) > MAX_CALLS:
        say.wrapped(text("attention.rest_terminal", count=len(calls) - MAX_CALLS))


def _run(say: TerminalWriter, run: RunPlan) -> None:
    balance, ordered, units = run.balance, plan_tables.ordered_kg(run), say.units
    sets = len(run.sets)
    share = percent(balance.delivered_kg / ordered, 1) if ordered else ""
    say.section(f"{run.name.removesuffix(run.weight).upper()}{run.weight}")
    say.wrapped(
        text(
            "run.counts",
            jumbos=text("run.jumbos", count=len(run.jumbos)),
            sets=text("run.sets", count=sets),
            blocks=text("run.blocks", count=len(run.blocks)),
            set_ups=proof_words.bound_text(run.set_ups, run.set_ups_bound),
            moves=proof_words.bound_text(run.knife_moves, run.knife_moves_bound),
            minutes=number(run.minutes, 0),
        )
    )
    said = text("run.of_ordered", share=share) if share else ""
    tonnes = (units.said(kg / 1000, "t") for kg in (balance.used_kg, balance.delivered_kg))
    used, delivered = tonnes
    say.wrapped(text("run.paper", used=used, delivered=delivered, share=said))
    if balance.made_for_stock_kg:
        say.wrapped(text("run.for_stock", mass=units.said(balance.made_for_stock_kg, "kg")))
    if balance.stock_used_kg:
        count = sum(len(line.stock) for line in run.orders)
        mass = units.said(balance.stock_used_kg, "kg")
        say.wrapped(text("run.stock", count=count, mass=mass))
    say.wrapped(
        text(
            "run.losses",
            trim_loss=percent(balance.trim_loss),
            trim=units.bare(balance.edge_trim_kg + balance.pattern_trim_kg, "kg"),
            wound=units.said(balance.wound_kg, "kg"),
            deckle=percent(balance.trim_loss_deckle),
            total=percent(balance.total_loss),
        )
    )
    say.wrapped(text("run.proof", verdict=proof_words.verdict(run, units)))
    if carried := plan_words.carried_text(run, units):
        say.wrapped(carried)
    say.items(run.notes)


def _ways_out(say: TerminalWriter, plan: Plan) -> None:
    """The best ways out of each run above the target."""
    if not plan.ways_out:
        say.line()
        say.wrapped(text("plan.ways_out_none"))
    for each in plan.ways_out:
        say.section(f"{text('plan.ways_out')}, {plan_tables.ways_head(each)}")
        say.items(
            text(
                "plan.ways_out_line",
                saved=plan_tables.saved_text(each, way, say.units),
                kind=way.kind,
                order=way.order,
                what=way.what,
                asks=way.asks,
                due=text("plan.ways_out_due", due=moment(way.due)) if way.due else "",
            ).replace(" :", ":")
            for way in each.ways[:_WAYS]
        )
        say.wrapped(plan_tables.ways_count(each))


def say_supplies(say: TerminalWriter, plan: Plan) -> None:
    """Listed jumbos that are not used, and reels to be fetched from stock."""
    if plan.unused_jumbos:
        say.section(text("plan.unused"))
        say.items(plan_words.unused_texts(plan, say.units))
    if plan.stock_used:
        say.section(text("plan.stock"))
        say.items(_stock_text(row, say.units) for row in plan_tables.stock_of(plan))


def _stock_text(row: tuple[str, str, StockReel], units: Units) -> str:
    order, customer, reel = row
    name = text("plan.stock_place", reel=reel.name, place=reel.place) if reel.place else reel.name
    size, mass = units.said(reel.width_mm, "mm"), units.said(reel.mass_kg, "kg")
    said = text("plan.stock_line", reel=name, size=size, mass=mass, order=order, customer=customer)
    cut = reel.at_sheeter
    if cut is None:
        return said.strip()
    use = plan_tables.cut_text(reel)
    return text("plan.stock_cut", line=said.strip(), use=use, sheets=cut.sheets)


def _instructions(say: TerminalWriter, run: RunPlan) -> None:
    say.section(instruction_words.head_text([run]))
    units = say.units
    for answer in run.instructions:
        asked = instruction_words.instruction_text(answer.instruction, units)
        say.items([f"{asked}: {instruction_words.reply_text(answer, units)}"])
    if run.instructions_price is not None:
        say.wrapped(instruction_words.together_text(run.instructions_price, units))


def _pattern(say: TerminalWriter, run: RunPlan, block: Block) -> None:
    units = say.units
    say.line()
    facts = text(
        "block.terminal", number=block.number, count=len(block.sets),
        sets=plan_words.sets_text(block), metres=plan_words.metres_text(block, units),
        cores=plan_words.core_text(block, units),
        diameter=plan_words.diameter_text(run, block, units),
    )  # fmt: skip
    if block.number > 1 or block.knife_moves:
        facts += f", {text('run.moves', count=block.knife_moves)}"
    for warning in plan_words.warnings_of(run, block, units):
        facts += f", {warning}"
    say.wrapped(facts, rest="      ", style="bold")
    for line in draw(block, say.width - 4, say.marks, units):
        say.line("  " + line)
    # Inches have blanks of their own.
    knives = (" " if units.written.metric else ", ").join(
        f"{say.marks.moved if moved else ''}{units.place(knife)}"
        for knife, moved in zip(block.knives_mm, block.knives_moved, strict=True)
    )
    say.wrapped(text("block.knives_at", knives=knives), rest="            ", style="dim")
    mixed = plan_tables.has_mixed_cores(block)
    for strips in plan_tables.strips_alike(run, block):
        say.wrapped(_strips_text(strips, units, mixed=mixed), first="    ", rest="        ")


def _strips_text(strips: plan_tables.Strips, units: Units, *, mixed: bool) -> str:
    position = strips.position
    parts = [f"{strips.count} × {units.said(position.width_mm, 'mm')}"]
    if position.kind == "broke":
        parts.append(text("strip.broke_reel"))
    else:
        parts += [position.order, strips.customer]
    if position.kind == "sheeter":
        parts.append(text("strip.for", use=plan_words.kind_word(position)))
    if mixed and position.core_mm is not None:
        size = plan_words.diameter_text(strips.run, strips.block, units, position.core_mm)
        core = units.said(position.core_mm, "core")
        parts.append(text("strip.on_core", core=core, diameter=size))
    parts.append(text("strip.positions", count=strips.count, positions=strips.positions))
    return "  ".join(parts)


def _trade_off(say: TerminalWriter, points: Sequence[TradePoint]) -> None:
    most = max(proof_words.lost_with_butts_kg(point) for point in points)
    bars = say.width - _TABLE if say.width >= _BARS_FROM else 0
    rows = []
    for point in points:
        mark = f"{say.marks.chosen} " if point.chosen else "  "
        lost = proof_words.lost_with_butts_kg(point)
        rows.append(
            (
                str(point.patterns),
                say.units.bare(lost, "kg"),
                percent(proof_words.trade_trim_loss(point)),
                "" if point.knife_moves is None else str(point.knife_moves),
                mark + proof_words.trade_text(point),
                bar(lost, most, bars, say.marks),
            )
        )
    say.section(text("trade_off.heading"))
    names = ("patterns", "with_butts", "trim_loss", "moves")
    unit = say.units.sign("kg")
    headings = [*(text(f"trade_off.{name}", unit=unit) for name in names), "", ""]
    say.table(headings, rows, "nnnntt", styles=["bold" if p.chosen else "" for p in points])
    say.wrapped(text("trade_off.note"))


_SHOWN = 20  # changes, and orders


def print_revision(revision: Revision, console: Console | None = None) -> None:
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
