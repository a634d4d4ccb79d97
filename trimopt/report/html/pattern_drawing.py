"""A set as it is drawn on a page, to scale; the template draws what stands here."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.plan.model import Block
from trimopt.report.pattern_geometry import WebStrip, levels_of, strips_of
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

_WIDE = 1000
_DIGIT = 7.2  # width of a character at the size of the knife positions


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A block's set from above: strips from the front side, knives below with those that move.

    Lengths are in units of the drawing, `scale` of them to a millimetre.
    """

    strips: tuple[WebStrip, ...]
    knives: tuple[tuple[float, str, bool, int], ...]  # place, figure, moved, line of the figure
    scale: float
    words: str
    wide: int = _WIDE
    digit: float = _DIGIT


def drawing_of(block: Block, units: Units) -> Drawing:
    """Work out the drawing of a block's set."""
    strips = strips_of(block)
    scale = _WIDE / float(strips[-1].to_mm if strips else Fraction(1))
    places = [float(knife) * scale for knife in block.knives_mm]
    figures = [units.place(knife) for knife in block.knives_mm]
    halves = [(len(figure) * _DIGIT + 12) / 2 for figure in figures]
    levels = levels_of(
        [
            (max(at, half) - half, max(at, half) + half)
            for at, half in zip(places, halves, strict=True)
        ]
    )
    words = ", ".join(f"{units.said(strip.width_mm, 'mm')} {_kind(strip)}" for strip in strips)
    return Drawing(
        strips=strips,
        knives=tuple(zip(places, figures, block.knives_moved, levels, strict=True)),
        scale=scale,
        words=text("strip.from_front", strips=words),
    )


def _kind(strip: WebStrip) -> str:
    if strip.kind in ("edge", "broke"):
        return text("strip.edge" if strip.kind == "edge" else "strip.broke_reel")
    return text("strip.order", order=strip.order)
