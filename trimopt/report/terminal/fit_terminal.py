"""An answer to an enquiry on a terminal: the answer line, the table, the curve in characters."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from trimopt.report.terminal.characters import fitting_marks
from trimopt.report.words.fit_words import (
    ESTIMATE,
    assumed_words,
    before_and_after,
    helped_words,
    paper_words,
    use_words,
)
from trimopt.report.words.plan_words import number, percent
from trimopt.text import for_terminal

if TYPE_CHECKING:
    from rich.console import Console

    from trimopt.fit import Answer, Curve, CurvePoint, Riding

__all__ = ["curve_lines", "print_answer"]

_LEAST, _MOST = 40, 100  # characters
_AXIS = 8  # characters left of the curve
_ROWS = 6
_NEAR = 40  # steps on either side of the width asked for
_MAX_ALONE = 8
_NO_BREAK = "\u00a0"


class _Voice:
    """Writes lines in what the console's locale and NO_COLOR allow."""

    def __init__(self, console: Console) -> None:
        self.console = console
        self.width = max(_LEAST, min(console.width, _MOST))
        self.marks = fitting_marks(console.encoding)

    def line(self, text: str = "", style: str = "") -> None:
        from rich.text import Text

        plain = for_terminal(text, self.console.encoding).rstrip()
        weighty = self.console.is_terminal and not self.console.no_color
        self.console.print(
            Text(plain, style=style if weighty else ""), soft_wrap=True, highlight=False
        )

    def wrapped(self, text: str, *, first: str = "  ", rest: str = "  ", style: str = "") -> None:
        """Lines broken at spaces, not at the no-break space."""
        for part in textwrap.wrap(
            text, self.width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
        ):
            self.line(part.replace(_NO_BREAK, " "), style)


def print_answer(answer: Answer, console: Console) -> None:
    """Print an answer for sales: the answer line first.

    Parameters
    ----------
    answer
        Of `trimopt.fit.Desk`.
    console
        Where to: results belong on standard output.
    """
    say = _Voice(console)
    say.wrapped(answer.line, first="", style="bold")
    if answer.stop:
        return
    if answer.run:
        source = f"plan {answer.from_plan}" if answer.from_plan else "a plan made now"
        say.wrapped(f"{answer.run}, against {source}")
    say.wrapped(assumed_words(answer.enquiry))
    for note in answer.notes:
        say.wrapped(f"note: {note}")
    _alone(say, answer)
    if answer.riding is not None:
        _riding(say, answer.riding)
    if answer.curve is not None:
        _curve(say, answer.curve, answer.enquiry.width_mm)
    _helps(say, answer)


def _alone(say: _Voice, answer: Answer) -> None:
    sheets = answer.enquiry.chop_mm is not None
    say.line()
    say.line("Alone across the deckle", "bold")
    ups = "   ups" if sheets else ""
    say.line(f"  core mm  set up to m  dia. mm   reel mm{ups}  across   trim mm    trim")
    for row in answer.alone[:_MAX_ALONE]:
        count = f"{row.ups or '':>6}" if sheets else ""
        say.line(
            f"  {row.core_mm:7g}{row.length_m:13,}{row.diameter_mm:9,.0f}"
            f"{number(row.reel_mm):>10}{count}{row.across:8}{number(row.trim_mm):>10}"
            f"{percent(row.trim_share, 1):>8}"
        )


def _riding(say: _Voice, riding: Riding) -> None:
    say.line()
    say.line(f"{'With the book':<30}{'before':>12}{'after':>12}", "bold")
    for label, before, after in before_and_after(riding):
        say.line(f"  {label:<28}{before:>12}{after:>12}")
    say.wrapped(f"{riding.sets_kept} of {riding.before.sets} planned sets stay as they are")
    say.wrapped(paper_words(riding))
    say.wrapped(use_words(riding))
    say.line()
    say.line("Sets in which it is made", "bold")
    for row in riding.sets:
        across = ", ".join(
            f"{count} × {number(width)} mm {order}".replace(" ", _NO_BREAK)
            for order, width, count in row.across
        )
        core = "any core" if row.core_mm is None else f"core {row.core_mm:g} mm"
        say.wrapped(
            f"{row.sets} × {row.length_m:,} m, {core}, ø {row.diameter_mm:,.0f} mm, "
            f"trim {number(row.trim_mm)} mm: {across}",
            rest="      ",
        )


def _curve(say: _Voice, curve: Curve, asked_mm: Fraction) -> None:
    if not any(math.isfinite(point.marginal_use) for point in curve.points):
        return
    columns = say.width - _AXIS - 2
    near = _near(curve.points, asked_mm, columns)
    say.line()
    say.line("Extra paper by width, t per t", "bold")
    say.wrapped(ESTIMATE)
    if len(curve.points) > len(near):
        for line in curve_lines(curve.points, asked_mm, (), columns, solid=say.marks.bar):
            say.line(line)
        say.line()
    valleys = [point.width_mm for point in curve.valleys]
    for line in curve_lines(near, asked_mm, valleys, columns, solid=say.marks.bar):
        say.line(line)
    say.line("  ^ the width asked for   v lowest estimates nearby")
    say.line()
    if curve.asked is not None:
        say.line(f"  {number(asked_mm):>8} mm  {curve.asked.marginal_use:8.3f} t per t   asked for")
    for point in curve.valleys:
        ups = "" if point.ups is None else f", {point.ups} ups"
        core = "" if point.core_mm is None else f"core {point.core_mm:g} mm, "
        say.line(
            f"  {number(point.width_mm):>8} mm  {point.marginal_use:8.3f} t per t   "
            f"{core}{point.length_m:,} m{ups}"
        )


def _near(points: Sequence[CurvePoint], asked_mm: Fraction, columns: int) -> Sequence[CurvePoint]:
    """The points about the width asked for, no more than there are columns."""
    if not points:
        return points
    middle = min(range(len(points)), key=lambda k: abs(points[k].width_mm - asked_mm))
    span = min(_NEAR, (columns - 1) // 2)
    return points[max(0, middle - span) : middle + span + 1]


def curve_lines(
    points: Sequence[CurvePoint],
    asked_mm: Fraction,
    valleys_mm: Sequence[Fraction],
    columns: int,
    *,
    rows: int = _ROWS,
    solid: str = "#",
) -> list[str]:
    """Draw the extra paper over width in characters.

    Parameters
    ----------
    points
        The curve, by width; several fall into one column where there are more than columns, and
        the least of them is drawn. A width that cannot be made is left blank.
    asked_mm, valleys_mm
        Marked below with ^ and above with v.
    columns, rows
        Size of the drawing.
    solid
        The character that it is made of.

    Returns
    -------
    list of str
        The lines; the scale stands at the left, the widths below. Values above three times the
        median are cut off at the top.
    """
    if not points:
        return []
    columns = min(columns, len(points))
    place = {p.width_mm: k * columns // len(points) for k, p in enumerate(points)}
    least: list[float] = [math.inf] * columns
    for point in points:
        k = place[point.width_mm]
        least[k] = min(least[k], point.marginal_use)
    shown = sorted(value for value in least if math.isfinite(value))
    if not shown:
        return ["  no width can be made"]
    low = min(0.0, shown[0]) if shown[0] < 0.5 or shown[-1] > 2 else shown[0]
    high = min(shown[-1], max(3 * shown[len(shown) // 2], low + 0.001))
    span = max(high - low, 1e-9)
    heights = [
        0 if not math.isfinite(v) else 1 + round(min(1.0, (v - low) / span) * (rows - 1))
        for v in least
    ]
    marked = {place[width] for width in valleys_mm if width in place}
    top = "".join("v" if k in marked else " " for k in range(columns))
    lines = [" " * (_AXIS + 2) + top] if marked else []
    for row in range(rows, 0, -1):
        label = f"{high:{_AXIS}.3f}" if row == rows else f"{low:{_AXIS}.3f}" if row == 1 else ""
        drawn = "".join(solid if height >= row else " " for height in heights)
        lines.append(f"{label:>{_AXIS}}  {drawn}")
    at = min(points, key=lambda p: abs(p.width_mm - asked_mm))
    lines.append(" " * (_AXIS + 2 + place[at.width_mm]) + "^")
    left = f"{number(points[0].width_mm)} mm"
    right = f"{number(points[-1].width_mm)} mm"
    lines.append(" " * (_AXIS + 2) + left + right.rjust(max(len(right) + 1, columns - len(left))))
    return lines


def _helps(say: _Voice, answer: Answer) -> None:
    if not answer.helps:
        return
    say.line()
    say.line("What would help, each placed into the plan, the best first", "bold")
    for helped in answer.helps:
        say.wrapped(helped_words(helped), rest="      ")
