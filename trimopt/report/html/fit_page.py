"""An answer to an enquiry as one page of HTML: no scripts, nothing fetched, the curve as SVG."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trimopt.book.model import paper_weight
from trimopt.errors import types_checked
from trimopt.report.html.page_writer import rendered
from trimopt.report.table_columns import Strong, TableColumn
from trimopt.report.words import fit_words
from trimopt.report.words.fit_words import ALONE, WIDTH
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

if TYPE_CHECKING:
    from trimopt.fit import Answer, Curve, CurvePoint
    from trimopt.mill.model import Mill

_WIDE, _HIGH = 1000, 300
_LEFT, _RIGHT, _TOP, _FOOT = 64, 44, 26, 34
_GRID = 4  # steps of the scales


@types_checked
def fit_page_html(answer: Answer, mill: Mill) -> str:
    """Give the page of an answer as text; what came from outside is escaped."""
    enquiry, curve, units = answer.enquiry, answer.curve, Units(answer.written)
    sides = (enquiry.width_mm,) if enquiry.chop_mm is None else (enquiry.width_mm, enquiry.chop_mm)
    drawn = curve is not None and not answer.stop
    return rendered(
        "fit.html.j2",
        units,
        title=text("fit.title", size=units.several(sides, "mm", " × ")),
        weight=paper_weight(enquiry.grammage_gsm, (), mill.grade(enquiry.grade), answer.written),
        answer=answer,
        mill=mill,
        words=fit_words,
        columns=_COLUMNS,
        points=_points_of(curve) if curve and drawn else None,
        point_columns=_point_columns(curve) if curve and drawn else (),
        drawing=_drawing(curve, enquiry.width_mm, units) if curve and drawn else None,
    )


_COLUMNS = {
    "before_and_after": (
        TableColumn("", 0, "text", lambda row: row[0].replace("  ", "\N{EM SPACE}")),
        TableColumn("", 0, "count", lambda row: row[1], text("fit.before").capitalize()),
        TableColumn("", 0, "count", lambda row: row[2], text("fit.after").capitalize()),
    ),
    "sets": (
        TableColumn("sets", 0, "count", lambda row: row.sets),
        TableColumn("length", 0, "text", unit="m", said=lambda row, units: (
            units.range_of((row.min_length_m, row.length_m), "m"))),
        TableColumn("core", 0, "core", lambda row: (
            text("fit.any_short") if row.core_mm is None else row.core_mm)),
        TableColumn("diameter", 0, "diameter", lambda row: row.diameter_mm),
        TableColumn("across", 0, "text", said=lambda row, units: ", ".join(
            text("fit.piece", count=count, width=units.said(width, "mm"), order=order)
            for order, width, count in row.across)),
        TableColumn("trim_of_deckle_mm", 0, "mm", lambda row: row.trim_mm),
    ),
    "alone": ALONE,
}  # fmt: skip


def _points_of(curve: Curve) -> list[CurvePoint]:
    """Give the width asked for, then the lowest estimates nearby."""
    return [*([curve.asked] if curve.asked is not None else []), *curve.valleys]


def _point_columns(curve: Curve) -> tuple[TableColumn, ...]:
    ups = (TableColumn("ups", 0, "count", lambda point: point.ups),)
    return (
        WIDTH,
        TableColumn("estimate", 0, "use", lambda point: point.marginal_use),
        TableColumn("core", 0, "core", lambda point: point.core_mm),
        TableColumn("set_m", 0, "m", lambda point: point.length_m),
        *(ups if any(point.ups is not None for point in curve.points) else ()),
        TableColumn("", 0, "text", lambda point: (
            Strong(text("fit.asked_for")) if point is curve.asked else None)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _CurveDrawing:
    """A curve on its scales, in the units of the drawing."""

    path: str
    grid: tuple[tuple[str, str, str, str], ...]  # y, its figure; x, its figure
    valleys: tuple[tuple[str, str], ...]  # x, y
    asked: tuple[str, str] | None  # x, its figure
    wide: int = _WIDE
    high: int = _HIGH
    left: int = _LEFT
    right: int = _WIDE - _RIGHT
    top: int = _TOP
    foot: int = _HIGH - _FOOT


def _drawing(curve: Curve, asked_mm: Fraction, units: Units) -> _CurveDrawing | None:
    """Draw the curve; None where no width can be made.

    The scale begins at 0, and values above three times the median are cut off at its top.
    """
    points = curve.points
    shown = sorted(p.marginal_use for p in points if math.isfinite(p.marginal_use))
    if not shown or len(points) < 2:
        return None
    low = min(0.0, shown[0])
    high = max(min(shown[-1], 3 * shown[len(shown) // 2]), low + 0.001)
    first, last = float(points[0].width_mm), float(points[-1].width_mm)

    def x(width: float) -> str:
        return f"{_LEFT + (width - first) / (last - first) * (_WIDE - _LEFT - _RIGHT):.1f}"

    def y(use: float) -> str:
        share = (min(use, high) - low) / (high - low)
        return f"{_HIGH - _FOOT - share * (_HIGH - _TOP - _FOOT):.1f}"

    steps = [k / _GRID for k in range(_GRID + 1)]
    scales = [(low + k * (high - low), first + k * (last - first)) for k in steps]
    return _CurveDrawing(
        path="".join(
            f"{pen}{x(float(p.width_mm))} {y(p.marginal_use)}" for pen, p in _strokes(points)
        ),
        grid=tuple(
            (y(use), f"{round(use, 2) + 0.0:.2f}", x(mm), units.said(mm, "diameter"))
            for use, mm in scales
        ),
        valleys=tuple((x(float(p.width_mm)), y(p.marginal_use)) for p in curve.valleys),
        asked=(x(float(asked_mm)), units.said(asked_mm, "mm"))
        if first <= asked_mm <= last
        else None,
    )


def _strokes(points: Sequence[CurvePoint]) -> Iterator[tuple[str, CurvePoint]]:
    """Give the points that can be made, each with whether the pen moves or draws to it."""
    pen = "M"
    for point in points:
        if math.isfinite(point.marginal_use):
            yield pen, point
            pen = "L"
        else:
            pen = "M"
