"""The trend on a terminal: the figures side by side and a small chart of trim loss by period."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trimopt.ledger.trend_model import Figures, Trend, TrendLine
from trimopt.report.terminal.terminal_writer import TerminalWriter, bar
from trimopt.report.words import trend_words
from trimopt.report.words.texts import text
from trimopt.report.words.units import METRIC, percent

if TYPE_CHECKING:
    from rich.console import Console

_MAX_PERIODS = 36  # lines of the chart; the workbook has all of them
_MAX_CARRIERS = 8
_BAR = 30


def print_trend(trend: Trend, console: Console | None = None) -> None:
    say = TerminalWriter(console, METRIC)
    say.line(text("trend.title"), "bold")
    say.wrapped(trend_words.asked_text(trend), first="")
    say.wrapped(trend_words.measured_text(trend), first="")
    say.wrapped(text("trend.target_line", missed=trend_words.missed_text(trend)), first="")
    say.line()
    _side_by_side(say, trend.whole)
    _chart(say, trend)
    _against(say, trend)
    _carried(say, trend)
    say.section(text("trend.rules"))
    say.items(trend_words.rules())


def _side_by_side(say: TerminalWriter, line: TrendLine) -> None:
    rows = [
        (words[:1].lower() + words[1:], *(_shown(value, kind) for value in values))
        for words, values, kind, _ in trend_words.side_rows(
            (line.planned, line.planned_of_run, line.run)
        )
    ]
    names = ("planned", "planned_of_run", "run")
    say.table(["", *(text(f"trend.{name}") for name in names)], rows, "tnnn")


def _shown(value: float | None, kind: str) -> str:
    if kind == "share" or value is None:
        return percent(value)
    return f"{value:,.{ {'t': 1, 'rate': 2}.get(kind, 0) }f}"


def _chart(say: TerminalWriter, trend: Trend) -> None:
    lines = trend.lines[-_MAX_PERIODS:]
    target = (trend.target_percent or 0.0) / 100
    most = max([_share(side) for line in lines for side in (line.planned, line.run)] + [target])
    left_out = len(trend.lines) > len(lines)
    last = text("trend.last_of", shown=len(lines), all=len(trend.lines)) if left_out else ""
    say.section(text("trend.chart_by", by=trend.by, last=last))
    for line in lines:
        for name, figures, missed in (
            ("planned", line.planned, line.planned_missed),
            ("run", line.run, line.run_missed),
        ):
            if not figures.wound_m2:
                continue
            label = line.label if name == "planned" else ""
            drawn = bar(_share(figures), most, _BAR, say.marks)
            if target:
                # The target is a column that the bar reaches or passes.
                at = min(_BAR - 1, max(0, round(target / most * _BAR) - 1))
                drawn = drawn.ljust(_BAR)
                drawn = drawn[:at] + say.marks.cut + drawn[at + 1 :]
            mark = text("trend.missed_mark") if missed else ""
            share = f"{100 * _share(figures):6.2f} %"
            words = text(f"trend.{name}")
            say.line(
                f"{label:16} {words:8}{share}  {drawn.rstrip():30}{mark}", "red" if missed else ""
            )
    if target:
        words = text("trend.target_mark", target=trend.target_percent)
        say.line(f"{'':34}{say.marks.cut} {words}")


def _share(figures: Figures) -> float:
    return figures.trim_loss.share or 0.0


def _against(say: TerminalWriter, trend: Trend) -> None:
    ran = trend.whole.run if trend.against_run.running_kg else None
    against = trend.against_planned if ran is None else trend.against_run
    say.section(text("trend.bound_head_planned" if ran is None else "trend.bound_head_run"))
    steps = trend_words.against_rows(against, ran)
    rows = [
        (words, f"{round(kg / 1000, 2) + 0.0:,.2f} t",  # no minus before a zero
         percent(kg / against.used_kg if against.used_kg else None))
        for words, kg, _ in steps
    ]  # fmt: skip
    say.table(["", "", ""], rows, "tnn", styles=["bold" if is_sum else "" for *_, is_sum in steps])


def _carried(say: TerminalWriter, trend: Trend) -> None:
    say.section(text("trend.carried"))
    rows = [
        (
            f"{each.order}  {each.customer}" if each.order else f"{each.width_mm:,g} mm",
            f"{each.planned_kg:,.0f}",
            f"{each.run_kg:,.0f}",
            percent(each.share),
            percent(each.cumulative),
        )
        for carriers in (trend.widths, trend.orders)
        for each in carriers[:_MAX_CARRIERS]
    ]
    names = ("planned_kg", "run_kg", "share", "so_far_short")
    say.table(["", *(text(f"trend.{name}") for name in names)], rows, "tnnnn")
    for lost in trend.culled:
        say.line(
            text("trend.culled_line", reason=lost.reason, mass=lost.culled_kg, reels=lost.reels,
                 sets=lost.sets)
        )  # fmt: skip
