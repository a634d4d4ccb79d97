"""Sheets of figures for a run: mass balance, trade-off, timetable, and what the plan rests on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from trimopt.plan.model import Block, Plan, RunPlan, SetRow
from trimopt.plan.proof_data import SetLength
from trimopt.plan.states import OrderState
from trimopt.report.plan_tables import BALANCE, TRADE_OFF, balance_rows, part_names, trade_points
from trimopt.report.table_columns import RUN_WIDTH, TableColumn
from trimopt.report.words.plan_words import mass_on, settings_text
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units
from trimopt.report.xlsx.styles import INK
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, add_sheet


def add_balance(book: Workbook, plan: Plan) -> None:
    """Add the mass balance of every run: what went in, and where all of it went."""
    sheet = add_sheet(book, plan, text("sheet.balance"), wide=False)
    sheet.columns(BALANCE)
    sheet.title_line(text("balance.heading"))
    row = 2
    for run in plan.runs:
        sheet.section(row, run.name, 3)
        strong = (0, len(balance_rows(run)))
        row = sheet.table(row + 1, BALANCE, _balance_rows(run, book.units), strong=strong)
    sheet.frozen(2, 1)


def _balance_rows(run: RunPlan, units: Units) -> list[tuple[str, float, float | None]]:
    balance = run.balance
    went = sum(getattr(balance, name) for name in part_names(run)[1:]) + balance.stock_used_kg
    rows = balance_rows(
        run,
        (text("balance.sum"), went),
        (text("balance.broke_in_trim"), balance.broke_kg),
        (text("balance.wound"), balance.wound_kg),
        (text("balance.deckle"), balance.deckle_kg),
    )
    carried = [jumbo for jumbo in run.jumbos if jumbo.carried_forward_m]
    if carried:
        metres = sum(jumbo.carried_forward_m for jumbo in carried)
        mass = sum(mass_on(run, jumbo, jumbo.carried_forward_m) for jumbo in carried)
        said = units.said(metres, "m")
        rows.append((text("balance.carried", length=said), mass, None))
    return rows


_CHARTS_A_PAGE, _TRADE_OFF_SCALE = 2, 66  # A4 landscape: per cent, table and chart side by side


def add_trade_off(book: Workbook, plan: Plan) -> None:
    """Add the least loss for each number of patterns, as table and chart, where a run has it."""
    runs = [run for run in plan.runs if trade_points(run)]
    if not runs:
        return
    sheet = add_sheet(book, plan, text("sheet.trade_off"), wide=True)
    sheet.columns(TRADE_OFF)
    sheet.title_line(text("trade_off.heading"))
    sheet.note(2, text("trade_off.note"), TRADE_OFF)
    row, breaks = 3, []
    for place, run in enumerate(runs):
        if place and place % _CHARTS_A_PAGE == 0:
            breaks.append(row - 1)
        sheet.section(row, run.name, len(TRADE_OFF))
        points = trade_points(run)
        strong = [index for index, point in enumerate(points) if point.chosen]
        after = sheet.table(row + 1, TRADE_OFF, points, strong=strong)
        for index in strong:
            sheet.put((row + 2 + index, 5), text("trade_off.chosen_mark"), "text", "strong")
        _chart(sheet, row + 1, [point.patterns for point in points])
        row = max(after, row + 18) + 1
    sheet.sheet.set_print_scale(_TRADE_OFF_SCALE)  # a sheet fitted to the page has no breaks
    sheet.sheet.set_h_pagebreaks(breaks)
    sheet.frozen(2, 1)


def _chart(sheet: SheetWriter, head: int, counts: Sequence[int]) -> None:
    last = head + len(counts) - 1
    chart = sheet.book.book.add_chart({"type": "scatter", "subtype": "straight_with_markers"})
    for column, symbol, dash in ((1, "circle", "solid"), (3, "triangle", "dash")):
        chart.add_series(
            {
                "name": [sheet.title, head - 1, column],
                "categories": [sheet.title, head, 0, last, 0],
                "values": [sheet.title, head, column, last, column],
                "line": {"color": INK, "dash_type": dash, "width": 1.5},
                "marker": {
                    "type": symbol, "size": 8, "fill": {"color": INK}, "border": {"color": INK},
                },
            }
        )  # fmt: skip
    # The run stands above the table: a name in a title could be taken for a formula.
    chart.set_title({"name": text("trade_off.chart"), "name_font": {"size": 12}})
    few = {"major_unit": 1} if max(counts) - min(counts) <= 20 else {}
    chart.set_x_axis({"name": text("trade_off.patterns"), "num_format": "0", **few})
    loss = text("trade_off.loss", unit=sheet.book.units.sign("kg"))
    chart.set_y_axis({"name": loss, "num_format": "#,##0"})
    chart.set_legend({"position": "bottom"})
    chart.set_size({"width": 640, "height": 320})
    sheet.sheet.insert_chart(head - 1, 8, chart)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Timed:
    """A set in its block and run, with the orders that it finishes."""

    run: RunPlan
    block: Block
    row: SetRow
    finishes: str

    @property
    def before(self) -> str:
        """What is done before a block's first set."""
        block = self.block
        if self.row is not block.sets[0]:
            return ""
        parts = [text("block.set_up")] if block.set_up and block.number > 1 else []
        if block.knife_moves:
            parts.append(text("block.moves", count=block.knife_moves))
        return ", ".join(parts)


_TIMETABLE = (
    TableColumn("run", RUN_WIDTH, "text", lambda each: each.run.name),
    TableColumn("set", 6, "count", lambda each: each.row.number),
    TableColumn("block", 9, "count", lambda each: each.block.number),
    TableColumn("jumbo", 12, "text", lambda each: " + ".join(each.row.jumbos)),
    TableColumn("start", 20, "time", lambda each: each.row.start),
    TableColumn("finish", 20, "time", lambda each: each.row.finish),
    TableColumn("minutes", 9, "min", lambda each: each.row.minutes),
    TableColumn("before", 22, "text", lambda each: each.before),
    TableColumn("finishes", 22, "text", lambda each: each.finishes),
)


def add_timetable(book: Workbook, plan: Plan) -> None:
    """Add start and finish of every set, where the plan has times."""
    timed = [run for run in plan.runs if any(s.start for s in run.sets)]
    if not timed:
        return
    sheet = add_sheet(book, plan, text("sheet.timetable"), wide=False)
    sheet.listing(_TIMETABLE, [row for run in timed for row in _timed(run)], 0)


def _timed(run: RunPlan) -> list[_Timed]:
    ends: dict[int | None, list[str]] = defaultdict(list)
    for line in run.orders:
        if line.lacking:
            continue  # short or carried over: its last set here does not finish it
        late = text("order.late_mark") if OrderState.LATE in line.states else ""
        ends[line.last_set].append(line.number + late)
    return [
        _Timed(run=run, block=block, row=row, finishes=", ".join(ends[row.number]))
        for block, row in run.sets_in_blocks
    ]


def add_basis(book: Workbook, plan: Plan) -> None:
    """Add what was asked, what was taken for granted, and what the bounds were taken over."""
    sheet = add_sheet(book, plan, text("plan.basis"), wide=False)
    columns = (
        TableColumn("setting", 48, "text", lambda row: row[0]),
        TableColumn("value", 52, "text", lambda row: row[1]),
    )
    rows = [
        (text("basis.order_file"), f"{plan.book.name}\nsha256 {plan.book.fingerprint[:24]}…"),
        (text("basis.mill_file"), f"{plan.mill.name}\nsha256 {plan.mill.fingerprint[:24]}…"),
        (text("basis.as_of"), plan.as_of.isoformat()),
        *settings_text(plan, book.units),
    ]
    rows += [(text("basis.left_out", order=each.order), each.why) for each in plan.left_out]
    rows += [(text("basis.note"), note) for note in plan.notes]
    for run in plan.runs:
        caliper = book.units.said(run.wound_caliper_um, "um", 1)
        rows.append((text("basis.caliper", run=run.name), caliper))
        classes = "\n".join(_class_text(each, book.units) for each in run.set_lengths)
        rows.append((text("basis.set_lengths", run=run.name), classes))
        rows += [(text("basis.run_note", run=run.name), note) for note in run.notes]
    sheet.listing(columns, rows, 0)


def _class_text(each: SetLength, units: Units) -> str:
    key = "basis.mixed_core" if each.core_mm is None else "basis.on_core"
    core = "" if each.core_mm is None else units.said(each.core_mm, "core")
    size = text(key, core=core, diameter=units.said(each.diameter_mm, "diameter"))
    return text("basis.class", length=units.said(each.length_m, "m"), size=size)
