"""The sheets "Fit" and "Fit widths" of a plan's workbook: sales types a width and reads its cost.

Look-up formulas and a native chart, no macros. The curves come in as plain rows (`FitCurve`), so
that nothing here knows how they were found. What only helps the formulas stands on the second
sheet, which is hidden.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from xlsxwriter.utility import quote_sheetname, xl_range_abs

from trimopt.report.table_columns import TableColumn
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units
from trimopt.report.xlsx.styles import FRACTION, INK, RULE
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, add_sheet

if TYPE_CHECKING:
    from trimopt.mill.model import Mill
    from trimopt.plan.model import Plan

#: Run, and rows of (width mm, reel: use, core mm, set m, sheet so wide: use, ups).
_Rows = tuple[
    tuple[Fraction, float | None, float | None, int | None, float | None, int | None], ...
]
FitCurve = tuple[str, _Rows]

_NEAR = 40  # steps on either side in which the best neighbours are looked up
_FIGURES = (
    ("use", "use"), ("core", "core"), ("set", "m"), ("sheet_use", "use"), ("ups", "count"),
)  # fmt: skip
"""What is known of a width in each run, and its kind."""
_FIRST = 5  # column of the first run's figures on the data sheet
_HEAD = 2  # heading rows there
_LIST = 19  # row of the first run's name on the sheet; the drop-down shows them
_RUN, _WIDTH = "$B$4", "$B$5"  # what is asked
_ALONE = "$B$9"  # reels across the deckle on its own
_PLACE, _ROW = "$C$1", "$D$1"  # of the run and of the width, on the data sheet


def add_fit(book: Workbook, plan: Plan, mill: Mill, curves: Sequence[FitCurve]) -> None:
    """Add both sheets; none where there is no curve.

    Parameters
    ----------
    curves
        One a run, widths in equal steps.
    """
    kept = [(name, _shown(rows, book.units)) for name, rows in curves if rows]
    if not kept:
        return
    sheet = add_sheet(book, plan, text("fit.sheet"), wide=True)
    data = add_sheet(book, plan, text("fit.data_sheet"), wide=True)
    # It is looked up, not read: thousands of rows that nobody wants to print.
    data.sheet.hide()
    widths = sorted({row[0] for _, rows in kept for row in rows})
    look = _Lookups(
        own=quote_sheetname(sheet.title),
        data=quote_sheetname(data.title),
        runs=len(kept),
        widths=widths,
        units=book.units,
        curve=kept[0],
    )
    _fill_data(data, kept, look)
    _fill_sheet(sheet, mill, [name for name, _ in kept], look)
    _chart(sheet, data, look)


def _shown(rows: _Rows, units: Units) -> _Rows:
    """The rows of a curve in the units of the sheet."""
    return tuple(
        (
            Fraction(units.cell(width, "mm")[0]),
            use,
            None if core is None else float(units.cell(core, "core")[0]),
            None if length is None else round(units.cell(length, "m")[0]),
            sheet_use,
            ups,
        )
        for width, use, core, length, sheet_use, ups in rows
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lookups:
    """Formulas that look the chosen run and width up on the data sheet."""

    own: str
    data: str
    runs: int
    widths: Sequence[Fraction]  # in the sheet's unit, as in the curve
    units: Units
    curve: FitCurve  # of the run that is shown at first

    @property
    def kind(self) -> str:
        """The kind of a width that is in the sheet's unit already."""
        return self.units.cell(self.widths[0], "mm")[1]

    @property
    def shape(self) -> str:
        """The number format of a width that is reckoned on the sheet."""
        return "#,##0.###" if self.units.written.metric else FRACTION

    @property
    def rows(self) -> int:
        return len(self.widths)

    @property
    def first(self) -> int:
        """Which width is shown at first, from 0."""
        return self.rows // 4

    @property
    def _widths(self) -> str:
        return f"{self.data}!{xl_range_abs(_HEAD, 0, _HEAD + self.rows - 1, 0)}"

    @property
    def row(self) -> str:
        return f"{self.data}!{_ROW}"

    def _cell(self, rows: str, figure: int) -> str:
        last = _FIRST + self.runs * len(_FIGURES) - 2
        table = xl_range_abs(_HEAD, _FIRST - 1, _HEAD + self.rows - 1, last)
        column = f"({self.data}!{_PLACE}-1)*{len(_FIGURES)}+{figure}"
        return f"INDEX({self.data}!{table},{rows},{column})"

    def value(self, figure: int) -> tuple[str, str | float | None]:
        """One figure of the width, and what it is at first."""
        found = self._cell(self.row, figure)
        cannot, none = text("fit.cannot"), text("fit.no_width")
        rows = {row[0]: row for row in self.curve[1]}
        row = rows.get(self.widths[self.first])
        at_first = None if row is None else row[figure]
        formula = f'=IFERROR(IF({found}="","{cannot}",{found}),"{none}")'
        return formula, cannot if at_first is None else float(at_first)

    @property
    def inside(self) -> str:
        """Whether a number stands there that is no narrower and no wider than the curve."""
        low, high = float(self.widths[0]), float(self.widths[-1])
        return f"AND(ISNUMBER({_WIDTH}),{_WIDTH}>={low:.10g},{_WIDTH}<={high:.10g})"

    def found_row(self) -> str:
        """The row of the width; an error where it is none, or between two steps: never rounded."""
        row = f"ROUND({self._steps},0)"
        return f"=IF({self.inside},IF(ABS({row}-{self._steps})<0.00001,{row}+1,NA()),NA())"

    @property
    def _step(self) -> Fraction:
        return self.widths[1] - self.widths[0] if self.rows > 1 else Fraction(1)

    @property
    def _steps(self) -> str:
        return f"(({_WIDTH}-{float(self.widths[0]):.10g})/{float(self._step):.10g})"

    def shown_for(self) -> str:
        """Why there are no figures: no such width, or one between two steps of the mill."""
        below = f"INDEX({self._widths},INT({self._steps})+1)"
        above = f"INDEX({self._widths},INT({self._steps})+2)"
        between = text("fit.between_steps")
        after = f" {self.units.sign('mm')}"
        words = f'"{between} "&{below}&" / "&{above}&"{after}"'
        none = text("fit.no_width")
        return f'=IF(ISNUMBER({self.row}),"",IFERROR(IF({self.inside},{words},"{none}"),"{none}"))'

    def lowest(self, start: str, stop: str) -> tuple[str, str]:
        """The width of the lowest use of a reel in some rows, and that use."""
        span = f"{self._cell(start, 1)}:{self._cell(stop, 1)}"
        place = f"INDEX({self._widths},{start}+MATCH(MIN({span}),{span},0)-1)"

        def unless_empty(found: str) -> str:
            none = text("fit.none")
            return f'=IFERROR(IF(COUNT({span})=0,"{none}",{found}),"{none}")'

        return unless_empty(place), unless_empty(f"MIN({span})")

    def lowest_at_first(self, start: int, stop: int) -> tuple[float, float] | None:
        """The same of the width shown at first, rows from 0 without the last."""
        near = set(self.widths[max(start, 0) : stop])
        found = [(row[1], row[0]) for row in self.curve[1] if row[0] in near and row[1] is not None]
        use, width = min(found, default=(None, None))
        return None if use is None or width is None else (float(width), use)


def _fill_data(data: SheetWriter, curves: Sequence[FitCurve], look: _Lookups) -> None:
    widths = look.widths
    columns = [
        TableColumn("", 10, "mm", heading=text("fit.data_width")),
        TableColumn("", 12, "use", heading=text("fit.data_chosen")),
        TableColumn("", 3, "text"),
        TableColumn("", 3, "text"),
        *[
            TableColumn("", 10, kind, heading=text(f"fit.data_{f}"))
            for _ in curves
            for f, kind in _FIGURES
        ],
    ]
    data.widths(column.width for column in columns)
    listed = f"{look.own}!$A${_LIST}:$A${_LIST + len(curves) - 1}"
    place = f"MATCH({look.own}!{_RUN},{listed},0)"
    data.formula((1, 3), f"={place}", "plain", result=1)
    row = look.found_row().replace(_WIDTH, f"{look.own}!{_WIDTH}")
    data.formula((1, 4), row, "plain", result=look.first + 1)
    for k, (name, _) in enumerate(curves):
        data.put((1, _FIRST + k * len(_FIGURES)), name, "text", "strong")
    data.headings(_HEAD, columns)
    by_width = [{row[0]: row[1:] for row in rows} for _, rows in curves]
    span = (_FIRST - 1, len(columns) - 1)
    for at, width in enumerate(widths, start=_HEAD):
        data.sheet.write_number(at, 0, float(width))
        figures = xl_range_abs(at, span[0], at, span[1])
        found = f"INDEX({figures},1,({_PLACE}-1)*{len(_FIGURES)}+1)"
        # A chart leaves out what is not there.
        use = by_width[0].get(width, (None,))[0]
        shown = "#N/A" if use is None else use
        data.sheet.write_formula(at, 1, f'=IF({found}="",NA(),{found})', None, shown)
        for k, rows in enumerate(by_width):
            for offset, value in enumerate(rows.get(width, ())):
                if value is not None:
                    data.sheet.write_number(at, span[0] + k * len(_FIGURES) + offset, value)
    data.frozen(_HEAD + 1, 2)


def _fill_sheet(sheet: SheetWriter, mill: Mill, names: Sequence[str], look: _Lookups) -> None:
    sheet.widths((54, 30, 12, 3, 34, 12, 12, 12))
    note = text("fit.box_note", estimate=text("fit.estimate"), use=look.units.sign("use"))
    sheet.put((1, 1), text("fit.question"), "text", "title")
    sheet.span(2, (1, 8), note, "note")
    for row, height in ((2, 44), (4, 22), (5, 22)):
        sheet.height(row, height)
    _ask(sheet, names, look)
    _answer(sheet, mill, look)
    _nearby(sheet, look)


def _ask(sheet: SheetWriter, names: Sequence[str], look: _Lookups) -> None:
    """Write what is asked: a run of the list, and a width."""
    low, high = float(look.widths[0]), float(look.widths[-1])
    between = text("fit.width_error", low=f"{low:g}", high=f"{high:g}", unit=look.units.sign("mm"))
    sheet.put((4, 1), text("fit.choose_run"), "text", "strong")
    sheet.put((5, 1), text("fit.type_width", unit=look.units.sign("mm")), "text", "strong")
    sheet.put((4, 2), names[0], "text", "entry")
    sheet.put((5, 2), look.widths[look.first], look.kind, "entry")
    sheet.formula((5, 3), look.shown_for(), "note", result="")
    sheet.put((_LIST - 1, 1), text("fit.runs"), "text", "heading")
    for row, name in enumerate(names, start=_LIST):
        sheet.put((row, 1), name, "text", "text")
    listed = f"=$A${_LIST}:$A${_LIST + len(names) - 1}"
    sheet.sheet.data_validation(
        "B4",
        {"validate": "list", "source": listed, "ignore_blank": False,
         "error_message": text("fit.choose_error")},
    )  # fmt: skip
    sheet.sheet.data_validation(
        "B5",
        {"validate": "decimal", "criteria": "between", "minimum": low, "maximum": high,
         "error_message": between},
    )  # fmt: skip


def _answer(sheet: SheetWriter, mill: Mill, look: _Lookups) -> None:
    """Write what the width costs in the run, and what it comes to on its own."""
    typed = float(look.widths[look.first])
    sign = look.units.sign
    stations = min(mill.winder.max_reels, mill.winder.knives - 1)
    deckle = float(look.units.cell(mill.deckle_mm, "mm")[0])
    across = min(stations, int(deckle / typed))
    reels = f'=IF({look.inside},MIN({stations},INT({deckle:.10g}/{_WIDTH})),"")'
    trim = f'=IFERROR({deckle:.10g}-{_ALONE}*{_WIDTH},"")'
    lines: tuple[tuple[str, tuple[str, str | float | None], str], ...] = (
        ("as_reel", look.value(1), "0.000"),
        ("on_core", look.value(2), "General"),
        ("in_sets", look.value(3), "#,##0"),
        ("reels_alone", (reels, across), "0"),
        ("trim_alone", (trim, deckle - across * typed), look.shape),
        ("as_sheet", look.value(4), "0.000"),
        ("best_ups", look.value(5), "0"),
    )
    for row, (key, (formula, result), shown) in enumerate(lines, start=6):
        label = text(f"fit.{key}", use=sign("use"), width=sign("mm"), length=sign("m"))
        sheet.put((row, 1), label, "text", "text" if label.startswith(" ") else "strong")
        sheet.formula((row, 2), formula, "strong number", shown, result=result)


def _nearby(sheet: SheetWriter, look: _Lookups) -> None:
    """Write the best widths on either side."""
    heads = (text("fit.nearby"), look.units.sign("mm"), look.units.sign("use"))
    for column, words in enumerate(heads, start=1):
        sheet.put((14, column), words, "text", "heading")
    at, last, first = look.row, look.rows, look.first
    for row, key, start, stop, near in (
        (15, "narrower", f"MAX(1,{at}-{_NEAR})", f"MAX(1,{at}-1)", (first - _NEAR, first)),
        (16, "wider", f"MIN({last},{at}+1)", f"MIN({last},{at}+{_NEAR})",
         (first + 1, first + 1 + _NEAR)),
    ):  # fmt: skip
        sheet.put((row, 1), text(f"fit.{key}", steps=_NEAR), "text", "text")
        width, use = look.lowest(start, stop)
        lowest = look.lowest_at_first(*near) or (text("fit.none"),) * 2
        sheet.formula((row, 2), width, "strong number", look.shape, result=lowest[0])
        sheet.formula((row, 3), use, "strong number", "0.000", result=lowest[1])


def _chart(sheet: SheetWriter, data: SheetWriter, look: _Lookups) -> None:
    chart = sheet.book.book.add_chart({"type": "scatter", "subtype": "straight"})
    last, widths, sign = _HEAD + look.rows - 1, look.widths, look.units.sign
    chart.add_series(
        {
            "name": text("fit.reels"),
            "categories": [data.title, _HEAD, 0, last, 0],
            "values": [data.title, _HEAD, 1, last, 1],
            "line": {"color": RULE, "width": 1.25},
        }
    )
    chart.add_series(
        {
            "name": text("fit.typed"),
            "categories": [sheet.title, 4, 1, 4, 1],
            "values": [sheet.title, 5, 1, 5, 1],
            "line": {"none": True},
            "marker": {"type": "diamond", "size": 14, "fill": {"color": INK}},
        }
    )
    chart.set_title({"name": text("fit.chart"), "name_font": {"size": 12}})
    chart.set_x_axis(
        {"name": text("fit.width_axis", unit=sign("mm")), "num_format": "#,##0",
         "min": float(widths[0]), "max": float(widths[-1])}
    )  # fmt: skip
    use = text("fit.use_axis", use=sign("use"))
    # From 0, so that what is noise does not look like valleys.
    chart.set_y_axis({"name": use, "num_format": "0.00", "min": 0})
    chart.set_legend({"position": "bottom"})
    # The sheet with the figures is hidden.
    chart.show_hidden_data()
    chart.set_size({"width": 718, "height": 359})
    sheet.sheet.insert_chart("E7", chart)
