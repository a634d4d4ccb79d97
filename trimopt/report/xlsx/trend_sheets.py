"""Sheets of the trend's workbook: figures side by side, periods, what carried the trim, rows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties

from trimopt.ledger.trend_model import Carrier, Figures, Line, Trend
from trimopt.report.words.trend_words import (
    CAUSES,
    against_rows,
    asked_text,
    measured_text,
    missed_text,
)
from trimopt.report.xlsx.sheet_setup import Column, set_widths, table
from trimopt.report.xlsx.styles import Value, merge, put
from trimopt.report.xlsx.trend_charts import loss_chart, pareto_chart, stack_chart
from trimopt.text import for_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = [
    "ROWS",
    "add_bound",
    "add_carriers",
    "add_culled",
    "add_front",
    "add_groups",
    "add_periods",
    "add_rows",
    "add_rules",
]

ROWS = "Rows"
"""Title of the sheet of raw rows; it is the last."""
MAX_CHART = 120
"""Periods on a chart; of more, the months are drawn."""
_MAX_PARETO = 30
_MAX_ORDERS = 300
"""Orders that are listed; those that carried less stand together in the last row."""
_SIDES = ("Planned", "Planned of run", "Run")


def _sheet(book: Workbook, trend: Trend, title: str, *, wide: bool = True) -> Worksheet:
    sheet: Worksheet = book.create_sheet(title)
    page = sheet.page_setup
    page.paperSize, page.orientation = 9, "landscape" if wide else "portrait"
    page.fitToWidth, page.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    margins = sheet.page_margins
    margins.left = margins.right = 0.4
    margins.top = margins.bottom = 0.6
    margins.header = margins.footer = 0.3
    sheet.sheet_view.showGridLines = False
    head = sheet.oddHeader
    assert head is not None
    head.left.text = f"Trim loss · {title}"
    head.center.text = for_workbook(", ".join(trend.mills))[:60].replace("&", "&&")
    head.right.text = "page &P of &N"
    for part in (head.left, head.center, head.right):
        part.size = 9
    return sheet


def _line(
    sheet: Worksheet, row: int, text: str, style: str, *, last: int = 5, height: float = 18
) -> None:
    put(sheet, (row, 1), text, "text", style)
    merge(sheet, row, 1, last)
    sheet.row_dimensions[row].height = height


def _sides(line: Line) -> tuple[Figures, Figures, Figures]:
    return line.planned, line.planned_of_run, line.run


def add_front(book: Workbook, trend: Trend) -> None:
    """Add the first sheet: what it is of, the figures side by side."""
    sheet = _sheet(book, trend, "Trim loss")
    sheet.page_setup.fitToHeight = 1
    columns = [
        Column(heading="", width=40, kind="strong"),
        *(Column(heading=side, width=17, kind="t") for side in _SIDES),
        Column(heading="What it is", width=58),
    ]
    set_widths(sheet, columns)
    _line(sheet, 1, "Trim loss, planned and run", "plan title", height=30)
    _line(sheet, 2, asked_text(trend), "plan line")
    _line(sheet, 3, measured_text(trend), "plan line")
    replaced = (
        f"Plans: {trend.plans:,}; in the whole ledger {trend.replaced_plans:,} were replaced, "
        f"sets of such plans that were run and count here: {trend.replaced_sets:,}"
    )
    _line(sheet, 4, replaced, "plan line")
    _line(sheet, 5, f"Target: {missed_text(trend)}", "plan strong", height=34)
    sides = _sides(trend.whole)
    rows: list[tuple[Value, ...]] = [
        _tonnes("Paper used t", sides, "used_kg", "the sum of what follows"),
        _tonnes("Delivered in tolerance t", sides, "delivered_kg", ""),
    ]
    rows += [_tonnes(f"{words} t", sides, name, "") for words, name in CAUSES]
    rows.append(_tonnes("Broke reels t", sides, "broke_kg", "within pattern trim"))
    after = table(sheet, 7, columns, rows, strong=(0,))
    after = _ratio_rows(sheet, after, sides)
    work: tuple[tuple[str, str, str], ...] = (
        ("Sets", "sets", ""),
        ("Set-ups", "set_ups", "a run's first counts apart"),
        ("Set-ups for 100 t", "set_ups_100_t", "of web wound"),
        ("Knife moves", "knife_moves", ""),
        ("Knife moves for 100 t", "knife_moves_100_t", "of web wound"),
        ("Minutes", "minutes", "as planned, and with the minutes stopped as run"),
        ("Minutes stopped", "minutes_stopped", "unplanned"),
    )
    for words, name, what in work:
        put(sheet, (after, 1), words, "text", "plan strong")
        for column, side in enumerate(sides, start=2):
            value = getattr(side, name)
            kind = "t" if name.endswith("_100_t") else "count"
            shown = value if value is None or kind == "t" else round(value)
            put(sheet, (after, column), shown, kind, "plan number")
        put(sheet, (after, 5), what, "text", "plan text")
        sheet.row_dimensions[after].height = 18
        after += 1
    sheet.freeze_panes = "B8"
    sheet.print_title_rows = "7:7"


def _tonnes(words: str, sides: Sequence[Figures], name: str, what: str) -> tuple[Value, ...]:
    return (words, *(getattr(side, name) / 1000 for side in sides), what)


def _ratio_rows(sheet: Worksheet, row: int, sides: Sequence[Figures]) -> int:
    """Write each loss with its numerator and denominator below it."""
    for ratios in zip(*(side.ratios for side in sides), strict=True):
        first = ratios[0]
        put(sheet, (row, 1), first.name, "text", "plan strong")
        put(sheet, (row, 5), first.words, "text", "plan text")
        unit, scale = ("t", 1000.0) if first.unit == "kg" else ("1000 m²", 1000.0)
        put(sheet, (row + 1, 1), f"   numerator, {unit}", "text", "plan text")
        put(sheet, (row + 2, 1), f"   denominator, {unit}", "text", "plan text")
        for column, ratio in enumerate(ratios, start=2):
            put(sheet, (row, column), ratio.share, "share", "plan strong number")
            put(sheet, (row + 1, column), ratio.numerator / scale, "t", "plan number")
            put(sheet, (row + 2, column), ratio.denominator / scale, "t", "plan number")
        for offset in range(3):
            sheet.row_dimensions[row + offset].height = 18
        row += 3
    return row


def _period_columns() -> list[Column]:
    """Columns of a table of lines; the first four are what the chart of losses reads."""
    names = ("Trim loss planned", "Trim loss run", "Target")
    causes = [
        Column(heading=f"{words} {side} t", width=11, kind="t")
        for side in ("planned", "run")
        for words, _ in CAUSES
    ]
    return [
        Column(heading="", width=19, kind="strong"),
        *(Column(heading=name, width=11, kind="share") for name in names),
        Column(heading="Missed", width=13),
        *(Column(heading=f"{base} {side}", width=11, kind="share")
          for base in ("Of the deckle", "Net of surplus", "Total loss")
          for side in ("planned", "run")),
        *(Column(heading=f"{words} {side} t", width=11, kind="t")
          for words in ("Used", "Delivered") for side in ("planned", "run")),
        *causes,
        *(Column(heading=f"{words} {side}", width=10, kind="min")
          for words in ("Set-ups for 100 t", "Knife moves for 100 t", "Minutes")
          for side in ("planned", "run")),
        Column(heading="Minutes stopped", width=10, kind="min"),
        Column(heading="Sets planned", width=9, kind="count"),
        Column(heading="Sets run", width=9, kind="count"),
    ]  # fmt: skip


def _period_row(line: Line, target: float | None) -> tuple[Value, ...]:
    planned, run = line.planned, line.run
    missed = [w for w, m in (("planned", line.planned_missed), ("run", line.run_missed)) if m]
    pairs: list[Value] = []
    for name in ("trim_loss_deckle", "trim_loss_net", "total_loss"):
        pairs += [getattr(planned, name).share, getattr(run, name).share]
    for name in ("used_kg", "delivered_kg"):
        pairs += [getattr(planned, name) / 1000, getattr(run, name) / 1000]
    for side in (planned, run):
        pairs += [getattr(side, name) / 1000 for _, name in CAUSES]
    for name in ("set_ups_100_t", "knife_moves_100_t", "minutes"):
        pairs += [_two(getattr(planned, name)), _two(getattr(run, name))]
    return (
        line.label,
        planned.trim_loss.share,
        run.trim_loss.share,
        target,
        ", ".join(missed),
        *pairs,
        run.minutes_stopped,
        planned.sets,
        run.sets,
    )


def _two(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


_CAUSES_FROM = 16  # the first column of the causes as planned, in the table above


def add_periods(book: Workbook, trend: Trend) -> None:
    """Add a row a period, and the charts of trim loss and of loss by cause."""
    drawn = trend.lines if len(trend.lines) <= MAX_CHART else trend.months
    by = trend.by if drawn is trend.lines else "month"
    charts = _sheet(book, trend, "Charts")
    charts.page_setup.fitToHeight = 1
    data = _sheet(book, trend, "Periods")
    last = _lines_table(data, 1, trend, trend.lines, trend.by)
    head, end, source = 1, last - 1, data
    if drawn is trend.months:
        source = _sheet(book, trend, "Months")
        end = _lines_table(source, 1, trend, trend.months, "month") - 1
    target = trend.target_percent is not None
    loss_chart(charts, source, "A1", head=head, last=end, target=target, by=by)
    side = "run" if trend.whole.run.sets else "planned"
    first = _CAUSES_FROM + (len(CAUSES) if side == "run" else 0)
    stack_chart(
        charts, source, "A20", head=head, last=end, first=first, causes=len(CAUSES),
        side="as run" if side == "run" else "as planned", by=by,
    )  # fmt: skip


def _lines_table(sheet: Worksheet, row: int, trend: Trend, lines: Iterable[Line], word: str) -> int:
    columns = _period_columns()
    columns[0] = Column(heading=word.capitalize(), width=19, kind="strong")
    set_widths(sheet, columns)
    target = None if trend.target_percent is None else trend.target_percent / 100
    after = table(sheet, row, columns, [_period_row(line, target) for line in lines])
    if row == 1:
        sheet.freeze_panes = "B2"
        sheet.print_title_rows, sheet.print_title_cols = "1:1", "A:A"
        sheet.page_setup.fitToWidth = 3
    return after


def add_groups(book: Workbook, trend: Trend) -> None:
    """Add the same figures by grade and by winder."""
    sheet = _sheet(book, trend, "Grades, winders")
    after = _lines_table(sheet, 1, trend, trend.grades, "grade")
    _lines_table(sheet, after + 1, trend, trend.winders, "winder")


def add_bound(book: Workbook, trend: Trend) -> None:
    """Add the steps from the proven bound to the loss, planned and as run."""
    sheet = _sheet(book, trend, "Against the bound", wide=False)
    columns = (
        Column(heading="Step", width=62),
        Column(heading="Mass t", width=14, kind="t"),
        Column(heading="Share of paper used", width=14, kind="share"),
    )
    set_widths(sheet, columns)
    row = 1
    parts = (
        ("All planned sets", trend.against_planned, None),
        ("The sets that were run", trend.against_run, trend.whole.run),
    )
    for title, against, run in parts:
        if not against.used_kg:
            continue
        _line(sheet, row, title, "plan section", last=3, height=26)
        steps = against_rows(against, run)
        rows: list[tuple[Value, ...]] = [
            (words, kg / 1000, kg / against.used_kg) for words, kg, _ in steps
        ]
        strong = [index for index, (_, _, is_sum) in enumerate(steps) if is_sum]
        row = table(sheet, row + 1, columns, rows, strong=strong) + 1


def add_carriers(book: Workbook, trend: Trend) -> None:
    """Add which widths and which orders carried the pattern trim, with a Pareto of the widths."""
    widths = _sheet(book, trend, "Widths")
    _carriers(widths, trend.widths, orders=False)
    orders = _sheet(book, trend, "Orders")
    _carriers(orders, _most(trend.orders), orders=True)


def _most(carriers: Sequence[Carrier]) -> Sequence[Carrier]:
    rest = carriers[_MAX_ORDERS:]
    if not rest:
        return carriers
    together = Carrier(
        width_mm=None,
        order=f"{len(rest):,} more orders",
        customer="",
        reels=sum(each.reels for each in rest),
        reels_kg=sum(each.reels_kg for each in rest),
        planned_kg=sum(each.planned_kg for each in rest),
        planned_of_run_kg=sum(each.planned_of_run_kg for each in rest),
        run_kg=sum(each.run_kg for each in rest),
        share=sum(each.share for each in rest),
        cumulative=rest[-1].cumulative,
    )
    return [*carriers[:_MAX_ORDERS], together]


def _carriers(sheet: Worksheet, carriers: Sequence[Carrier], *, orders: bool) -> None:
    names = (
        [Column(heading="Order", width=24, kind="strong"), Column(heading="Customer", width=26)]
        if orders
        else [Column(heading="Width mm", width=12, kind="mm")]
    )
    columns = [
        *names,
        Column(heading="Pattern trim planned kg", width=13, kind="kg"),
        Column(heading="Pattern trim run kg", width=13, kind="kg"),
        Column(heading="Share of planned", width=11, kind="share"),
        Column(heading="Share so far", width=11, kind="share"),
        Column(heading="Reels", width=10, kind="count"),
        Column(heading="Reels kg", width=13, kind="kg"),
        Column(heading="Trim for a kg of reels", width=12, kind="share"),
    ]
    set_widths(sheet, columns)
    rows: list[tuple[Value, ...]] = [
        (
            *((each.order, each.customer) if orders else (each.width_mm,)),
            each.planned_kg,
            each.run_kg,
            each.share,
            each.cumulative,
            each.reels,
            each.reels_kg,
            each.planned_kg / each.reels_kg if each.reels_kg else None,
        )
        for each in carriers
    ]
    table(sheet, 1, columns, rows)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    if not orders and carriers:
        last = 1 + min(len(carriers), _MAX_PARETO)
        pareto_chart(sheet, "J1", head=1, last=last, mass=2, cumulative=5, what="width mm")


def add_culled(book: Workbook, trend: Trend) -> None:
    """Add the reels lost in running, by reason, where there are any."""
    if not trend.culled:
        return
    sheet = _sheet(book, trend, "Culled", wide=False)
    columns = (
        Column(heading="Reason", width=34, kind="strong"),
        Column(heading="Mass kg", width=14, kind="kg"),
        Column(heading="Reels", width=10, kind="count"),
        Column(heading="Sets", width=10, kind="count"),
    )
    set_widths(sheet, columns)
    table(sheet, 1, columns, [(c.reason, c.culled_kg, c.reels, c.sets) for c in trend.culled])


def add_rules(book: Workbook, trend: Trend) -> None:
    """Add the rules that the figures follow."""
    sheet = _sheet(book, trend, "Rules", wide=False)
    columns = (Column(heading="Rule", width=100),)
    set_widths(sheet, columns)
    ledger = f"Read from the ledger {trend.ledger}."
    table(sheet, 1, columns, [(rule,) for rule in (*trend.rules, ledger)])


def add_rows(book: Workbook, trend: Trend) -> None:
    """Add the headings of the raw rows; `trimopt.report.xlsx.trend_rows` writes what is below."""
    sheet: Worksheet = book.create_sheet(ROWS)
    last = get_column_letter(len(trend.row_headings))
    for column, heading in enumerate(trend.row_headings, start=1):
        put(sheet, (1, column), heading, "text", "plan heading")
        sheet.column_dimensions[get_column_letter(column)].width = 13
    sheet.row_dimensions[1].height = 62
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = f"A1:{last}{len(trend.rows) + 1}"
