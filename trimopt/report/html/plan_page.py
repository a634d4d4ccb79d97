"""The plan as one page of HTML: no scripts, nothing fetched, readable in the dark and on paper."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.plan.difference import PlanDifference
from trimopt.plan.model import Block, OrderLine, Plan
from trimopt.plan.sheeter_load import Load
from trimopt.report import plan_tables
from trimopt.report.html.page_writer import rendered
from trimopt.report.pattern_geometry import WebStrip, levels_of, strips_of
from trimopt.report.table_columns import Strong, TableColumn, chosen, whole_names
from trimopt.report.words import attention, instruction_words, plan_words, proof_words
from trimopt.report.words.replan_words import all_change_lines, figure_rows
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, moment


def page_html(plan: Plan, changes: PlanDifference | None = None) -> str:
    """Give the page of `plan` as text; with what it changes, where that is given."""
    units = Units(plan.written)
    return rendered(
        "plan.html.j2",
        units,
        title=text("plan.title", number=plan.number),
        plan=plan,
        figures=[] if changes is None else list(figure_rows(changes, units)),
        changes=[] if changes is None else list(all_change_lines(plan, changes)),
        calls=attention.calls_of(plan, units),
        words=plan_words,
        proof=proof_words,
        attention=attention,
        instructions=instruction_words,
        tables=plan_tables,
        columns=_COLUMNS,
        reels_of=_reels_of,
        sets_of=_sets_of,
        drawing=drawing_of,
        moment=moment,
    )


def _state(line: OrderLine, units: Units) -> str:
    said = plan_words.state_text(line)
    said = Strong(said) if plan_words.needs_attention(line) else said
    if line.lacking:
        lacking = plan_words.quantity_text(line.lacking, line, units)
        return Strong(said + text("order.lacking", quantity=lacking))
    return said


def _stands(load: Load) -> str:
    said = text("load.on_stands", reels=len(load.reels), stands=load.stands)
    return Strong(said + text("load.part")) if load.part else said


_COLUMNS = {
    "runs": chosen(
        plan_tables.RUNS, "run", "jumbos", "sets", "set_ups", "knife_moves", "used_t",
        "delivered_t", "trim_loss", "total_loss", "gap",
        set_ups="count", knife_moves="count",  # figures, though a bound stands behind them
    ),
    "jumbos": chosen(
        plan_tables.JUMBOS, "jumbo", "from", "width", "length", "start_loss", "sets", "wound",
        "butt_m", "end_loss", "carried_m",
    ),
    "orders": (
        TableColumn("order", 0, "text", lambda line: line.number),
        TableColumn("customer", 0, "text", lambda line: line.customer),
        TableColumn("size", 0, "text", said=plan_words.size_text),
        TableColumn("to_make", 0, "text", said=lambda line, units: plan_words.quantity_text(
            line.to_make, line, units)),
        TableColumn("planned", 0, "text", said=lambda line, units: plan_words.quantity_text(
            line.planned, line, units)),
        TableColumn("delivered_kg", 0, "kg", lambda line: line.delivered_kg),
        TableColumn("to_make_kg", 0, "kg", lambda line: line.ordered_kg),
        TableColumn("due", 0, "moment", lambda line: line.due),
        TableColumn("finished", 0, "moment", lambda line: None if line.lacking else line.finished),
        TableColumn("state", 0, "text", said=_state),
    ),
    "instructions": (
        TableColumn("instruction", 0, "text", said=lambda answer, units: (
            instruction_words.instruction_text(answer.instruction, units))),
        TableColumn("reply", 0, "text", said=lambda answer, units: (
            (str if answer.kept else Strong)(instruction_words.reply_text(answer, units)))),
    ),
    "loads": (
        TableColumn("load", 0, "strong", lambda load: str(load.number)),
        TableColumn("start", 0, "moment", lambda load: load.start),
        TableColumn("finish", 0, "moment", lambda load: load.finish),
        TableColumn("order", 0, "text", lambda load: load.order),
        TableColumn("reels", 0, "text", _stands),
        TableColumn("sets", 0, "names", lambda load: whole_names(
            dict.fromkeys(reel.stock or str(reel.set_number) for reel in load.reels))),
        TableColumn("width", 0, "mm", lambda load: load.width_mm),
        TableColumn("length", 0, "m", lambda load: load.length_m),
        TableColumn("ups", 0, "count", lambda load: load.ups),
        TableColumn("sheets", 0, "count", lambda load: load.sheets),
    ),
}  # fmt: skip

_SETS = (
    TableColumn("set", 0, "strong", lambda row: str(row.number)),
    TableColumn("jumbo_metres", 0, "text", said=plan_words.stretches_text),
    TableColumn("start", 0, "moment", lambda row: row.start),
)


def _reels_of(block: Block) -> tuple[TableColumn, ...]:
    """Columns of a block's reels: with cores and diameters where a set mixes them."""
    keys = ("reels", "width", "order", "customer", "for")
    more = ("core", "diameter") if plan_tables.has_mixed_cores(block) else ()
    return chosen(plan_tables.REELS, *keys, *more, diameter="diameter")


def _sets_of(block: Block) -> tuple[TableColumn, ...]:
    """Columns of a block's sets: with times where there are any."""
    return _SETS if any(each.start for each in block.sets) else _SETS[:2]


_WIDE = 1000
_DIGIT = 7.2  # width of a character at the size of the knife positions


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A block's set from above: strips from the front side, knives below with those that move.

    Lengths are in units of the drawing, `scale` of them to a millimetre.
    """

    strips: tuple[WebStrip, ...]
    knives: tuple[tuple[float, str, bool, int], ...]  # place, figure, moved, line of the figure
    scale: float
    words: str
    wide: int = _WIDE
    digit: float = _DIGIT


def drawing_of(block: Block, units: Units) -> Drawing:
    """Work out the drawing of a block's set."""
    strips = strips_of(block)
    scale = _WIDE / float(strips[-1].to_mm if strips else Fraction(1))
    places = [float(knife) * scale for knife in block.knives_mm]
    figures = [units.place(knife) for knife in block.knives_mm]
    halves = [(len(figure) * _DIGIT + 12) / 2 for figure in figures]
    levels = levels_of(
        [
            (max(at, half) - half, max(at, half) + half)
            for at, half in zip(places, halves, strict=True)
        ]
    )
    words = ", ".join(f"{units.said(strip.width_mm, 'mm')} {_kind(strip)}" for strip in strips)
    return Drawing(
        strips=strips,
        knives=tuple(zip(places, figures, block.knives_moved, levels, strict=True)),
        scale=scale,
        words=text("strip.from_front", strips=words),
    )


def _kind(strip: WebStrip) -> str:
    if strip.kind in ("edge", "broke"):
        return text("strip.edge" if strip.kind == "edge" else "strip.broke_reel")
    return text("strip.order", order=strip.order)
