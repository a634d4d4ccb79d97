"""The trend's workbook: figures side by side, periods, what carried the trim, the raw rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from trimopt.errors import types_checked
from trimopt.ledger.trend_model import Carrier, Trend, TrendLine
from trimopt.report.table_columns import TableColumn, Value
from trimopt.report.words.texts import text
from trimopt.report.words.trend_words import (
    CAUSES,
    against_rows,
    asked_text,
    measured_text,
    missed_text,
    rules,
    side_rows,
)
from trimopt.report.words.units import METRIC
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, header_text

if TYPE_CHECKING:
    from xlsxwriter.chart import Chart

ROWS = "Rows"
"""Title of the sheet of raw rows; it is the last."""
MAX_CHART = 120
"""Periods on a chart; of more, the months are drawn."""
_MAX_PARETO = 30
_MAX_ORDERS = 300
"""Orders that are listed; those that carried less stand together in the last row."""


@types_checked
def trend_workbook(trend: Trend) -> bytes:
    """Give the workbook of a trend as a file's bytes."""
    book = Workbook(METRIC)
    _add_front(book, trend)
    _add_periods(book, trend)
    _add_groups(book, trend)
    _add_against(book, trend)
    _add_carriers(book, trend)
    _add_culled(book, trend)
    _add_rules(book, trend)
    _add_rows(book, trend)
    book.book.set_properties({"title": text("trend.title")})
    return book.saved()


def _sheet(book: Workbook, trend: Trend, title: str, *, wide: bool = True) -> SheetWriter:
    sheet = book.add(title)
    head = (
        header_text(f"{text('trend.front')} · {title}", 60),
        header_text(", ".join(trend.mills), 60),
        text("plan.page"),
    )
    sheet.paper(wide=wide, head=head, foot="", foot_pt=7)
    return sheet


def _line(sheet: SheetWriter, row: int, words: str, style: str, *, height: float = 18) -> None:
    sheet.span(row, (1, 5), words, style)
    sheet.height(row, height)


def _add_front(book: Workbook, trend: Trend) -> None:
    """Add the first sheet: what it is of, the figures side by side."""
    sheet = _sheet(book, trend, text("trend.front"))
    sheet.sheet.fit_to_pages(1, 1)
    names = ("sides_planned", "sides_planned_of_run", "sides_run")
    columns = [
        TableColumn("", 40, "strong"),
        *(TableColumn("", 17, "t", heading=text(f"trend.{name}")) for name in names),
        TableColumn("what", 58, "text"),
    ]
    sheet.columns(columns)
    replaced = text(
        "trend.replaced", plans=trend.plans, replaced=trend.replaced_plans,
        sets=trend.replaced_sets,
    )  # fmt: skip
    _line(sheet, 1, text("trend.title"), "title", height=30)
    for row, words in enumerate((asked_text(trend), measured_text(trend), replaced), start=2):
        _line(sheet, row, words, "line")
    _line(sheet, 5, text("trend.target", missed=missed_text(trend)), "strong", height=34)
    sheet.headings(7, columns)
    whole = trend.whole
    rows = side_rows((whole.planned, whole.planned_of_run, whole.run))
    for row, (words, values, kind, note) in enumerate(rows, start=8):
        strong = "" if words.startswith(" ") else "strong"
        sheet.put((row, 1), words, "text", strong or "text")
        for column, value in enumerate(values, start=2):
            style = "strong number" if kind == "share" else "number"
            sheet.put((row, column), value, _KINDS.get(kind, kind), style)
        sheet.put((row, 5), note, "text", "text")
        sheet.height(row, 18)
    sheet.frozen(8, 2, repeat=(7, 7))


_KINDS = {"rate": "t", "count": "kg"}  # decimals: two, none


def _of_sides(key: str, name: str, kind: str, width: float = 11) -> list[TableColumn]:
    """Columns of a figure as planned and as run; of a ratio its share, of kilograms tonnes."""

    def value(line: TrendLine, side: str) -> Value:
        figure = getattr(getattr(line, side), name)
        if kind == "share":
            return figure.share  # type: ignore[no-any-return]
        if kind == "t":
            return figure / 1000  # type: ignore[no-any-return]
        return None if figure is None else round(figure, 2)

    return [
        TableColumn("", width, kind, lambda line, side=side: value(line, side),  # type: ignore[misc]
                    heading=text(f"trend.{side}_of", what=text(key)))
        for side in ("planned", "run")
    ]  # fmt: skip


def _missed(line: TrendLine) -> str:
    sides = (("planned", line.planned_missed), ("run", line.run_missed))
    return ", ".join(text(f"trend.{side}") for side, missed in sides if missed)


def _period_columns(trend: Trend, word: str) -> list[TableColumn]:
    """Columns of a table of lines; the causes of loss stand side by side, planned before run."""
    target = None if trend.target_percent is None else trend.target_percent / 100
    causes = [_of_sides(f"balance.{name}", name, "t") for name in CAUSES]
    return [
        TableColumn("", 19, "strong", lambda line: line.label, heading=word.capitalize()),
        *_of_sides("trend.trim_loss", "trim_loss", "share"),
        TableColumn("", 11, "share", lambda _: target, heading=text("trend.target_column")),
        TableColumn("", 13, "text", _missed, heading=text("trend.missed_column")),
        *_of_sides("trend.of_deckle", "trim_loss_deckle", "share"),
        *_of_sides("trend.net", "trim_loss_net", "share"),
        *_of_sides("trend.total_loss", "total_loss", "share"),
        *_of_sides("trend.used", "used_kg", "t"),
        *_of_sides("trend.delivered", "delivered_kg", "t"),
        *[planned for planned, _ in causes],
        *[run for _, run in causes],
        *_of_sides("trend.set_ups_100_t", "set_ups_100_t", "min", 10),
        *_of_sides("trend.knife_moves_100_t", "knife_moves_100_t", "min", 10),
        *_of_sides("trend.minutes", "minutes", "min", 10),
        TableColumn("", 10, "min", lambda line: line.run.minutes_stopped,
                    heading=text("trend.minutes_stopped")),
        *_of_sides("trend.sets", "sets", "count", 9),
        TableColumn("", 11, "share", lambda line: line.bound_share,
                    heading=text("trend.bound_column")),
    ]  # fmt: skip


_TOTAL_LOSS = 10  # columns of that table: total loss as planned
_CAUSES = 16  # the first cause as planned
_BOUND = _CAUSES + 2 * len(CAUSES) + 9  # lower bound of total loss: the last


def _lines_table(
    sheet: SheetWriter, row: int, trend: Trend, lines: Sequence[TrendLine], word: str
) -> int:
    columns = _period_columns(trend, word)
    if row == 1:
        sheet.columns(columns)
        sheet.frozen(2, 2)
        sheet.sheet.repeat_columns(0, 0)
        sheet.sheet.fit_to_pages(3, 0)
    return sheet.table(row, columns, lines)


def _add_periods(book: Workbook, trend: Trend) -> None:
    """Add a row a period, and the charts of the losses and of loss by cause."""
    charts = _sheet(book, trend, text("trend.charts"))
    charts.sheet.fit_to_pages(1, 1)
    source = _sheet(book, trend, text("trend.periods"))
    last, by = _lines_table(source, 1, trend, trend.lines, trend.by) - 1, trend.by
    if len(trend.lines) > MAX_CHART:
        source, by = _sheet(book, trend, text("trend.months_sheet")), "month"
        last = _lines_table(source, 1, trend, trend.months, by) - 1
    lines = [
        (2, "planned", "solid", "circle"),
        (3, "run", "solid", "diamond"),
        (_TOTAL_LOSS, "planned", "square_dot", "none"),
        (_TOTAL_LOSS + 1, "run", "square_dot", "none"),
        (_BOUND, "target", "round_dot", "none"),
    ]
    if trend.target_percent is not None:
        lines.append((4, "target", "dash", "none"))
    _loss_chart(charts, source, last=last, lines=lines, by=by)
    run = bool(trend.whole.run.sets)
    _cause_chart(charts, source, last=last, run=run, by=by)


def _add_groups(book: Workbook, trend: Trend) -> None:
    """Add the same figures by grade and by winder."""
    sheet = _sheet(book, trend, text("trend.groups"))
    after = _lines_table(sheet, 1, trend, trend.grades, "grade")
    _lines_table(sheet, after + 1, trend, trend.winders, "winder")


def _add_against(book: Workbook, trend: Trend) -> None:
    """Add the steps from the lower bound to the loss, planned and as run."""
    sheet = _sheet(book, trend, text("trend.against"), wide=False)
    columns = (
        TableColumn("step", 62, "text", lambda row: row[0]),
        TableColumn("mass_t", 14, "t", lambda row: row[1] / 1000),
        TableColumn("share", 14, "share", lambda row: row[3]),
    )
    sheet.columns(columns)
    row = 1
    for key, against, run in (
        ("all_planned", trend.against_planned, None),
        ("were_run", trend.against_run, trend.whole.run),
    ):
        if not against.used_kg:
            continue
        sheet.section(row, text(f"trend.{key}"), 3)
        steps = [(*step, step[1] / against.used_kg) for step in against_rows(against, run)]
        strong = [index for index, step in enumerate(steps) if step[2]]
        row = sheet.table(row + 1, columns, steps, strong=strong) + 1


_CARRIED = (
    TableColumn("trim_kg_planned", 13, "kg", lambda each: each.planned_kg),
    TableColumn("trim_kg_run", 13, "kg", lambda each: each.run_kg),
    TableColumn("share_of_planned", 11, "share", lambda each: each.share),
    TableColumn("share_so_far", 11, "share", lambda each: each.cumulative),
    TableColumn("reels", 10, "count", lambda each: each.reels),
    TableColumn("reels_kg", 13, "kg", lambda each: each.reels_kg),
    TableColumn("trim_per_kg", 12, "share",
                lambda each: each.planned_kg / each.reels_kg if each.reels_kg else None),
)  # fmt: skip
_BY_WIDTH = (TableColumn("width", 12, "mm", lambda each: each.width_mm), *_CARRIED)
_BY_ORDER = (
    TableColumn("order", 24, "strong", lambda each: each.order),
    TableColumn("customer", 26, "text", lambda each: each.customer),
    *_CARRIED,
)


def _add_carriers(book: Workbook, trend: Trend) -> None:
    """Add which widths and which orders carried the pattern trim, with a Pareto of the widths."""
    for title, columns, carriers in (
        ("widths", _BY_WIDTH, trend.widths),
        ("orders", _BY_ORDER, _most(trend.orders)),
    ):
        sheet = _sheet(book, trend, text(f"trend.{title}"))
        sheet.listing(columns, carriers, 0)
        if columns is _BY_WIDTH and carriers:
            _pareto_chart(sheet, last=1 + min(len(carriers), _MAX_PARETO))


def _most(carriers: Sequence[Carrier]) -> Sequence[Carrier]:
    """Give the orders that are listed; the others are summed up in one more."""
    rest = carriers[_MAX_ORDERS:]
    if not rest:
        return carriers
    sums = {
        name: sum(getattr(each, name) for each in rest)
        for name in ("reels", "reels_kg", "planned_kg", "planned_of_run_kg", "run_kg", "share")
    }
    name = text("trend.more_orders", count=len(rest))
    together = replace(rest[-1], width_mm=None, order=name, customer="", **sums)
    return [*carriers[:_MAX_ORDERS], together]


_CULLED = (
    TableColumn("reason", 34, "strong", lambda each: each.reason),
    TableColumn("mass", 14, "kg", lambda each: each.culled_kg),
    TableColumn("reels", 10, "count", lambda each: each.reels),
    TableColumn("sets", 10, "count", lambda each: each.sets),
)


def _add_culled(book: Workbook, trend: Trend) -> None:
    """Add the reels lost in running, by reason, where there are any."""
    if trend.culled:
        sheet = _sheet(book, trend, text("trend.culled"), wide=False)
        sheet.columns(_CULLED)
        sheet.table(1, _CULLED, trend.culled)


def _add_rules(book: Workbook, trend: Trend) -> None:
    sheet = _sheet(book, trend, text("trend.rules"), wide=False)
    columns = (TableColumn("rule", 100, "text", str),)
    sheet.widths([100])
    sheet.table(1, columns, [*rules(), text("trend.ledger", ledger=trend.ledger)])


def _add_rows(book: Workbook, trend: Trend) -> None:
    """Add the raw rows; a None or a 0 is left blank, which a sum does not mind."""
    sheet = book.add(ROWS)
    count = len(trend.row_headings)
    sheet.widths([13] * count)
    for column, heading in enumerate(trend.row_headings, start=1):
        sheet.put((1, column), heading, "text", "heading")
    sheet.height(1, 62)
    for at, row in enumerate(trend.rows, start=2):
        for column, value in enumerate(row, start=1):
            if value:
                sheet.raw((at, column), value)
    sheet.sheet.freeze_panes(1, 0)
    sheet.sheet.autofilter(0, 0, len(trend.rows), count - 1)


# Charts are native ones, so that they follow the cells when those change. Lines differ by dash and
# marker, stacks by lightness, so that a black and white print can be read.
_PLANNED, _RUN, _TARGET = "#1F4E79", "#C55A11", "#1C1C1C"
_STACK = (
    "#1F4E79", "#9DC3E6", "#548235", "#C5E0B4", "#7F6000", "#FFD966", "#A6A6A6", "#3B3838",
    "#F4B183",
)  # fmt: skip
_ALONE = ("square", "triangle", "x", "plus")  # of lines that are dots: of one period only
_SIZE = {"width": 983, "height": 340}  # pixels


def _range(data: SheetWriter, column: int, last: int) -> list[object]:
    """Cells of a column below its heading in row 1; columns from 1."""
    return [data.title, 1, column - 1, last - 1, column - 1]


def _series(data: SheetWriter, column: int, last: int, **look: object) -> dict[str, object]:
    return {
        "name": [data.title, 0, column - 1],
        "categories": _range(data, 1, last),
        "values": _range(data, column, last),
        **look,
    }


def _loss_chart(
    sheet: SheetWriter,
    data: SheetWriter,
    *,
    last: int,
    lines: Sequence[tuple[int, str, str, str]],
    by: str,
) -> None:
    """Add the losses by period: trim loss planned, run, lower bound and target; total loss.

    `lines` are columns of `data`, each with its colour ("planned", "run", "target"), its dash and
    its marker. Where there is one period alone, a line has a marker, or nothing would be seen.
    """
    alone = iter(_ALONE)
    inks = {"planned": _PLANNED, "run": _RUN, "target": _TARGET}
    chart = sheet.book.book.add_chart({"type": "line"})
    for column, side, dash, marker in lines:
        ink = inks[side]
        drawn = next(alone) if last == 2 and marker == "none" else marker  # headings, one period
        dot = {"type": drawn, "size": 5, "fill": {"color": ink}, "border": {"color": ink}}
        chart.add_series(
            _series(
                data, column, last,
                line={"color": ink, "dash_type": dash, "width": 1.75},
                marker={"type": "none"} if drawn == "none" else dot,
            )
        )  # fmt: skip
    _shown(
        sheet, chart, "A1", title=text("trend.loss_chart", by=by), across=by,
        up=text("trend.trim_axis"), shown="0.0%",
    )  # fmt: skip


def _cause_chart(sheet: SheetWriter, data: SheetWriter, *, last: int, run: bool, by: str) -> None:
    """Add the loss by cause, stacked: as run, or as planned."""
    first = _CAUSES + (len(CAUSES) if run else 0)
    chart = sheet.book.book.add_chart({"type": "column", "subtype": "stacked"})
    for at in range(len(CAUSES)):
        look = {"fill": {"color": _STACK[at]}, "border": {"color": "#FFFFFF"}, "gap": 40}
        chart.add_series(_series(data, first + at, last, **look))
    title = text("trend.cause_chart_run" if run else "trend.cause_chart_planned", by=by)
    _shown(sheet, chart, "A20", title=title, across=by, up=text("trend.loss_axis"), shown="#,##0")


def _pareto_chart(sheet: SheetWriter, *, last: int) -> None:
    """Add the Pareto: pattern trim of each width, and what all down to it carried."""
    bars = sheet.book.book.add_chart({"type": "column"})
    bars.add_series(_series(sheet, 2, last, fill={"color": _PLANNED}, gap=30))
    line = sheet.book.book.add_chart({"type": "line"})
    line.add_series(
        _series(
            sheet, 5, last, y2_axis=True, line={"color": _RUN},
            marker={"type": "diamond", "size": 5, "fill": {"color": _RUN}},
        )
    )  # fmt: skip
    line.set_y2_axis({"name": text("trend.so_far"), "num_format": "0%", "min": 0, "max": 1})
    bars.combine(line)
    # Two charts share the axis across, and its title would stand twice.
    _shown(
        sheet, bars, "J1", title=text("trend.pareto"), across="", up=text("trend.pareto_axis"),
        shown="#,##0",
    )  # fmt: skip


def _shown(
    sheet: SheetWriter, chart: Chart, place: str, *, title: str, across: str, up: str, shown: str
) -> None:
    chart.set_title({"name": title, "name_font": {"size": 12}})
    chart.set_x_axis({"name": across, "label_position": "low"})
    chart.set_y_axis({"name": up, "num_format": shown, "min": 0})
    chart.set_legend({"position": "bottom"})
    chart.set_size(_SIZE)
    sheet.sheet.insert_chart(place, chart)
