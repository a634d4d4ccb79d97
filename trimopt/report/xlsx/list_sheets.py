"""Lists to work from: changes, jumbos, reels, cores to cut, sheeters' work and loads, orders."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from trimopt.mill.model import Mill
from trimopt.plan.difference import PlanDifference
from trimopt.plan.model import OrderLine, Plan
from trimopt.plan.reel_rows import cores_to_cut, reels_of, sheeter_list
from trimopt.plan.sheeter_load import Load
from trimopt.report.plan_tables import (
    CHANGES,
    JUMBO_DEFECTS,
    JUMBOS,
    REEL_LIST,
    STOCK,
    WAYS_OUT,
    jumbos_of,
    stock_of,
    ways_count,
    ways_head,
    ways_of,
)
from trimopt.report.table_columns import RUN_WIDTH, TableColumn, whole_names
from trimopt.report.words.plan_words import (
    attention_first,
    loads_by_sheeter,
    loads_text,
    needs_attention,
    size_text,
    state_text,
    unused_texts,
    why_text,
    written_text,
)
from trimopt.report.words.replan_words import all_change_lines, figure_rows
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, add_sheet


def add_changes(book: Workbook, plan: Plan, difference: PlanDifference) -> None:
    """Add the figures of the difference, and a line for each other thing that it says."""
    sheet = add_sheet(book, plan, text("sheet.changes"), wide=False)
    sheet.columns(CHANGES)
    sheet.title_line(text("replan.changes", number=difference.before))
    row = sheet.table(2, CHANGES, figure_rows(difference, book.units))
    for at, line in enumerate(all_change_lines(plan, difference), start=row + 1):
        sheet.note(at, line, CHANGES)


def add_jumbos(book: Workbook, plan: Plan) -> None:
    """Add one row a jumbo, in the order in which they are unwound, and those not used."""
    sheet = add_sheet(book, plan, text("plan.jumbos"), wide=True)
    sheet.columns(JUMBOS)
    rows = jumbos_of(*plan.runs)
    flawed = any(jumbo.defects for _, jumbo in rows)
    row = sheet.table(1, (*JUMBOS, *JUMBO_DEFECTS) if flawed else JUMBOS, rows) + 1
    said = unused_texts(plan, book.units)
    for at, words in enumerate([text("plan.unused"), *said] if said else [], start=row):
        sheet.span(at, (1, len(JUMBOS)), words, "section" if at == row else "text")
    sheet.frozen(2, 3)


_CORES = (
    TableColumn("run", RUN_WIDTH, "text", lambda row: row[0]),
    TableColumn("core_inside", 14, "core", lambda row: row[1].core_mm),
    TableColumn("core_cut", 14, "mm", lambda row: row[1].width_mm),
    TableColumn("pieces", 12, "count", lambda row: row[1].pieces),
    TableColumn("for_broke", 16, "count", lambda row: row[1].for_broke or None),
    TableColumn("done", 6, "text"),
)

_SHEETERS = (
    TableColumn("sheeter", 15, "strong", lambda row: row[1].sheeter),
    TableColumn("run", RUN_WIDTH, "text", lambda row: row[0]),
    TableColumn("order", 12, "text", lambda row: row[1].order),
    TableColumn("customer", 22, "text", lambda row: row[1].customer),
    TableColumn("reels", 8, "count", lambda row: row[1].reels),
    TableColumn("reel_width", 11, "mm", lambda row: row[1].reel_width_mm),
    TableColumn(
        "reel_length",
        16,
        "text",
        unit="m",
        said=lambda row, units: ", ".join(units.bare(length, "m") for length in row[1].lengths_m),
    ),
    TableColumn("ups", 6, "count", lambda row: row[1].ups),
    TableColumn("across_mm", 10, "mm", lambda row: row[1].across_mm),
    TableColumn("chop", 10, "mm", lambda row: row[1].chop_mm),
    TableColumn("edge_trim_side", 11, "mm", lambda row: row[1].edge_trim_mm),
    TableColumn("sheets", 10, "count", lambda row: row[1].sheets),
    TableColumn("reams", 9, "count", lambda row: row[1].reams),
    TableColumn("kg_in", 9, "kg", lambda row: row[1].kg_in),
    TableColumn("kg_out", 9, "kg", lambda row: row[1].kg_out),
)


def add_reels(book: Workbook, plan: Plan) -> None:
    """Add one row a reel, in order of making."""
    reels = [reel for run in plan.runs for reel in reels_of(run)]
    _list(add_sheet(book, plan, text("sheet.reels"), wide=True), REEL_LIST, reels)


def add_cores(book: Workbook, plan: Plan) -> None:
    """Add the cores to cut, by run, inside diameter and length."""
    cores = [(run.name, core) for run in plan.runs for core in cores_to_cut(run)]
    _list(add_sheet(book, plan, text("sheet.cores"), wide=False), _CORES, cores)


def add_stock(book: Workbook, plan: Plan) -> None:
    """Add the reels that the warehouse brings from stock, where there are any."""
    if plan.stock_used:
        _list(add_sheet(book, plan, text("sheet.stock"), wide=True), STOCK, stock_of(plan))


def add_ways_out(book: Workbook, plan: Plan) -> None:
    """Add what would help each run above the target, where that was asked."""
    if not plan.ways_out:
        return
    sheet = add_sheet(book, plan, text("sheet.ways_out"), wide=True)
    sheet.columns(WAYS_OUT)
    last = len(WAYS_OUT)
    sheet.title_line(text("plan.ways_out"))
    sheet.note(2, text("plan.ways_out_note"), WAYS_OUT)
    row = 3
    for each in plan.ways_out:
        sheet.section(row, f"{ways_head(each)}; {ways_count(each)}", last)
        row = sheet.table(row + 1, WAYS_OUT, ways_of(each))


def add_sheeters(book: Workbook, plan: Plan, mill: Mill) -> None:
    """Add the sheeters' work list, sheeter by sheeter, where there is any."""
    work = [(run.name, row) for run in plan.runs for row in sheeter_list(run, mill)]
    work.sort(key=lambda pair: pair[1].sheeter)
    if work:
        _list(add_sheet(book, plan, text("plan.sheeters"), wide=True), _SHEETERS, work)


def _list(sheet: SheetWriter, columns: Sequence[TableColumn], subjects: Sequence[object]) -> None:
    sheet.listing(columns, subjects, 1)
    sheet.sheet.autofilter(0, 0, 0, len(columns) - 1)


def _stands_text(load: Load) -> str:
    said = text("load.on_stands", reels=len(load.reels), stands=load.stands)
    return said + (text("load.part_mark") if load.part else "")


def add_loads(book: Workbook, plan: Plan) -> None:
    """Add the loads of every sheeter in the order in which it takes them, where there are any."""
    lines = {(run.name, line.number): line for run in plan.runs for line in run.orders}
    # A load of no order of the plan is for the check to say; a list of work holds what can be done.
    known = [load for load in plan.loads if (load.run, load.order) in lines]
    if not known:
        return
    names = {
        (run.name, reel.set_number, reel.position): reel.identity
        for run in plan.runs
        for reel in reels_of(run)
    }

    def reels_text(load: Load) -> str:
        own = (each.stock or names[load.run, each.set_number, each.position] for each in load.reels)
        return whole_names(own, "   ")

    # Narrow columns, so that the page need not be shrunk until nobody can read it.
    columns = (
        TableColumn("sheeter", 13, "strong", lambda load: load.sheeter),
        TableColumn("load", 6, "count", lambda load: load.number),
        TableColumn("start", 13, "moment", lambda load: load.start),
        TableColumn("finish", 13, "moment", lambda load: load.finish),
        TableColumn("wound_by", 13, "moment", lambda load: load.ready),
        TableColumn("order", 10, "strong", lambda load: load.order),
        TableColumn("customer", 16, "text", lambda load: lines[load.run, load.order].customer),
        TableColumn("run", 24, "text", lambda load: load.run),
        TableColumn("reel_width", 8, "mm", lambda load: load.width_mm),
        TableColumn("length", 8, "m", lambda load: load.length_m),
        TableColumn("ups", 5, "count", lambda load: load.ups),
        TableColumn("chop", 7, "mm", lambda load: lines[load.run, load.order].chop_mm),
        TableColumn("sheets", 9, "count", lambda load: load.sheets),
        TableColumn("on_stands", 12, "text", _stands_text),
        TableColumn("which_reels", 26, "text", reels_text),
        TableColumn("done", 4, "text"),
    )  # fmt: skip
    sheet = add_sheet(book, plan, text("sheet.loads"), wide=True)
    sheet.columns(columns)
    row = 1
    for name, loads in loads_by_sheeter(plan):
        sheet.span(row, (1, len(columns)), f"{name}: {loads_text(loads)}", "section")
        sheet.height(row, 24)
        row += 1
    sheet.table(row, columns, known)
    sheet.frozen(row + 1, 3, repeat=(row, row))


def _allowed_text(line: OrderLine, units: Units) -> str:
    low, high = (units.bare(value, line.unit, 1) for value in line.allowed)
    return text("order.just", quantity=low) if low == high else f"{low}–{high}"


def _remarks(line: OrderLine) -> str:
    remarks = [why_text(line), line.remarks, line.packing, line.winding_side, line.destination]
    if line.as_written and line.held_until is None:
        remarks.append(text("order.in_book", written=written_text(line)))
    return "; ".join(remark for remark in remarks if remark)


def _quantity(key: str, width: float, of: Callable[[OrderLine], Fraction]) -> TableColumn:
    """A quantity in the unit of its order, which stands in a column of its own."""
    return TableColumn(
        key, width, "count", said=lambda line, units: units.cell(of(line), line.unit)[0]
    )


_ORDERS = (
    TableColumn("order", 13, "strong", lambda line: line.number),
    TableColumn("customer", 22, "text", lambda line: line.customer),
    TableColumn("size", 17, "text", said=size_text),
    TableColumn("unit", 8, "text", said=lambda line, units: units.sign(line.unit)),
    _quantity("ordered", 9, lambda line: line.asked),
    _quantity("made_before", 9, lambda line: line.made_before),
    _quantity("from_stock", 9, lambda line: line.from_stock),
    TableColumn("allowed", 17, "text", said=_allowed_text),
    _quantity("planned", 10, lambda line: line.planned),
    _quantity("difference", 11, lambda line: line.planned - line.to_make),
    TableColumn("to_make_kg", 9, "kg", lambda line: line.ordered_kg),
    TableColumn("delivered_kg", 10, "kg", lambda line: line.delivered_kg),
    TableColumn("surplus_kg", 9, "kg", lambda line: line.surplus_kg),
    TableColumn("due", 15, "moment", lambda line: line.due),
    # A part of an order is not the order.
    TableColumn("finished", 15, "moment", lambda line: None if line.lacking else line.finished),
    TableColumn("state", 14, "text", lambda line: (
        state_text(line).upper() if needs_attention(line) else state_text(line))),
    TableColumn("why", 32, "text", _remarks),
)  # fmt: skip
"""Quantities are in the order's unit; the difference is planned less what was still ordered."""


def add_orders(book: Workbook, plan: Plan) -> None:
    """Add the orders run by run, in each those first that need attention."""
    sheet = add_sheet(book, plan, text("plan.orders"), wide=True)
    sheet.columns(_ORDERS)
    last = len(_ORDERS)
    sheet.title_line(text("plan.orders"))
    row = 2
    for each in plan.left_out:
        sheet.put((row, 1), each.order, "text", "strong")
        sheet.span(row, (2, last), text("order.left_out", why=each.why), "strong")
        sheet.height(row, 20)
        row += 1
    for run in plan.runs:
        sheet.section(row, run.name, last)
        lines = attention_first(run)
        strong = [index for index, line in enumerate(lines) if needs_attention(line)]
        row = sheet.table(row + 1, _ORDERS, lines, strong=strong)
    sheet.frozen(2, 2)
