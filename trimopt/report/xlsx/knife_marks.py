"""What is written into a picture drawn across cells: widths and orders, knives."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.plan.model import Block
from trimopt.report.pattern_geometry import Strip
from trimopt.report.words.figures import number

__all__ = ["CELLS", "KnifeMark", "knife_marks", "strip_words"]

CELLS = 116
"""Columns of the grid that a set is drawn across."""

_ZERO = Fraction(0)
_PIXELS = 8  # to a column of the grid


@dataclass(frozen=True, slots=True, kw_only=True)
class KnifeMark:
    """The figure of a knife under the picture: columns of the grid, and the line it stands in."""

    text: str
    moved: bool
    cut: int  # columns that lie in front of the knife
    first: int
    last: int
    level: int


def knife_marks(block: Block) -> tuple[KnifeMark, ...]:
    """Place the figure of each knife under its cut, in as many lines as keep them apart."""
    whole = block.edge_front_mm + block.edge_back_mm
    whole += sum((p.width_mm for p in block.positions), _ZERO)
    ends: list[int] = []
    marks: list[KnifeMark] = []
    for knife, moved in zip(block.knives_mm, block.knives_moved, strict=True):
        text = f"▲ {number(knife)}" if moved else number(knife)
        cells = -(-(7 * len(text) + 8) // _PIXELS)
        cut = int(CELLS * knife / whole + Fraction(1, 2)) if whole else 0
        first = min(max(cut + 1 - cells // 2, 1), CELLS - cells + 1)
        level = next((i for i, end in enumerate(ends) if end < first), len(ends))
        if level == len(ends):
            ends.append(0)
        ends[level] = first + cells - 1
        marks.append(
            KnifeMark(text=text, moved=moved, cut=cut, first=first, last=ends[level], level=level)
        )
    return tuple(marks)


def strip_words(strip: Strip, cells: int) -> tuple[str, float, int]:
    """Choose what fits into a strip: its words, the size of type, and whether they are turned."""
    if strip.kind in ("edge", "broke"):
        return "", 9, 0
    width, order = number(strip.width_mm), strip.order
    for size, pixels in ((14, 10.5), (12, 9.0), (10, 7.5)):
        if max(len(width), len(order)) * pixels + 6 <= cells * _PIXELS:
            return f"{width}\n{order}", size, 0
    if len(width) * 7.5 + 4 <= cells * _PIXELS:
        return width, 10, 0
    return (width, 10, 90) if cells >= 2 else ("", 9, 0)
