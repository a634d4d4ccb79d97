"""Charts of the trend's workbook: native ones, so that they follow the cells when those change.

Lines differ by dash and marker, stacks by lightness, so that a black and white print can be read.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trimopt.report.words.texts import text
from trimopt.report.xlsx.workbook_writer import SheetWriter

if TYPE_CHECKING:
    from xlsxwriter.chart import Chart

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


def loss_chart(
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


def cause_chart(
    sheet: SheetWriter, data: SheetWriter, *, last: int, first: int, causes: int, run: bool, by: str
) -> None:
    """Add the loss by cause, stacked; its columns of `data` stand side by side from `first` on."""
    chart = sheet.book.book.add_chart({"type": "column", "subtype": "stacked"})
    for offset in range(causes):
        fill = {"color": _STACK[offset]}
        chart.add_series(
            _series(
                data, first + offset, last, fill=fill, border={"color": "#FFFFFF"}, gap=40
            )
        )  # fmt: skip
    title = text("trend.cause_chart_run" if run else "trend.cause_chart_planned", by=by)
    _shown(sheet, chart, "A20", title=title, across=by, up=text("trend.loss_axis"), shown="#,##0")


def pareto_chart(sheet: SheetWriter, *, last: int, mass: int, cumulative: int) -> None:
    """Add the Pareto: pattern trim of each width, and what all down to it carried."""
    bars = sheet.book.book.add_chart({"type": "column"})
    bars.add_series(_series(sheet, mass, last, fill={"color": _PLANNED}, gap=30))
    line = sheet.book.book.add_chart({"type": "line"})
    line.add_series(
        _series(
            sheet, cumulative, last, y2_axis=True, line={"color": _RUN},
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
