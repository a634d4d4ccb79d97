"""Pictures of sets as SVG, to scale, for a page: drawn from numbers, every text escaped."""

from __future__ import annotations

from fractions import Fraction

from trimopt.plan.model import Block
from trimopt.report.pattern_geometry import Strip, strips_of
from trimopt.report.words.plan_words import number
from trimopt.text import for_page

__all__ = ["HATCHES", "picture_svg"]

_WIDE = 1000.0
_TOP, _TALL = 4.0, 64.0
_LEVEL = 15.0  # between lines of knife positions
_DIGIT = 7.2  # width of a character at the size of the knife positions

HATCHES = (
    '<svg class="hatches" width="0" height="0" aria-hidden="true"><defs>'
    '<pattern id="edge" width="7" height="7" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path class="hatch" d="M0 0V7" stroke-width="2.4"/></pattern>'
    '<pattern id="sheeter" width="8" height="8" patternUnits="userSpaceOnUse">'
    '<circle class="dot" cx="2" cy="2" r="1"/></pattern></defs></svg>'
)
"""Hatching that the pictures of a page refer to; it stands once on the page."""


def picture_svg(block: Block) -> str:
    """Give the picture of a block's set: strips to scale, knives below with those that move."""
    strips = strips_of(block)
    whole = strips[-1].to_mm if strips else Fraction(1)
    scale = _WIDE / float(whole)
    parts = [_strip(strip, scale) for strip in strips]
    levels = _levels(block, scale)
    for knife, moved, level in zip(block.knives_mm, block.knives_moved, levels, strict=True):
        parts.append(_knife(float(knife) * scale, number(knife), level, moved=moved))
    height = _TOP + _TALL + 16 + _LEVEL * (max(levels, default=0) + 1)
    words = ", ".join(f"{number(strip.width_mm)} mm {_kind(strip)}".strip() for strip in strips)
    return (
        f'<svg class="set" viewBox="-4 0 {_WIDE + 8:g} {height:g}" role="img">'
        f"<title>{for_page('From the front side: ' + words)}</title>{''.join(parts)}</svg>"
    )


def _kind(strip: Strip) -> str:
    return {"edge": "edge trim", "broke": "broke reel"}.get(strip.kind, f"order {strip.order}")


def _strip(strip: Strip, scale: float) -> str:
    left, wide = float(strip.from_mm) * scale, float(strip.width_mm) * scale
    box = f'x="{left:.2f}" y="{_TOP:g}" width="{wide:.2f}" height="{_TALL:g}"'
    drawn = f'<rect class="{for_page(strip.kind)}" {box}/>'
    if strip.kind == "broke":
        right, low = left + wide, _TOP + _TALL
        drawn += (
            f'<path class="cross" d="M{left:.2f} {_TOP:g}L{right:.2f} {low:g}'
            f'M{left:.2f} {low:g}L{right:.2f} {_TOP:g}"/>'
        )
    if strip.kind in ("edge", "broke"):
        return drawn
    middle = left + wide / 2
    width, order = number(strip.width_mm), strip.order
    if len(width) * 11 + 6 <= wide:
        drawn += f'<text class="width" x="{middle:.2f}" y="{_TOP + 30:g}">{for_page(width)}</text>'
        if len(order) * 7.6 + 4 <= wide:
            drawn += (
                f'<text class="order" x="{middle:.2f}" y="{_TOP + 49:g}">{for_page(order)}</text>'
            )
    elif wide >= 14:
        y = _TOP + _TALL / 2
        drawn += (
            f'<text class="order" transform="translate({middle + 4:.2f} {y:g}) rotate(-90)">'
            f"{for_page(width)}</text>"
        )
    return drawn


def _levels(block: Block, scale: float) -> tuple[int, ...]:
    """Choose a line for each knife's position, so that figures do not run into each other."""
    ends: list[float] = []
    chosen: list[int] = []
    for knife in block.knives_mm:
        half = (len(number(knife)) * _DIGIT + 12) / 2
        left = max(float(knife) * scale, half) - half
        level = next((i for i, end in enumerate(ends) if end <= left), len(ends))
        if level == len(ends):
            ends.append(0.0)
        ends[level] = left + 2 * half
        chosen.append(level)
    return tuple(chosen)


def _knife(x: float, text: str, level: int, *, moved: bool) -> str:
    base = _TOP + _TALL
    low = base + 12 + _LEVEL * level
    half = len(text) * _DIGIT / 2
    middle = min(max(x, half), _WIDE - half)
    name = "knife moved" if moved else "knife"
    mark = (
        f'<path class="{name}" d="M{x - 5:.2f} {base + 11:g}L{x:.2f} {base + 1:g}L{x + 5:.2f} '
        f'{base + 11:g}Z"/>'
    )
    line = f'<path class="lead" d="M{x:.2f} {base + 11:g}V{low:g}"/>' if level else ""
    return f'{mark}{line}<text class="{name}" x="{middle:.2f}" y="{low + 11:g}">{text}</text>'
