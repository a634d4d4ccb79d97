"""The trend on a terminal: the figures side by side and a small chart of trim loss by period.

With NO_COLOR, or where the output is no terminal, nothing but plain text is written.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from trimopt.ledger.trend_model import Figures, Line, Trend
from trimopt.report.terminal.characters import Marks, bar, fitting_marks
from trimopt.report.words.trend_words import (
    CAUSES,
    against_rows,
    asked_text,
    measured_text,
    missed_text,
    share_text,
)
from trimopt.text import for_terminal

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["print_trend"]

_MAX_PERIODS = 36  # lines of the chart; the workbook has all of them
_MAX_CARRIERS = 8
_BAR = 30


class _Voice:
    """Writes lines in what the console's locale and NO_COLOR allow."""

    def __init__(self, console: Console) -> None:
        self.console = console
        self.width = max(60, min(console.width, 100))
        self.marks: Marks = fitting_marks(console.encoding)

    def line(self, text: str = "", style: str = "") -> None:
        from rich.text import Text

        plain = for_terminal(text, self.console.encoding).rstrip()
        styled = Text(plain, style="" if self.console.no_color else style)
        self.console.print(styled, soft_wrap=True, highlight=False)

    def wrapped(self, text: str, style: str = "") -> None:
        for part in textwrap.wrap(text, self.width, subsequent_indent="  "):
            self.line(part, style)


def print_trend(trend: Trend, console: Console) -> None:
    """Print the trend for a manager.

    Parameters
    ----------
    trend : Trend
        What to print.
    console : rich.console.Console
        Where to: results belong on standard output.
    """
    say = _Voice(console)
    say.line("Trim loss, planned and run", "bold")
    say.wrapped(asked_text(trend))
    say.wrapped(measured_text(trend))
    say.wrapped(f"target: {missed_text(trend)}")
    _side_by_side(say, trend.whole)
    _chart(say, trend)
    _against(say, trend)
    _carried(say, trend)
    say.line()
    say.line("Rules", "bold")
    for rule in trend.rules:
        say.wrapped(f"- {rule}")


def _side_by_side(say: _Voice, line: Line) -> None:
    sides = (line.planned, line.planned_of_run, line.run)

    def row(words: str, values: list[str]) -> None:
        say.line(f"{words:28}" + "".join(f"{value:>17}" for value in values))

    say.line()
    row("", ["planned", "planned of run", "run"])
    tonnes = (
        ("paper used t", "used_kg"),
        ("delivered in tolerance t", "delivered_kg"),
        *((f"{words.lower()} t", name) for words, name in CAUSES),
    )
    for words, name in tonnes:
        row(words, [f"{getattr(side, name) / 1000:,.1f}" for side in sides])
    for ratios in zip(*(side.ratios for side in sides), strict=True):
        unit = "t" if ratios[0].unit == "kg" else "1000 m²"
        row(ratios[0].name.lower(), [share_text(ratio.share) for ratio in ratios])
        row(f"  {unit}", [
            f"{ratio.numerator / 1000:,.1f} / {ratio.denominator / 1000:,.0f}" for ratio in ratios
        ])  # fmt: skip
    row("set-ups a 100 t", [_rate(side.set_ups_100_t) for side in sides])
    row("knife moves a 100 t", [_rate(side.knife_moves_100_t) for side in sides])
    row("minutes", [f"{side.minutes:,.0f}" for side in sides])
    row("  of them stopped", [f"{side.minutes_stopped:,.0f}" for side in sides])


def _rate(value: float | None) -> str:
    return "–" if value is None else f"{value:,.2f}"


def _chart(say: _Voice, trend: Trend) -> None:
    lines = trend.lines[-_MAX_PERIODS:]
    shares = [_share(line.planned) for line in lines] + [_share(line.run) for line in lines]
    target = (trend.target_percent or 0.0) / 100
    most = max([*shares, target])
    left = len(trend.lines) - len(lines)
    say.line()
    earlier = f" (the last {len(lines)} of {len(trend.lines)})" if left else ""
    say.line(f"Trim loss of full web width by {trend.by}{earlier}", "bold")
    for line in lines:
        for words, figures, missed in (
            ("planned", line.planned, line.planned_missed),
            ("run", line.run, line.run_missed),
        ):
            if not figures.wound_m2:
                continue
            label = line.label if words == "planned" else ""
            drawn = bar(_share(figures), most, _BAR, say.marks)
            if target:
                # The target is a column that the bar reaches or passes.
                at = min(_BAR - 1, max(0, round(target / most * _BAR) - 1))
                drawn = drawn.ljust(_BAR)
                drawn = drawn[:at] + say.marks.cut + drawn[at + 1 :]
            mark = " missed" if missed else ""
            style = "red" if missed else ""
            say.line(
                f"{label:16} {words:8}{100 * _share(figures):6.2f} %  {drawn.rstrip():30}{mark}",
                style,
            )
    if target:
        say.line(f"{'':34}{say.marks.cut} target {trend.target_percent:g} %")


def _share(figures: Figures) -> float:
    return figures.trim_loss.share or 0.0


def _against(say: _Voice, trend: Trend) -> None:
    ran = trend.whole.run if trend.against_run.running_kg else None
    against = trend.against_planned if ran is None else trend.against_run
    say.line()
    of = "all planned sets" if ran is None else "the sets that were run"
    say.line(f"From the proven bound to the loss, over {of}", "bold")
    for words, kg, is_sum in against_rows(against, ran):
        tonnes = round(kg / 1000, 2) + 0.0  # no minus before a zero
        share = share_text(kg / against.used_kg if against.used_kg else None)
        say.line(f"{words:54}{tonnes:10,.2f} t{share:>10}", "bold" if is_sum else "")


def _carried(say: _Voice, trend: Trend) -> None:
    say.line()
    say.line("Widths and orders that carried most of the pattern trim", "bold")
    say.line(f"{'':34}{'planned kg':>12}{'run kg':>12}{'share':>10}{'so far':>10}")
    for carriers in (trend.widths, trend.orders):
        for each in carriers[:_MAX_CARRIERS]:
            name = f"{each.order}  {each.customer}" if each.order else f"{each.width_mm:,g} mm"
            say.line(
                f"{name[:33]:34}{each.planned_kg:12,.0f}{each.run_kg:12,.0f}"
                f"{share_text(each.share):>10}{share_text(each.cumulative):>10}"
            )
        say.line()
    for lost in trend.culled:
        say.line(
            f"culled: {lost.reason:26}{lost.culled_kg:12,.0f} kg, {lost.reels:,} reels on "
            f"{lost.sets:,} sets"
        )
