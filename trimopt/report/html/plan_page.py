"""The plan as one page of HTML: no scripts, nothing fetched, readable in the dark and on paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from trimopt.plan.codec import write_whole
from trimopt.plan.model import Block, Load, OrderLine, Plan, Position, RunPlan
from trimopt.plan.reel_rows import cores_across
from trimopt.report.html.page_style import SHEET
from trimopt.report.html.pattern_svg import HATCHES, picture_svg
from trimopt.report.words.attention import CALLS, calls_of, count_text
from trimopt.report.words.instruction_words import (
    PRICE_NOTE,
    head_text,
    instruction_text,
    reply_text,
    together_text,
)
from trimopt.report.words.plan_words import (
    TRADE_OFF_NOTE,
    alike,
    answer_text,
    attention_first,
    bound_text,
    core_text,
    diameter_text,
    kind_word,
    loads_by_sheeter,
    loads_text,
    metres_text,
    metres_verdict,
    moment,
    moves_text,
    needs_attention,
    number,
    percent,
    quantity_text,
    sets_on,
    sets_text,
    settings_text,
    shift_text,
    short_moment,
    size_text,
    state_text,
    stretches_text,
    trade_off_rows,
    unused_texts,
    verdict,
)
from trimopt.text import for_page as _t

__all__ = ["page_html", "write_page"]

_PARTS = (
    ("Delivered in tolerance", "delivered_kg"),
    ("Surplus", "surplus_kg"),
    ("Edge trim", "edge_trim_kg"),
    ("Pattern trim", "pattern_trim_kg"),
    ("Sheeter trim and waste", "sheeter_kg"),
    ("Butts", "butts_kg"),
    ("Jumbo start and end", "start_end_kg"),
)


def write_page(plan: Plan, path: Path) -> None:
    """Write the page of `plan`, whole or not at all.

    Raises
    ------
    ReportError
        When the file cannot be written.
    """
    write_whole(path, page_html(plan))


def page_html(plan: Plan) -> str:
    """Give the page of `plan` as text."""
    title = f"Slitter plan {plan.number}"
    body = [
        HATCHES,
        _header(plan, title),
        _attention(plan),
        _overview(plan),
        *[_run(run) for run in plan.runs],
        _unused(plan),
        _sheeters(plan),
        _assumed(plan),
        f"<footer>{_t(plan.caution)}</footer>",
    ]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>{_t(title)}</title><style>{SHEET}</style></head>\n<body>\n"
        + "\n".join(body)
        + "\n</body></html>\n"
    )


def _header(plan: Plan, title: str) -> str:
    shift = shift_text(plan)
    shift = f"{shift[0].upper()}{shift[1:]}. " if shift else ""
    replaces = f"Replaces plan {plan.replaces}." if plan.replaces else "Replaces no earlier plan."
    return (
        f"<header><h1>{_t(title)}</h1><p>{_t(plan.mill_name)}, {_t(plan.winder)}. Made "
        f"{moment(plan.made_at)} from {_t(plan.book.name)}, as of {plan.as_of}, and "
        f"{_t(plan.mill.name)}. {_t(replaces)} {_t(shift)}Approved by: "
        f'<span class="sign">{_t(plan.approved_by)}</span></p></header>'
    )


def _table(headings: Sequence[str], rows: Iterable[Sequence[str]], figures: str) -> str:
    """Give a table of escaped cells; `figures` has a letter a column, n for a number."""
    head = "".join(
        f'<th scope="col"{_right(kind)}>{_t(h)}</th>'
        for h, kind in zip(headings, figures, strict=True)
    )
    lines = [
        "<tr>"
        + "".join(f"<td{_right(kind)}>{cell}</td>" for cell, kind in zip(row, figures, strict=True))
        + "</tr>"
        for row in rows
    ]
    whole = f"<thead><tr>{head}</tr></thead><tbody>{''.join(lines)}</tbody>"
    return f'<div class="wide"><table>{whole}</table></div>'


def _right(kind: str) -> str:
    return ' class="n"' if kind == "n" else ""


def _attention(plan: Plan) -> str:
    calls = calls_of(plan)
    if not calls:
        return (
            '<section class="attention none">Every order of the book is planned and met.</section>'
        )
    found = [
        f"<li><b>{_t(call.order)}</b> {_t(call.customer)}: <b>{_t(call.state)}</b>. "
        f"{_t(call.why)}</li>"
        for call in calls
    ]
    rest = ""
    if len(found) > CALLS:
        more = f"and {len(found) - CALLS} more"
        rest = f"<details><summary>{more}</summary><ul>{''.join(found[CALLS:])}</ul></details>"
    return (
        f'<section class="attention"><h2>{_t(count_text(calls))}</h2>'
        f"<ul>{''.join(found[:CALLS])}</ul>{rest}</section>"
    )


def _overview(plan: Plan) -> str:
    rows = []
    for run in plan.runs:
        balance = run.balance
        answer = answer_text(run)
        rows.append(
            (
                f"<b>{_t(run.name)}</b>",
                str(len(run.jumbos)),
                str(sum(len(block.sets) for block in run.blocks)),
                _t(bound_text(run.set_ups, run.set_ups_bound)),
                _t(bound_text(run.knife_moves, run.knife_moves_bound)),
                f"{balance.used_kg / 1000:,.2f}",
                f"{balance.delivered_kg / 1000:,.2f}",
                percent(balance.trim_loss),
                percent(balance.total_loss),
                f"<b>{answer}</b>" if answer == "optimal" else _t(answer),
            )
        )
    headings = (
        "Run", "Jumbos", "Sets", "Set-ups", "Knife moves", "Used t", "Delivered t", "Trim loss",
        "Total loss", "Answer",
    )  # fmt: skip
    return f"<section><h2>Runs</h2>{_table(headings, rows, 'tnnttnnnnt')}</section>"


def _run(run: RunPlan) -> str:
    trim = run.balance.edge_trim_kg + run.balance.pattern_trim_kg
    intro = (
        f"<p>Jumbo {number(run.jumbo_width_mm)} mm, deckle {number(run.deckle_mm)} mm. Trim loss "
        f"{percent(run.balance.trim_loss)}: {number(trim, 0)} of "
        f"{number(run.balance.wound_kg, 0)} kg of web wound; on the deckle "
        f"{percent(run.balance.trim_loss_deckle)}. Answer: {_t(verdict(run))}.{_metres(run)}</p>"
    )
    parts = [
        f'<section class="run"><h2>{_t(run.name)}</h2>',
        intro,
        *[f"<p>{_t(note)}</p>" for note in run.notes],
        _instructions(run),
        *[_block(run, block) for block in run.blocks],
        "<h3>Orders</h3>",
        _orders(run),
        _jumbos(run),
        "<h3>Where the paper goes</h3>",
        _balance(run),
        _trade_off(run),
        "</section>",
    ]
    return "\n".join(parts)


def _metres(run: RunPlan) -> str:
    said = metres_verdict(run) if run.blocks else ""
    return f" {_t(said[0].upper() + said[1:])}." if said else ""


def _instructions(run: RunPlan) -> str:
    """Every instruction with what became of it; nothing where nothing was asked."""
    if not run.instructions:
        return ""
    rows = [
        (
            _t(instruction_text(answer.instruction)),
            _t(reply_text(answer)) if answer.kept else f"<b>{_t(reply_text(answer))}</b>",
        )
        for answer in run.instructions
    ]
    price = f"<p>{_t(together_text(run.instructions_price))}.</p>" if run.instructions_price else ""
    table = _table(("Instruction", "What became of it"), rows, "tt")
    return f"<h3>{_t(head_text([run]))}</h3>{table}{price}<p>{_t(PRICE_NOTE)}</p>"


def _block(run: RunPlan, block: Block) -> str:
    customers = {line.number: line.customer for line in run.orders}
    mixed = len(cores_across(block)) > 1
    reels = _table(
        ("Reels", "Width mm", "Order", "Customer", "For", *_CORE_COLUMNS * mixed),
        [
            (
                str(count),
                number(position.width_mm),
                _t(position.order),
                _t(customers.get(position.order, "")),
                _t(kind_word(position)),
                *_on_core(run, block, position) * mixed,
            )
            for count, position in alike(block)
        ],
        "nnttt" + "nn" * mixed,
    )
    timed = any(each.start for each in block.sets)
    sets = _table(
        ("Set", "Jumbo and metres", "Start")[: 3 if timed else 2],
        [
            (f"<b>{each.number}</b>", _t(stretches_text(each)), short_moment(each.start))[
                : 3 if timed else 2
            ]
            for each in block.sets
        ],
        "nt" + "t" * timed,
    )
    change = "first pattern" if block.number == 1 else "set-up" if block.set_up else "no set-up"
    return (
        f"<article><h3>{block.number}. {len(block.sets)} × {metres_text(block)}"
        f" <small>{sets_text(block)}, {core_text(block)}, diameter "
        f"{diameter_text(run, block)}, edge trim front {number(block.edge_front_mm)}, back "
        f"{number(block.edge_back_mm)} mm, {change}, {moves_text(block)}</small></h3>"
        f"{picture_svg(block)}"
        f'<div class="two">{reels}{sets}</div></article>'
    )


_CORE_COLUMNS = ("Core mm", "Diameter mm")


def _on_core(run: RunPlan, block: Block, position: Position) -> tuple[str, str]:
    """Give core and diameter of a strip, for a set that mixes cores."""
    core_mm = position.core_mm
    size = diameter_text(run, block, core_mm).removesuffix(" mm")
    return "" if core_mm is None else number(core_mm), size


def _orders(run: RunPlan) -> str:
    headings = (
        "Order", "Customer", "Size", "Asked", "Planned", "Delivered kg", "Ordered kg", "Due",
        "Finished", "State",
    )  # fmt: skip
    return _table(headings, [_order(line) for line in attention_first(run)], "tttttnnttt")


def _order(line: OrderLine) -> tuple[str, ...]:
    state = _t(state_text(line))
    state = f"<b>{state}</b>" if needs_attention(line) else state
    if line.lacking:
        state += f", {_t(quantity_text(line.lacking, line.unit))} lacking"
    return (
        _t(line.number),
        _t(line.customer),
        _t(size_text(line)),
        _t(quantity_text(line.asked - line.made_before, line.unit)),
        _t(quantity_text(line.planned, line.unit)),
        number(line.delivered_kg, 0),
        number(line.ordered_kg, 0),
        short_moment(line.due),
        "" if line.lacking else short_moment(line.finished),
        state,
    )


def _jumbos(run: RunPlan) -> str:
    rows = [
        (
            f"<b>{_t(jumbo.name)}</b>",
            "nominal" if jumbo.nominal else "stock",
            number(jumbo.width_mm),
            number(jumbo.length_m),
            number(jumbo.loss_start_m),
            sets_on(run, jumbo.name),
            number(jumbo.wound_m),
            number(jumbo.butt_m),
            number(jumbo.loss_end_m),
            number(jumbo.carried_forward_m),
        )
        for jumbo in run.jumbos
    ]
    headings = (
        "Jumbo", "From", "Width mm", "Length m", "Start loss m", "Sets", "Wound m", "Butt m",
        "End loss m", "Carried forward m",
    )  # fmt: skip
    return f"<h3>Jumbos</h3>{_table(headings, rows, 'ttnnntnnnn')}" if rows else ""


def _unused(plan: Plan) -> str:
    rows = "".join(f"<li>{_t(said)}</li>" for said in unused_texts(plan))
    return f"<section><h2>Listed jumbos not used</h2><ul>{rows}</ul></section>" if rows else ""


def _balance(run: RunPlan) -> str:
    used = run.balance.used_kg
    rows = [("<b>Paper used</b>", f"<b>{number(used, 0)}</b>", "")]
    for name, field in _PARTS:
        mass: float = getattr(run.balance, field)
        rows.append((name, number(mass, 0), percent(mass / used if used else 0)))
    return _table(("Part", "Mass kg", "Share of paper used"), rows, "tnn")


def _trade_off(run: RunPlan) -> str:
    if not run.trade_off:
        return ""
    rows = [
        (
            str(point.patterns),
            number(lost_kg, 0),
            percent(trim_loss),
            "" if point.knife_moves is None else str(point.knife_moves),
            f"<b>{words}</b>" if point.chosen else words,
            number(point.loss_kg, 0),
            number(point.loss_bound_kg, 0),
        )
        for point, lost_kg, trim_loss, words in trade_off_rows(run)
    ]
    headings = (
        "Patterns",
        "Loss with butts kg",
        "Trim loss",
        "Knife moves",
        "Figures",
        "Across the width, before winding kg",
        "No less than kg",
    )
    return (
        f"<h3>What fewer set-ups cost in paper</h3><p>{TRADE_OFF_NOTE}</p>"
        f"{_table(headings, rows, 'nnnntnn')}"
    )


def _sheeters(plan: Plan) -> str:
    if not plan.loads:
        return ""
    headings = (
        "Load", "Start", "Finish", "Order", "Reels", "Sets", "Width mm", "Length m", "Ups",
        "Sheets",
    )  # fmt: skip
    parts = [
        f"<h3>{_t(name)} <small>{_t(loads_text(loads))}</small></h3>"
        + _table(headings, [_load(load) for load in loads], "ntttttnnnn")
        for name, loads in loads_by_sheeter(plan)
    ]
    return (
        "<section><h2>Sheeters: reels unwound together</h2>"
        "<p>Reels of a load are of one order and width and match in length. A part load "
        "has fewer reels than stands, for want of others that match; it is run like the rest.</p>"
        f"{''.join(parts)}</section>"
    )


def _load(load: Load) -> tuple[str, ...]:
    reels = f"{len(load.reels)} of {load.stands}"
    return (
        f"<b>{load.number}</b>",
        short_moment(load.start),
        short_moment(load.finish),
        _t(load.order),
        f"<b>{reels}, part load</b>" if load.part else reels,
        ", ".join(map(str, dict.fromkeys(reel.set_number for reel in load.reels))),
        number(load.width_mm),
        number(load.length_m),
        str(load.ups),
        number(load.sheets),
    )


def _assumed(plan: Plan) -> str:
    pairs = [f"<li>{_t(name)}: {_t(value)}</li>" for name, value in settings_text(plan)]
    pairs += [f"<li>{_t(note)}</li>" for note in plan.notes]
    return f"<section><h2>Settings and notes</h2><ul>{''.join(pairs)}</ul></section>"
