"""Sheets of figures for a run: mass balance, trade-off, timetable, and what was assumed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.chart.axis import NumericAxis
from openpyxl.chart.shapes import GraphicalProperties

from trimopt.plan.model import Block, Plan, RunPlan
from trimopt.plan.states import OrderState
from trimopt.report.words.plan_words import (
    TRADE_OFF_NOTE,
    metres_verdict,
    settings_text,
    trade_off_rows,
    verdict,
)
from trimopt.report.xlsx.sheet_setup import Column, new_sheet, set_widths, table
from trimopt.report.xlsx.styles import INK, Value, merge, put
from trimopt.report.xlsx.summary_sheet import PARTS, parts_kg
from trimopt.text import for_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["add_assumed", "add_balance", "add_timetable", "add_trade_off"]


def _section(sheet: Worksheet, row: int, text: str, last: int) -> None:
    put(sheet, (row, 1), text, "text", "plan section")
    merge(sheet, row, 1, last)
    sheet.row_dimensions[row].height = 26


def add_balance(book: Workbook, plan: Plan) -> None:
    """Add the mass balance of every run: what went in, and where all of it went."""
    sheet = new_sheet(book, plan, "Balance", wide=False)
    columns = (
        Column(heading="Part", width=44),
        Column(heading="Mass kg", width=16, kind="kg"),
        Column(heading="Share of paper used", width=16, kind="share"),
    )
    set_widths(sheet, columns)
    put(sheet, (1, 1), "Mass balance", "text", "plan title")
    sheet.row_dimensions[1].height = 30
    row = 2
    for run in plan.runs:
        _section(sheet, row, run.name, 3)
        row = table(sheet, row + 1, columns, _balance_rows(run), strong=(0, 8))
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"


def _balance_rows(run: RunPlan) -> list[tuple[Value, ...]]:
    masses = parts_kg(run.balance)
    used = masses[0]

    def share(mass_kg: float) -> float:
        return mass_kg / used if used else 0.0

    rows: list[tuple[Value, ...]] = [
        (name, mass, share(mass)) for name, mass in zip(PARTS, masses, strict=True)
    ]
    parts = sum(masses[1:])
    rows.append(("Sum of the parts", parts, share(parts)))
    broke = run.balance.broke_kg
    rows.append(("Broke reels, in pattern trim", broke, share(broke)))
    rows.append(("Web wound, full width", run.balance.wound_kg, share(run.balance.wound_kg)))
    rows.append(("Web wound, deckle width", run.balance.deckle_kg, share(run.balance.deckle_kg)))
    carried = sum(jumbo.carried_forward_m for jumbo in run.jumbos)
    if carried:
        mass = float(run.jumbo_width_mm) * carried * run.grammage_gsm / 1e6
        rows.append((f"Carried forward, {carried:,} m of jumbo, not used", mass, None))
    return rows


def add_trade_off(book: Workbook, plan: Plan) -> None:
    """Add the least loss for each number of patterns, as table and chart, where a run has it."""
    runs = [run for run in plan.runs if run.trade_off]
    if not runs:
        return
    sheet = new_sheet(book, plan, "Trade-off", wide=True)
    columns = (
        Column(heading="Patterns", width=11, kind="count"),
        Column(heading="Loss with butts kg", width=12, kind="kg"),
        Column(heading="Trim loss", width=11, kind="share"),
        Column(heading="Knife moves", width=11, kind="count"),
        Column(heading="Figures", width=22, kind="text"),
        Column(heading="Across the width, before winding kg", width=18, kind="kg"),
        Column(heading="No less than kg", width=12, kind="kg"),
    )
    set_widths(sheet, columns)
    put(sheet, (1, 1), "What fewer set-ups cost in paper", "text", "plan title")
    sheet.row_dimensions[1].height = 30
    put(sheet, (2, 1), TRADE_OFF_NOTE, "text", "plan note")
    merge(sheet, 2, 1, 7)
    sheet.row_dimensions[2].height = 30
    row = 3
    for run in runs:
        _section(sheet, row, run.name, 7)
        points = trade_off_rows(run)
        rows: list[tuple[Value, ...]] = [
            (
                point.patterns,
                lost_kg,
                trim_loss,
                point.knife_moves,
                f"◄ {words}" if point.chosen else words,
                point.loss_kg,
                point.loss_bound_kg,
            )
            for point, lost_kg, trim_loss, words in points
        ]
        strong = [index for index, (point, *_) in enumerate(points) if point.chosen]
        after = table(sheet, row + 1, columns, rows, strong=strong)
        _chart(sheet, row + 1, [point.patterns for point, *_ in points], run.name)
        row = max(after, row + 19) + 1
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"


def _chart(sheet: Worksheet, head: int, counts: Sequence[int], name: str) -> None:
    last = head + len(counts)
    chart = ScatterChart()
    chart.title = for_workbook(f"Loss by number of patterns: {name}")
    chart.x_axis.title, chart.y_axis.title = "patterns", "loss kg"
    # Without this a chart made outside the spreadsheet program comes out with no axes.
    chart.x_axis.delete = chart.y_axis.delete = False
    assert isinstance(chart.x_axis, NumericAxis)
    assert chart.legend is not None
    if max(counts) - min(counts) <= 20:
        chart.x_axis.majorUnit = 1
    chart.x_axis.number_format = "0"
    chart.y_axis.number_format = "#,##0"
    chart.legend.position = "b"
    across = Reference(sheet, min_col=1, min_row=head + 1, max_row=last)
    for column, symbol, dash in ((2, "circle", "solid"), (4, "triangle", "dash")):
        values = Reference(sheet, min_col=column, min_row=head, max_row=last)
        series = Series(values, across, title_from_data=True)
        series.marker.symbol, series.marker.size = symbol, 8
        series.marker.graphicalProperties = GraphicalProperties(solidFill=INK)
        series.graphicalProperties.line.solidFill = INK
        series.graphicalProperties.line.dashStyle = dash
        series.smooth = False
        chart.series.append(series)
    chart.width, chart.height = 17, 8.5
    sheet.add_chart(chart, f"I{head}")


def add_timetable(book: Workbook, plan: Plan) -> None:
    """Add start and finish of every set, where the plan has times."""
    timed = [run for run in plan.runs if any(s.start for b in run.blocks for s in b.sets)]
    if not timed:
        return
    sheet = new_sheet(book, plan, "Timetable", wide=False)
    columns = (
        Column(heading="Run", width=28),
        Column(heading="Set", width=6, kind="count"),
        Column(heading="Block", width=9, kind="count"),
        Column(heading="Jumbo", width=12),
        Column(heading="Start", width=20, kind="time"),
        Column(heading="Finish", width=20, kind="time"),
        Column(heading="Minutes", width=9, kind="min"),
        Column(heading="Before it", width=22),
        Column(heading="Finishes order", width=22),
    )
    set_widths(sheet, columns)
    rows = [row for run in timed for row in _timetable_rows(run)]
    table(sheet, 1, columns, rows)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"


def _timetable_rows(run: RunPlan) -> Iterator[tuple[Value, ...]]:
    ends: dict[int | None, list[str]] = defaultdict(list)
    for line in run.orders:
        if line.lacking:
            continue  # short or carried over: its last set here does not finish it
        ends[line.last_set].append(line.number + " LATE" * (OrderState.LATE in line.states))
    for block in run.blocks:
        for index, each in enumerate(block.sets):
            minutes = None
            if each.start and each.finish:
                minutes = (each.finish - each.start).total_seconds() / 60
            yield (
                run.name,
                each.number,
                block.number,
                " + ".join(stretch.jumbo for stretch in each.stretches),
                each.start,
                each.finish,
                minutes,
                _before(block) if index == 0 else "",
                ", ".join(ends[each.number]),
            )


def _before(block: Block) -> str:
    """Say what is done before a block's first set."""
    parts = ["set-up"] if block.set_up and block.number > 1 else []
    if block.knife_moves:
        parts.append(f"{block.knife_moves} knife move" + ("s" if block.knife_moves > 1 else ""))
    return ", ".join(parts)


def add_assumed(book: Workbook, plan: Plan) -> None:
    """Add what was told, what was assumed, and what the bounds were taken over."""
    sheet = new_sheet(book, plan, "Assumed", wide=False)
    columns = (Column(heading="What", width=48), Column(heading="Value", width=52))
    set_widths(sheet, columns)
    rows: list[tuple[Value, ...]] = [
        ("Order book", f"{plan.book.name}\nsha256 {plan.book.fingerprint[:24]}…"),
        ("Mill file", f"{plan.mill.name}\nsha256 {plan.mill.fingerprint[:24]}…"),
        ("Judged at", plan.as_of.isoformat()),
        *settings_text(plan),
    ]
    rows += [("Left out: " + each.order, each.why) for each in plan.left_out]
    rows += [("Note", note) for note in plan.notes]
    for run in plan.runs:
        rows.append((f"{run.name}: caliper on the reel", f"{run.wound_caliper_um:,.1f} µm"))
        rows.append((f"{run.name}: answer", verdict(run)))
        rows.append((f"{run.name}: along the jumbo", metres_verdict(run)))
        classes = "\n".join(
            f"{each.length_m:,} m, "
            + (
                f"mixed cores, diameter at most {each.diameter_mm:,.0f} mm"
                if each.core_mm is None
                else f"core {each.core_mm:g} mm, diameter {each.diameter_mm:,.0f} mm"
            )
            for each in run.set_lengths
        )
        rows.append((f"{run.name}: set lengths that the bound is over", classes))
        rows += [(f"{run.name}: note", note) for note in run.notes]
    table(sheet, 1, columns, rows)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
