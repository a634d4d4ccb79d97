"""What is written into a picture drawn across cells: widths and orders, knives."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.plan.model import Block
from trimopt.report.pattern_geometry import WebStrip, levels_of
from trimopt.report.words.units import Units

CELLS = 116
"""Columns of the grid that a set is drawn across."""

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


def knife_marks(block: Block, units: Units) -> tuple[KnifeMark, ...]:
    """Place the figure of each knife under its cut, in as many lines as keep them apart."""
    whole = block.edge_front_mm + block.across_mm + block.edge_back_mm
    moved = block.knives_moved
    figures = [units.place(knife) for knife in block.knives_mm]
    texts = [f"▲ {at}" if moves else at for at, moves in zip(figures, moved, strict=True)]
    cuts = [int(CELLS * k / whole + Fraction(1, 2)) if whole else 0 for k in block.knives_mm]
    boxes = []
    for text, cut in zip(texts, cuts, strict=True):
        cells = -(-(7 * len(text) + 8) // _PIXELS)
        first = min(max(cut + 1 - cells // 2, 1), CELLS - cells + 1)
        boxes.append((first, first + cells))
    return tuple(
        KnifeMark(text=text, moved=moves, cut=cut, first=first, last=end - 1, level=level)
        for text, moves, cut, (first, end), level in zip(
            texts, moved, cuts, boxes, levels_of(boxes), strict=True
        )
    )


def strip_words(strip: WebStrip, cells: int, units: Units) -> tuple[str, float, int]:
    """Choose what fits into a strip: its words, the size of type, and whether they are turned."""
    if strip.kind in ("edge", "broke"):
        return "", 9, 0
    width, order = units.bare(strip.width_mm, "mm"), strip.order
    for size, pixels in ((14, 10.5), (12, 9.0), (10, 7.5)):
        if max(len(width), len(order)) * pixels + 6 <= cells * _PIXELS:
            return f"{width}\n{order}", size, 0
    if len(width) * 7.5 + 4 <= cells * _PIXELS:
        return width, 10, 0
    return (width, 10, 90) if cells >= 2 else ("", 9, 0)
