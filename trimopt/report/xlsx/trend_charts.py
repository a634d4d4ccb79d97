"""Charts of the trend's workbook: native ones, so that they follow the cells when those change.

Lines differ by dash and marker, stacks by lightness, so that a black and white print can be read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.chart.shapes import GraphicalProperties

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["loss_chart", "pareto_chart", "stack_chart"]

_PLANNED, _RUN, _TARGET = "1F4E79", "C55A11", "1C1C1C"
_STACK = ("1F4E79", "9DC3E6", "548235", "C5E0B4", "7F6000", "FFD966", "A6A6A6")
_WIDE_CM, _TALL_CM = 26, 9


def loss_chart(
    sheet: Worksheet, data: Worksheet, place: str, *, head: int, last: int, target: bool, by: str
) -> None:
    """Add the line of trim loss, planned and run, with the target where there is one.

    The columns of `data` from the first: period, planned, run, target.
    """
    chart = LineChart()
    chart.title = f"Trim loss of full web width by {by}"
    _axes(chart, by, "trim loss", "0.0%")
    columns = [(2, _PLANNED, "solid", "circle"), (3, _RUN, "solid", "diamond")]
    columns += [(4, _TARGET, "dash", "none")] * target
    for column, ink, dash, marker in columns:
        values = Reference(data, min_col=column, min_row=head, max_row=last)
        chart.add_data(values, titles_from_data=True)
        series = chart.series[-1]
        series.smooth = False
        series.graphicalProperties.line.solidFill = ink
        series.graphicalProperties.line.dashStyle = dash
        series.graphicalProperties.line.width = 22_000
        series.marker.symbol = marker
        if marker != "none":
            series.marker.size = 5
            series.marker.graphicalProperties = GraphicalProperties(solidFill=ink)
            series.marker.graphicalProperties.line.solidFill = ink
    chart.set_categories(Reference(data, min_col=1, min_row=head + 1, max_row=last))
    _put(sheet, chart, place)


def stack_chart(
    sheet: Worksheet, data: Worksheet, place: str, *, head: int, last: int, first: int, causes: int,
    side: str, by: str,
) -> None:  # fmt: skip
    """Add the loss by cause, stacked; its columns of `data` stand side by side from `first` on."""
    chart = BarChart()
    chart.type, chart.grouping, chart.overlap, chart.gapWidth = "col", "stacked", 100, 40
    chart.title = f"Loss by cause and {by}, {side}, t"
    _axes(chart, by, "loss t", "#,##0")
    for offset in range(causes):
        values = Reference(data, min_col=first + offset, min_row=head, max_row=last)
        chart.add_data(values, titles_from_data=True)
        chart.series[-1].graphicalProperties.solidFill = _STACK[offset % len(_STACK)]
        chart.series[-1].graphicalProperties.line.solidFill = "FFFFFF"
    chart.set_categories(Reference(data, min_col=1, min_row=head + 1, max_row=last))
    _put(sheet, chart, place)


def pareto_chart(
    sheet: Worksheet, place: str, *, head: int, last: int, mass: int, cumulative: int, what: str
) -> None:
    """Add the Pareto: pattern trim of each width or order, and what all down to it carried."""
    bars = BarChart()
    bars.type, bars.gapWidth = "col", 30
    bars.title = f"Pattern trim by {what}, the most first"
    _axes(bars, what, "pattern trim kg", "#,##0")
    bars.x_axis.title = None  # two charts share the axis, and its title would stand twice
    bars.add_data(Reference(sheet, min_col=mass, min_row=head, max_row=last), titles_from_data=True)
    bars.series[0].graphicalProperties.solidFill = _PLANNED
    categories = Reference(sheet, min_col=1, min_row=head + 1, max_row=last)
    bars.set_categories(categories)
    line = LineChart()
    line.add_data(
        Reference(sheet, min_col=cumulative, min_row=head, max_row=last), titles_from_data=True
    )
    line.set_categories(categories)
    series = line.series[0]
    series.smooth = False
    series.graphicalProperties.line.solidFill = _RUN
    series.marker.symbol, series.marker.size = "diamond", 5
    series.marker.graphicalProperties = GraphicalProperties(solidFill=_RUN)
    line.y_axis.axId = 200
    line.y_axis.title = "share so far"
    line.y_axis.number_format = "0%"
    line.y_axis.scaling.min, line.y_axis.scaling.max = 0, 1
    line.y_axis.crosses = "max"
    line.y_axis.majorGridlines = None
    line.y_axis.delete = False
    bars += line
    _put(sheet, bars, place)


def _axes(chart: BarChart | LineChart, across: str, up: str, number_format: str) -> None:
    chart.x_axis.title, chart.y_axis.title = across, up
    # Without this a chart made outside the spreadsheet program comes out with no axes.
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.tickLblPos = "low"
    chart.y_axis.number_format = number_format
    chart.y_axis.scaling.min = 0
    assert chart.legend is not None
    chart.legend.position = "b"


def _put(sheet: Worksheet, chart: BarChart | LineChart, place: str) -> None:
    chart.width, chart.height = _WIDE_CM, _TALL_CM
    sheet.add_chart(chart, place)
