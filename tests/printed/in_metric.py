"""Outputs in inches, feet and pounds, put into metric words and figures, so that one reader reads
both. A length of web is whole metres: what is printed in feet is the metre next to it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any

from tests.printed.figures import exact

_ONE = r"(?:\d+/\d+|(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?(?: \d+/\d+)?)"
_SOME = rf"{_ONE}(?:(?:–| of | to ){_ONE})*"
_WITH_UNIT = re.compile(rf"({_SOME}|(?<=[Cc]ores ){_ONE}(?:, {_ONE})*) (in|ft|lb|short tons)\b")
_BARE = re.compile(rf"\b(front|back|Pattern trim|extra) ({_ONE})(?! in| \d|[\d/.])")
_LIST = re.compile(rf"(?:▲ )?{_ONE}(?:(?:–|, ){_ONE})*")
_POUND = Fraction(45359237, 100000000)
_METRIC = {"in": "mm", "ft": "m", "lb": "kg", "short tons": "t"}


_KEPT: dict[str, Callable[[Fraction], Fraction]] = {
    "in": lambda inches: inches * Fraction(254, 10),
    "ft": lambda feet: Fraction(round(feet * Fraction(3048, 10000))),
    "lb": lambda pounds: pounds * _POUND,
    "short tons": lambda tons: tons * 2 * _POUND,
}


def _each(text: str, unit: str) -> str:
    """All figures of a text that are in one unit."""

    def one(found: re.Match[str]) -> str:
        kept = _KEPT[unit](exact(found[0]))
        return f"{kept.numerator:,}" if kept.denominator == 1 else f"{float(kept):.12g}"

    return re.sub(_ONE, one, text)


def text_in_metric(text: str) -> str:
    """A line of text.

    >>> text_in_metric("4 × 12,428–12,431 ft, cores 3, 6 in, edge trim front 3/4, back 1 1/2 in")
    '4 × 3,788–3,789 m, cores 76.2, 152.4 mm, edge trim front 19.05, back 38.1 mm'
    """
    text = _BARE.sub(lambda found: f"{found[1]} {_each(found[2], 'in')}", text)
    return _WITH_UNIT.sub(lambda found: f"{_each(found[1], found[2])} {_METRIC[found[2]]}", text)


def terminal_in_metric(text: str) -> str:
    """What a terminal shows: with knives, and the table of the trade-off."""

    def trade(found: re.Match[str]) -> str:
        return found[1] + _each(found[2], "lb").replace(",", "") + found[3]

    whole = re.sub(r"(?m)^( +\d+ +)([\d,]+)( +[\d.]+ %.*)$", trade, text)

    def knives(found: re.Match[str]) -> str:
        return _each(found[0], "in").replace(", ", " ").replace(",\n", "\n")

    return text_in_metric(re.sub(rf"knives at [▲\s,]*{_ONE}(?:,\s+▲?{_ONE})*", knives, whole))


def rows_in_metric(rows: Sequence[Sequence[Any]], *, drawn: bool = False) -> list[list[Any]]:
    """Rows of cells with the tables in them: a heading says the unit of what stands below it.

    Where sets are `drawn`, bare figures above the tables are the places of knives.
    """
    units: dict[int, str] = {}
    heads: list[Any] = []
    found = []
    for row in rows:
        cells = list(row)
        some = [value for value in cells if value not in (None, "")]
        if len(some) == 1 or str(cells[0]).startswith(" BLOCK "):
            units = {}
        named = {at: unit for at, value in enumerate(cells) if (unit := _head_unit(value))}
        if named:
            units, heads = named, cells
            found.append([_heading(value) for value in cells])
        else:
            own = _units_of_row(cells, heads, units)
            if drawn and not units:
                own = {at: "in" for at, value in enumerate(cells) if isinstance(value, str)}
            found.append([_cell(value, own.get(at, "")) for at, value in enumerate(cells)])
    return found


def _head_unit(value: object) -> str:
    if not isinstance(value, str) or re.search(r"\d+ \w+$", value):
        return ""
    ending = re.search(r"[ \[](in|ft|lb|short tons)\]?$", value)
    return ending[1] if ending else ""


def _heading(value: object) -> object:
    unit = _head_unit(value)
    if not unit or not isinstance(value, str):
        return value
    return f"{value.removesuffix(f'[{unit}]').removesuffix(unit)}{_METRIC[unit]}"


def _units_of_row(
    cells: Sequence[Any], heads: Sequence[Any], units: dict[int, str]
) -> dict[int, str]:
    """Units by place; quantities of an order, and parts of the balance, say theirs in the row."""
    if len(cells) > 1 and cells[1] in ("lb", "kg"):
        return dict.fromkeys(range(1, len(cells)), cells[1] if cells[1] == "lb" else "")
    if "Unit" not in heads:
        return units
    unit = cells[heads.index("Unit")]
    own = {at: unit for at, name in enumerate(heads)
           if name in ("Unit", "Ordered", "Already made", "From stock", "Planned",
                       "Difference")}  # fmt: skip
    return units | (own if unit in _METRIC else {})


def _cell(value: object, unit: str) -> object:
    if isinstance(value, str):
        if unit and value == unit:
            return _METRIC[unit]
        if unit and _LIST.fullmatch(value):
            return _each(value, unit)
        return text_in_metric(value)
    if not unit or isinstance(value, bool) or not isinstance(value, (int, float)):
        return value
    kept = Fraction(repr(value)) * {"in": Fraction(254, 10), "ft": Fraction(3048, 10000)}.get(
        unit, _POUND if unit == "lb" else 2 * _POUND
    )
    near = round(float(kept), 9)  # a cell keeps fifteen digits
    return int(near) if unit == "ft" and near.is_integer() else near
