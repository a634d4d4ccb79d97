"""Named styles of the workbooks' cells, and the number format of each kind of figure.

Made for black and white print: meaning is carried by words, weight, boxes and hatching, never by
colour alone. One typeface that every spreadsheet program has or has a match for.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from trimopt.report.table_columns import Value

FACE = "Arial"
INK = "#1C1C1C"
RULE = "#8A8A8A"
_PALE = "#EDEDED"

_THIN, _MEDIUM = 1, 2  # kinds of line, as the workbook library numbers them
_UNDER = {"bottom": _THIN, "bottom_color": RULE}
_BOX = {"border": _THIN, "border_color": RULE}
_STRIP_BOX = {"border": _MEDIUM, "border_color": INK}
_NUMBER = {**_UNDER, "align": "right", "indent": 1}
_TEXT = {**_UNDER, "text_wrap": True, "indent": 1}
_STRIP: dict[str, Any] = {**_STRIP_BOX, "align": "center", "bold": True}

HATCH = {"pattern": 14, "fg_color": "#555555", "bg_color": "#FFFFFF"}  # thin lines, rising

STYLES: dict[str, dict[str, Any]] = {
    "title": {"font_size": 18, "bold": True},
    "section": {"font_size": 13, "bold": True, "bottom": _MEDIUM, "bottom_color": INK},
    "band": {"font_size": 14, "bold": True, "font_color": "#FFFFFF", "bg_color": INK},
    "heading": {**_BOX, "bold": True, "bg_color": _PALE, "text_wrap": True, "align": "center"},
    "label": {"font_size": 10, "font_color": "#444444"},
    "text": _TEXT,
    "number": _NUMBER,
    "strong": {**_TEXT, "bold": True},
    "strong number": {**_NUMBER, "bold": True},
    "note": {"font_size": 10, "italic": True, "text_wrap": True, "valign": "top"},
    "line": {"text_wrap": True, "valign": "top"},
    "given": {**_BOX, "bg_color": _PALE, "text_wrap": True, "indent": 1},
    "entry": {**_BOX, "bg_color": "#FFFFFF", "text_wrap": True, "indent": 1},
    "plain": {"font_size": 10},
    # Of the slitter plan.
    "fact": {"bold": True, "shrink": True},
    "place": {"font_size": 10, "font_color": "#444444", "align": "center", "shrink": True},
    "cell": {**_UNDER, "shrink": True, "indent": 1},
    "head": {**_BOX, "bold": True, "bg_color": _PALE, "align": "center", "shrink": True},
    "strip reel": _STRIP,
    "strip edge": {**_STRIP, **HATCH},
    "strip sheeter": {**_STRIP, "bg_color": "#E2E2E2"},
    "strip broke": {
        **_STRIP, "bg_color": "#F6F6F6", "diag_type": 3, "diag_border": _THIN, "diag_color": INK,
    },
    "knife": {"font_size": 10, "align": "center"},
    "knife moved": {
        "font_size": 10, "bold": True, "font_color": "#FFFFFF", "bg_color": INK, "align": "center",
    },
    "knife lead": {"left": _THIN, "left_color": RULE},
}  # fmt: skip
"""Properties of each style in the words of XlsxWriter; the face, 11 points, middle of the row."""

FRACTION = "# ??/??"
"""Of inches: a cell stays a number that adds up, and reads 54 11/16."""

_FIXED = {
    "inch": FRACTION,
    "decimal inch": "0.####",
    "plain": "General",
    "diameter": "#,##0",
    "kg": "#,##0",
    "t": "#,##0.00",
    "share": "0.00%",
    "m": "#,##0",
    "min": "#,##0.0",
}


def blank_format(kind: str, *, fractions: bool) -> str:
    """Give the format of a cell to be filled in: 3/4 typed where inches stand is no date."""
    return FRACTION if fractions and kind in ("mm", "core", "diameter") else "General"


def number_format(value: Value, kind: str) -> str:
    """Give the number format for a value of a kind, with decimals only where it has some."""
    if value is None or isinstance(value, str):
        return "General"
    if isinstance(value, datetime):
        return "yyyy-mm-dd hh:mm" if kind == "time" else "d mmm hh:mm"
    if isinstance(value, date):
        return "yyyy-mm-dd"
    if kind in _FIXED:
        return _FIXED[kind]
    if float(value) == int(value):
        return "#,##0"
    return "#,##0.0###" if kind in ("mm", "core") else "#,##0.0"
