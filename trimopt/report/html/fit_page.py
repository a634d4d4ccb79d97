"""An answer to an enquiry as one page of HTML: no scripts, nothing fetched, the curve as SVG."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.plan.codec import write_whole
from trimopt.report.html.page_style import SHEET
from trimopt.report.words.fit_words import (
    ESTIMATE,
    assumed_words,
    before_and_after,
    helped_words,
    paper_words,
    use_words,
)
from trimopt.report.words.plan_words import number, percent
from trimopt.text import for_page as _t

if TYPE_CHECKING:
    from trimopt.fit import Answer, Curve, CurvePoint, Riding
    from trimopt.mill.model import Mill

__all__ = ["fit_page_html", "write_fit_page"]

_CAUTION = (
    "A planning document. The machine builder's manual, site rules and local law prevail. It "
    "authorises no adjustment. Check reel mass against the lifting limits. Only trained people "
    "work at winder nips, knives and heavy reels."
)
_LOOK = """
svg.curve { width: 100%; height: auto; display: block; }
.curve path { fill: none; stroke: var(--ink); stroke-width: 1.6; }
.curve .grid { stroke: var(--rule); stroke-width: 1; }
.curve .asked { stroke: var(--warn); stroke-width: 2; stroke-dasharray: 6 4; }
.curve .valley { fill: var(--ink); stroke: none; }
.curve text { font-size: 13px; }
.curve text.y { text-anchor: end; }
.curve text.asked { fill: var(--warn); stroke: none; font-weight: bold; }
.answer { font-size: 1.35rem; font-weight: bold; margin: .8rem 0; }
"""
_WIDE, _HIGH = 1000, 300
_LEFT, _RIGHT, _TOP, _FOOT = 64, 44, 26, 34


def write_fit_page(answer: Answer, mill: Mill, path: Path) -> None:
    """Write the page of an answer, whole or not at all.

    Raises
    ------
    ReportError
        The file cannot be written.
    """
    write_whole(path, fit_page_html(answer, mill))


def fit_page_html(answer: Answer, mill: Mill) -> str:
    """Give the page of an answer as text; what came from outside is escaped."""
    enquiry = answer.enquiry
    width = number(enquiry.width_mm)
    size = f"{width} mm" if enquiry.chop_mm is None else f"{width} × {number(enquiry.chop_mm)} mm"
    title = f"Does {size} fit?"
    source = f", plan {answer.from_plan}" if answer.from_plan else ""
    header = (
        f"<header><h1>{_t(title)}</h1><p>{_t(mill.name)}, {_t(enquiry.grade)} "
        f"{enquiry.grammage_gsm:g} g/m²{_t(source)}. {number(enquiry.quantity)} "
        f"{_t(enquiry.unit.value)} asked for; {_t(assumed_words(enquiry))}.</p></header>"
    )
    body = [
        header,
        f'<p class="answer">{_t(answer.line)}</p>',
    ]
    body += [f"<p>Note: {_t(note)}.</p>" for note in answer.notes]
    if answer.riding is not None:
        body.append(_riding(answer.riding))
    if answer.curve is not None and not answer.stop:
        body.append(_curve(answer.curve, float(enquiry.width_mm)))
    if answer.helps:
        body.append(_helps(answer))
    if answer.alone:
        body.append(_alone(answer))
    body.append(f"<footer>{_t(_CAUTION)}</footer>")
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>{_t(title)}</title><style>{SHEET}{_LOOK}</style></head>\n<body>\n"
        + "\n".join(body)
        + "\n</body></html>\n"
    )


def _table(headings: Sequence[str], rows: Iterable[Sequence[str]], kinds: str) -> str:
    """Give a table of escaped cells; `kinds` has a letter a column, n for a number."""
    marks = ["" if kind == "t" else ' class="n"' for kind in kinds]
    head = "".join(f"<th{m}>{_t(h)}</th>" for h, m in zip(headings, marks, strict=True))
    lines = "".join(
        "<tr>" + "".join(f"<td{m}>{c}</td>" for c, m in zip(row, marks, strict=True)) + "</tr>"
        for row in rows
    )
    whole = f"<thead><tr>{head}</tr></thead><tbody>{lines}</tbody>"
    return f'<div class="wide"><table>{whole}</table></div>'


def _riding(riding: Riding) -> str:
    figures = [
        (_t(label).replace("  ", "&emsp;"), before, after)
        for label, before, after in before_and_after(riding)
    ]
    sets = [
        (
            str(row.sets),
            f"{row.length_m:,}",
            "any" if row.core_mm is None else f"{row.core_mm:g}",
            f"{row.diameter_mm:,.0f}",
            _t(", ".join(f"{n} × {number(w)} mm {order}" for order, w, n in row.across)),
            number(row.trim_mm),
        )
        for row in riding.sets
    ]
    headings = ("Sets", "Length m", "Core mm", "Diameter mm", "Across", "Trim of deckle mm")
    return (
        "<section><h2>With the book</h2>"
        f"<p>{_t(paper_words(riding))}; {riding.sets_kept} of {riding.before.sets} planned sets "
        f"stay as they are. {_t(use_words(riding))}.</p>"
        + _table(("", "Before", "After"), figures, "tnn")
        + "<h3>Sets in which it is made</h3>"
        + _table(headings, sets, "nnnntn")
        + "</section>"
    )


def _curve(curve: Curve, asked_mm: float) -> str:
    rows = []
    if curve.asked is not None:
        rows.append(_point(curve.asked, "<b>asked for</b>"))
    rows += [_point(point, "") for point in curve.valleys]
    headings, kinds = ["Width mm", "Estimate t per t", "Core mm", "Set m", "Ups", ""], "nnnnnt"
    if all(point.ups is None for point in curve.points):
        rows = [(*row[:4], row[5]) for row in rows]
        headings.remove("Ups")
        kinds = "nnnnt"
    table = _table(headings, rows, kinds)
    return (
        "<section><h2>What each width costs in paper</h2><p>Tonnes of extra paper for a tonne "
        f"delivered, {_t(ESTIMATE)}.</p>"
        f"{_drawing(curve.points, curve.valleys, asked_mm)}"
        f"<h3>Lowest estimates nearby</h3>{table}</section>"
    )


def _point(point: CurvePoint, note: str) -> tuple[str, ...]:
    return (
        number(point.width_mm),
        f"{point.marginal_use:.3f}",
        "" if point.core_mm is None else f"{point.core_mm:g}",
        f"{point.length_m:,}",
        "" if point.ups is None else str(point.ups),
        note,
    )


def _drawing(points: Sequence[CurvePoint], valleys: Sequence[CurvePoint], asked_mm: float) -> str:
    """The curve as SVG; values above three times the median are cut off at the top."""
    shown = sorted(p.marginal_use for p in points if math.isfinite(p.marginal_use))
    if not shown or len(points) < 2:
        return "<p>No width can be made.</p>"
    low = min(0.0, shown[0]) if shown[0] < 0.5 or shown[-1] > 2 else shown[0]
    high = max(min(shown[-1], 3 * shown[len(shown) // 2]), low + 0.001)
    first, last = float(points[0].width_mm), float(points[-1].width_mm)

    def x(width: float) -> float:
        return _LEFT + (width - first) / (last - first) * (_WIDE - _LEFT - _RIGHT)

    def y(use: float) -> float:
        share = (min(use, high) - low) / (high - low)
        return _HIGH - _FOOT - share * (_HIGH - _TOP - _FOOT)

    path, pen = [], "M"
    for point in points:
        if not math.isfinite(point.marginal_use):
            pen = "M"
            continue
        path.append(f"{pen}{x(float(point.width_mm)):.1f} {y(point.marginal_use):.1f}")
        pen = "L"
    parts = []
    for k in range(5):
        value = low + k * (high - low) / 4
        parts.append(
            f'<line class="grid" x1="{_LEFT}" x2="{_WIDE - _RIGHT}" y1="{y(value):.1f}" '
            f'y2="{y(value):.1f}"/><text class="y" x="{_LEFT - 6}" y="{y(value) + 4:.1f}">'
            f"{value:.2f}</text>"
        )
        width = first + k * (last - first) / 4
        parts.append(f'<text x="{x(width):.1f}" y="{_HIGH - 12}">{width:,.0f} mm</text>')
    parts.append(f'<path d="{"".join(path)}"/>')
    parts += [
        f'<circle class="valley" r="4" cx="{x(float(point.width_mm)):.1f}" '
        f'cy="{y(point.marginal_use):.1f}"/>'
        for point in valleys
    ]
    if first <= asked_mm <= last:
        at = x(asked_mm)
        parts.append(
            f'<line class="asked" x1="{at:.1f}" x2="{at:.1f}" y1="{_TOP}" y2="{_HIGH - _FOOT}"/>'
            f'<text class="asked" x="{at:.1f}" y="{_TOP - 8}">{asked_mm:g} mm</text>'
        )
    return (
        f'<svg class="curve" viewBox="0 0 {_WIDE} {_HIGH}" role="img" '
        f'aria-label="Extra paper by width">{"".join(parts)}</svg>'
    )


def _helps(answer: Answer) -> str:
    rows = "".join(f"<li>{_t(helped_words(helped))}</li>" for helped in answer.helps)
    heading = "What would help, each placed into the plan, the best first"
    return f"<section><h2>{heading}</h2><ul>{rows}</ul></section>"


def _alone(answer: Answer) -> str:
    rows = [
        (
            f"{row.core_mm:g}",
            f"{row.length_m:,}",
            f"{row.diameter_mm:,.0f}",
            number(row.reel_mm),
            "" if row.ups is None else str(row.ups),
            str(row.across),
            number(row.trim_mm),
            percent(row.trim_share, 1),
        )
        for row in answer.alone
    ]
    headings = (
        "Core mm", "Set up to m", "Diameter mm", "Reel mm", "Ups", "Across", "Trim mm",
        "Trim of deckle",
    )  # fmt: skip
    return f"<section><h2>Alone across the deckle</h2>{_table(headings, rows, 'n' * 8)}</section>"
