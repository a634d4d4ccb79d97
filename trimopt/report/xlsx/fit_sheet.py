"""The sheets "Fit" and "Fit widths" of a plan's workbook: sales types a width and reads its cost.

Look-up formulas and a native chart, no macros. The curves come in as plain rows (`FitCurve`), so
that nothing here knows how they were found.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.worksheet.datavalidation import DataValidation

from trimopt.report.words.fit_words import ESTIMATE
from trimopt.report.xlsx.sheet_setup import Column, heading_row, new_sheet, set_widths
from trimopt.report.xlsx.styles import INK, RULE, put

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from trimopt.mill.model import Mill
    from trimopt.plan.model import Plan

__all__ = ["DATA", "TITLE", "FitCurve", "add_fit"]

TITLE = "Fit"
DATA = "Fit widths"

#: Run, and rows of (width mm, reel: use, core mm, set m, sheet so wide: use, ups).
FitCurve = tuple[
    str,
    tuple[tuple[Fraction, float | None, float | None, int | None, float | None, int | None], ...],
]

_NEAR = 40  # steps on either side in which the best neighbours are looked up
_FIGURES = ("use of a reel t/t", "core mm", "set m", "use of sheets t/t", "ups")
_FIRST = 5  # column of the first run's figures on the data sheet
_HEAD = 2  # heading rows there
_ASK_RUN, _ASK_WIDTH = "B4", "B5"
_LIST = 19  # row of the first run's name on the sheet; the drop-down shows them
_NOTE = (
    "Tonnes of extra paper for a tonne delivered, as the run stands in this plan: near 0 where the "
    "width drops into trim that is lost anyway, 1 where it just pays for itself. Diameter and core "
    f"are left free. Each figure is {ESTIMATE}. The command trimopt fit puts the enquiry into the "
    "run, says what is proven, and looks at hours and paper."
)


def add_fit(book: Workbook, plan: Plan, mill: Mill, curves: Sequence[FitCurve]) -> None:
    """Add both sheets; none where there is no curve.

    Parameters
    ----------
    curves
        One a run, widths in equal steps.
    """
    kept = [curve for curve in curves if curve[1]]
    if not kept:
        return
    sheet = new_sheet(book, plan, TITLE, wide=True)
    data = new_sheet(book, plan, DATA, wide=True)
    # It is looked up, not read: thousands of rows that nobody wants to print.
    data.sheet_state = "hidden"
    widths = sorted({row[0] for _, rows in kept for row in rows})
    _fill_data(data, kept, widths)
    _fill_sheet(sheet, data, mill, [name for name, _ in kept], widths)


def _fill_data(data: Worksheet, curves: Sequence[FitCurve], widths: Sequence[Fraction]) -> None:
    last = len(curves) * len(_FIGURES) + _FIRST - 1
    columns = [
        Column(heading="width mm", width=10, kind="mm"),
        Column(heading="chosen run, t/t", width=12),
        Column(heading="", width=3),
        Column(heading="", width=3),
        *[Column(heading=name, width=10) for _ in curves for name in _FIGURES],
    ]
    set_widths(data, columns)
    for k, (name, _) in enumerate(curves):
        put(data, (1, _FIRST + k * len(_FIGURES)), name, "text", "plan strong")
    heading_row(data, _HEAD, columns)
    by_width = [{row[0]: row[1:] for row in rows} for _, rows in curves]
    end = get_column_letter(last)
    begin = get_column_letter(_FIRST)
    place = f"({quote_sheetname(TITLE)}!$F$4-1)*{len(_FIGURES)}"
    for index, width in enumerate(widths):
        at = _HEAD + 1 + index
        figure = float(width)
        data.cell(at, 1, int(figure) if figure.is_integer() else figure)
        found = f"INDEX(${begin}{at}:${end}{at},1,{place}+1)"
        # A chart leaves out what is not there.
        data[f"B{at}"] = f'=IF({found}="",NA(),{found})'
        for k, rows in enumerate(by_width):
            for offset, value in enumerate(rows.get(width, ())):
                if value is not None:
                    data.cell(at, _FIRST + k * len(_FIGURES) + offset, value)
    data.freeze_panes = f"B{_HEAD + 1}"


def _fill_sheet(
    sheet: Worksheet, data: Worksheet, mill: Mill, names: Sequence[str], widths: Sequence[Fraction]
) -> None:
    set_widths(sheet, [Column(heading="", width=w) for w in (46, 34, 14, 3, 34, 12, 12, 12)])
    put(sheet, (1, 1), "Does this width fit, and what does it cost in paper?", "text", "plan title")
    put(sheet, (2, 1), _NOTE, "text", "plan note")
    sheet.merge_cells("A2:H2")
    for row, height in ((2, 44), (4, 22), (5, 22)):
        sheet.row_dimensions[row].height = height
    low, high = float(widths[0]), float(widths[-1])
    step = widths[1] - widths[0] if len(widths) > 1 else Fraction(1)
    listed = f"$A${_LIST}:$A${_LIST + len(names) - 1}"
    for row, label in ((4, "Run (choose)"), (5, "Width in mm (type)")):
        put(sheet, (row, 1), label, "text", "plan strong")
    put(sheet, (4, 2), names[0], "text", "plan entry")
    put(sheet, (5, 2), widths[len(widths) // 4], "mm", "plan entry")
    put(sheet, (_LIST - 1, 1), "Runs of this plan", "text", "plan heading")
    for k, name in enumerate(names):
        put(sheet, (_LIST + k, 1), name, "text", "plan text")
    runs = DataValidation(type="list", formula1=listed, allow_blank=False)
    wide = DataValidation(
        type="decimal", operator="between", formula1=f"{low:.10g}", formula2=f"{high:.10g}"
    )
    runs.error, wide.error = "Choose a run of the list.", f"A width from {low:g} to {high:g} mm."
    for rule, asked in ((runs, _ASK_RUN), (wide, _ASK_WIDTH)):
        rule.showErrorMessage = True
        sheet.add_data_validation(rule)
        rule.add(asked)
    for row, label, formula in (
        (4, "Place of the run in the list", f"=MATCH($B$4,{listed},0)"),
        (5, "Row of the width, to the nearest step",
         f"=ROUND(($B$5-{low:.10g})/{float(step):.10g},0)+1"),
    ):  # fmt: skip
        put(sheet, (row, 5), label, "text", "plan label")
        put(sheet, (row, 6), None, "count", "plan number").value = formula

    look = _Look(runs=len(names), rows=len(widths))
    put(sheet, (5, 3), None, "text", "plan note").value = look.shown_for()
    stations = min(mill.winder.max_reels, mill.winder.knives - 1)
    deckle = f"{float(mill.deckle_mm):.10g}"
    lines = (
        ("As a reel: extra paper, t per t (estimate)", look.value(1), "0.000"),
        ("   lowest on core, mm", look.value(2), "General"),
        ("   in sets of, m", look.value(3), "#,##0"),
        ("   reels across the deckle alone", f"=MIN({stations},INT({deckle}/$B$5))", "0"),
        ("   trim left alone, mm", f"={deckle}-$B$9*$B$5", "#,##0.###"),
        ("As a sheet's dimension across: the same (estimate)", look.value(4), "0.000"),
        ("   best with ups", look.value(5), "0"),
    )
    for row, (label, formula, shown) in enumerate(lines, start=6):
        strong = not label.startswith(" ")
        put(sheet, (row, 1), label, "text", "plan strong" if strong else "plan text")
        cell = put(sheet, (row, 2), None, "text", "plan strong number")
        cell.value, cell.number_format = formula, shown
    for column, heading in enumerate(("Lowest estimates nearby", "mm", "t per t"), start=1):
        put(sheet, (14, column), heading, "text", "plan heading")
    for row, label, start, stop in (
        (15, f"narrower, by {_NEAR} steps at most", f"MAX(1,$F$5-{_NEAR})", "MAX(1,$F$5-1)"),
        (16, f"wider, by {_NEAR} steps at most",
         f"MIN({len(widths)},$F$5+1)", f"MIN({len(widths)},$F$5+{_NEAR})"),
    ):  # fmt: skip
        put(sheet, (row, 1), label, "text", "plan text")
        least, where = look.least(start, stop)
        for column, formula, shown in ((2, where, "#,##0.###"), (3, least, "0.000")):
            cell = put(sheet, (row, column), None, "text", "plan strong number")
            cell.value, cell.number_format = formula, shown
    _chart(sheet, data, widths)


class _Look:
    """Formulas that look the chosen run and width up on the data sheet."""

    def __init__(self, *, runs: int, rows: int) -> None:
        there = quote_sheetname(DATA)
        first, last = _HEAD + 1, _HEAD + rows
        begin = get_column_letter(_FIRST)
        end = get_column_letter(_FIRST + runs * len(_FIGURES) - 1)
        self.table = f"{there}!${begin}${first}:${end}${last}"
        self.widths = f"{there}!$A${first}:$A${last}"

    def _column(self, offset: int) -> str:
        return f"($F$4-1)*{len(_FIGURES)}+{offset}"

    def value(self, offset: int) -> str:
        """One figure of the width."""
        found = f"INDEX({self.table},$F$5,{self._column(offset)})"
        return f'=IFERROR(IF({found}="","cannot be made",{found}),"no such width")'

    def shown_for(self) -> str:
        """Which width the figures are for, where it is not the one typed."""
        step = f"INDEX({self.widths},$F$5)"
        words = f'"the figures are for "&{step}&" mm, the nearest step"'
        return f'=IFERROR(IF(ABS({step}-$B$5)<0.000001,"",{words}),"no such width")'

    def least(self, start: str, stop: str) -> tuple[str, str]:
        """The least use of a reel in some rows, and its width."""
        column = self._column(1)
        span = f"INDEX({self.table},{start},{column}):INDEX({self.table},{stop},{column})"
        least = f'=IFERROR(IF(COUNT({span})=0,"none",MIN({span})),"none")'
        place = f"MATCH(MIN({span}),{span},0)"
        found = f"INDEX({self.widths},{start}+{place}-1)"
        where = f'=IFERROR(IF(COUNT({span})=0,"none",{found}),"none")'
        return least, where


def _chart(sheet: Worksheet, data: Worksheet, widths: Sequence[Fraction]) -> None:
    chart = ScatterChart()
    chart.title = "Extra paper by width (estimate), chosen run"
    chart.style = 2
    chart.x_axis.title, chart.y_axis.title = "width, mm", "t of extra paper per t"
    # The library leaves the axes out of sight unless told otherwise.
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.number_format, chart.y_axis.number_format = "#,##0", "0.00"
    assert chart.legend is not None
    chart.legend.position = "b"
    chart.width, chart.height = 19, 9.5
    first, last = _HEAD + 1, _HEAD + len(widths)
    across = Reference(data, min_col=1, min_row=first, max_row=last)
    line = Series(Reference(data, min_col=2, min_row=first, max_row=last), across, title="reels")
    line.graphicalProperties.line.solidFill = RULE
    line.graphicalProperties.line.width = 15_000
    line.marker.symbol = "none"
    line.smooth = False
    here = Series(
        Reference(sheet, min_col=2, min_row=6, max_row=6),
        Reference(sheet, min_col=2, min_row=5, max_row=5),
        title="the width typed",
    )
    here.marker.symbol, here.marker.size = "diamond", 14
    here.marker.graphicalProperties.solidFill = INK
    here.graphicalProperties.line.noFill = True
    chart.series += [line, here]
    chart.x_axis.scaling.min = float(widths[0])
    chart.x_axis.scaling.max = float(widths[-1])
    sheet.add_chart(chart, "E7")
