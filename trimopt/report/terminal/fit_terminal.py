"""An answer to an enquiry on a terminal: the answer line, the table, the curve in characters."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from trimopt.report.table_columns import shown
from trimopt.report.terminal.terminal_writer import NO_BREAK, TerminalWriter
from trimopt.report.words import fit_words
from trimopt.report.words.fit_words import ALONE, WIDTH
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

if TYPE_CHECKING:
    from rich.console import Console

    from trimopt.fit import Answer, Curve, CurvePoint, PlacedSet

_LABEL = 7  # characters of a label before its line
_AXIS = 8  # characters left of the curve
_ROWS = 6
_NEAR = 40  # steps on either side of the width asked for
_MAX_ALONE = 8
_FLAT = 0.02  # t per t: a curve that varies by less is not drawn, its figures say all


def print_answer(answer: Answer, console: Console | None = None, *, details: bool = False) -> None:
    """Print an answer for sales: the verdict first, six lines in all."""
    say = TerminalWriter(console, Units(answer.written))
    for label, line in fit_words.answer_lines(answer, say.units):
        if label:
            say.wrapped(f"{label:{_LABEL}}{line}", rest=" " * (2 + _LABEL))
        else:
            say.wrapped(line, first="", style="bold")
    if details and not answer.stop:
        _details(say, answer)
    if answer.alternatives and answer.placement is not None:
        say.section(text("fit.helps", use=answer.placement.use))
        for alternative in answer.alternatives:
            say.wrapped(fit_words.alternative_words(alternative, say.units), rest="      ")


def _details(say: TerminalWriter, answer: Answer) -> None:
    for note in answer.notes:
        say.wrapped(text("fit.note", note=note))
    if answer.planned is not None:
        say.line()
        names = ("fit.with_book", "fit.before", "fit.after")
        rows = fit_words.before_and_after(answer.planned, say.units)
        say.table([text(name) for name in names], rows, "tnn")
        say.section(text("fit.others"))
        say.items(fit_words.others_words(answer, say.units))
    if answer.placement is not None:
        say.wrapped(fit_words.paper_words(answer.placement, say.units))
        say.wrapped(text("fit.definition"))
        _sets(say, answer.sets)
    if answer.curve is not None:
        _curve(say, answer.curve, answer.enquiry.width_mm)
    _alone(say, answer)


def _alone(say: TerminalWriter, answer: Answer) -> None:
    reels = answer.enquiry.chop_mm is None
    columns = [column for column in ALONE if not (reels and column.key == "ups")]
    rows = [
        [shown(column, column.of(row), say.units) for column in columns]
        for row in answer.alone[:_MAX_ALONE]
    ]
    say.section(text("fit.alone"))
    say.table([column.title(say.units) for column in columns], rows, "n" * len(columns))


def _sets(say: TerminalWriter, sets: Sequence[PlacedSet]) -> None:
    units = say.units
    say.section(text("fit.made_in"))
    for row in sets:
        across = ", ".join(
            text("fit.piece", count=count, width=units.said(width, "mm"), order=order).replace(
                " ", NO_BREAK
            )
            for order, width, count in row.across
        )
        say.wrapped(
            text(
                "fit.set_line", sets=row.sets,
                length=units.span((row.min_length_m, row.length_m), "m"),
                core=fit_words.core_words(row.core_mm, units), trim=units.said(row.trim_mm, "mm"),
                diameter=units.said(row.diameter_mm, "diameter"), across=across,
            ),
            rest="      ",
        )  # fmt: skip


def _curve(say: TerminalWriter, curve: Curve, asked_mm: Fraction) -> None:
    if not any(math.isfinite(point.marginal_use) for point in curve.points):
        return
    columns, units = say.width - _AXIS - 2, say.units
    near = _near(curve.points, asked_mm, columns)
    say.section(text("fit.curve_head", use=units.sign("use")))
    say.wrapped(text("fit.estimate"))
    uses = [point.marginal_use for point in near if math.isfinite(point.marginal_use)]
    if uses and max(uses) - min(uses) >= _FLAT:
        valleys = [point.width_mm for point in curve.valleys]
        for line in curve_lines(near, asked_mm, valleys, columns, units, solid=say.marks.bar):
            say.line(line)
        say.line(f"  {text('fit.legend')}")
    rows = []
    if curve.asked is not None:
        rows.append(_point(curve.asked, text("fit.asked_for"), units))
    for point in curve.valleys:
        core = "" if point.core_mm is None else f"{fit_words.core_words(point.core_mm, units)}, "
        ups = "" if point.ups is None else f", {text('strip.ups', count=point.ups)}"
        rows.append(_point(point, f"{core}{units.said(point.length_m, 'm')}{ups}", units))
    solved = text("fit.sets_held")
    say.table([WIDTH.title(units), units.sign("use"), solved, ""], rows, "nnnt")


def _point(point: CurvePoint, how: str, units: Units) -> tuple[str, str, str, str]:
    """A width of the curve: its estimate, and what it takes put into the plan."""
    held = "" if point.held_use is None else f"{point.held_use:.2f}"
    return units.bare(point.width_mm, "mm"), f"{point.marginal_use:.2f}", held, how


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
    units: Units,
    *,
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
        return [f"  {text('fit.none_made')}"]
    low = min(0.0, shown[0])  # from 0, so that what is noise does not look like valleys
    high = min(shown[-1], max(3 * shown[len(shown) // 2], low + 0.001))
    span = max(high - low, 1e-9)
    heights = [
        0 if not math.isfinite(v) else 1 + round(min(1.0, (v - low) / span) * (_ROWS - 1))
        for v in least
    ]
    labels = {_ROWS: f"{high:.3f}", 1: f"{low:.3f}"}
    bars = [
        f"{labels.get(row, ''):>{_AXIS}}  " + "".join(solid if h >= row else " " for h in heights)
        for row in range(_ROWS, 0, -1)
    ]
    margin = " " * (_AXIS + 2)
    marked = {place[width] for width in valleys_mm if width in place}
    above = [margin + "".join("v" if k in marked else " " for k in range(columns))]
    at = min(points, key=lambda p: abs(p.width_mm - asked_mm))
    left, right = (units.said(points[end].width_mm, "mm") for end in (0, -1))
    scale = left + right.rjust(max(len(right) + 1, columns - len(left)))
    below = [margin + " " * place[at.width_mm] + "^", margin + scale]
    return [*(above if marked else []), *bars, *below]
