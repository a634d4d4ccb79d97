"""Pictures of sets in characters, in what a terminal's locale can show."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.plan.model import Block
from trimopt.report.pattern_geometry import WebStrip, spans, strips_of
from trimopt.report.words.units import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The characters that a picture is made of."""

    cut: str
    edge: str
    broke: str
    sheeter: str
    moved: str
    chosen: str
    bar: str


UNICODE = Marks(cut="│", edge="▒", broke="×", sheeter="·", moved="▲", chosen="◄", bar="█")
ASCII = Marks(cut="|", edge="/", broke="x", sheeter=".", moved="^", chosen="<", bar="#")


def fitting_marks(encoding: str) -> Marks:
    """Give the characters that a terminal of that encoding can show."""
    try:
        "│▒×·▲◄█ø–".encode(encoding)
    except (LookupError, UnicodeEncodeError):
        return ASCII
    return UNICODE


def draw(block: Block, width: int, marks: Marks, units: Units) -> tuple[str, str]:
    """Draw a set to scale in two lines: widths, and orders, where they fit.

    A strip that is too narrow for its order has the number of its position.

    Parameters
    ----------
    width : int
        Characters to a line.

    Returns
    -------
    tuple of str
        Both lines, each of `width` characters or as many as the strips need.
    """
    strips = strips_of(block)
    # Every strip takes its inside and the cut to its right; the first cut takes one more.
    cells = max(width - 1, 2 * len(strips))
    shares = spans([strip.width_mm for strip in strips], cells, min_cells=2)
    upper, lower = marks.cut, marks.cut
    for strip, (start, end) in zip(strips, shares, strict=True):
        room = end - start - 1
        name = strip.order if len(strip.order) <= room else str(strip.number)
        upper += _inside(strip, units.bare(strip.width_mm, "mm"), room, marks) + marks.cut
        lower += _inside(strip, name, room, marks) + marks.cut
    return upper, lower


def _inside(strip: WebStrip, text: str, room: int, marks: Marks) -> str:
    fill = {"edge": marks.edge, "broke": marks.broke, "sheeter": marks.sheeter}.get(strip.kind, " ")
    if strip.kind in ("edge", "broke") or len(text) > room:
        return fill * room
    if fill == " " or len(text) + 2 > room:
        return text.center(room, fill if len(text) + 2 <= room else " ")
    return f" {text} ".center(room, fill)


def bar(value: float, most: float, width: int, marks: Marks) -> str:
    """Draw `value` as a bar; `most` fills the width.

    >>> bar(5, 10, 8, ASCII)
    '####'
    """
    if most <= 0 or value <= 0:
        return ""
    share = Fraction(value) / Fraction(most)
    return marks.bar * max(1, min(width, int(width * share + Fraction(1, 2))))
