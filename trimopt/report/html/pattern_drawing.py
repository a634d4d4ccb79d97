"""A set as it is drawn on a page, to scale: where its strips, knives and labels stand."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.plan.model import Block
from trimopt.report.html.page_writer import rendered
from trimopt.report.pattern_geometry import Strip, strips_of
from trimopt.report.words.figures import number
from trimopt.report.words.texts import text

__all__ = ["Drawing", "drawing_of", "picture_svg"]

_WIDE = 1000
_TOP, _TALL = 4, 64
_BASE = _TOP + _TALL
_LEVEL = 15  # between lines of knife positions
_DIGIT = 7.2  # width of a character at the size of the knife positions


@dataclass(frozen=True, slots=True, kw_only=True)
class _Label:
    name: str  # class of its style
    x: str
    y: int
    words: str
    turned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _DrawnStrip:
    kind: str
    left: str
    right: str
    width: str
    labels: tuple[_Label, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _DrawnKnife:
    name: str  # class of its style
    left: str
    at: str
    right: str
    middle: str  # of its figure
    level: int
    low: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A block's set from above: strips from the front side, knives below with those that move."""

    strips: tuple[_DrawnStrip, ...]
    knives: tuple[_DrawnKnife, ...]
    words: str
    high: int
    wide: int = _WIDE
    top: int = _TOP
    tall: int = _TALL
    base: int = _BASE


def picture_svg(block: Block) -> str:
    """Give the picture of a block's set as SVG."""
    return rendered("picture.j2", block=block, drawing=drawing_of)


def drawing_of(block: Block) -> Drawing:
    """Work out the drawing of a block's set."""
    strips = strips_of(block)
    whole = strips[-1].to_mm if strips else Fraction(1)
    scale = _WIDE / float(whole)
    levels = _levels(block, scale)
    knives = zip(block.knives_mm, block.knives_moved, levels, strict=True)
    words = ", ".join(f"{number(strip.width_mm)} mm {_kind(strip)}".strip() for strip in strips)
    return Drawing(
        strips=tuple(_strip(strip, scale) for strip in strips),
        knives=tuple(
            _knife(float(knife) * scale, number(knife), level, moved=moved)
            for knife, moved, level in knives
        ),
        words=text("strip.from_front", strips=words),
        high=_BASE + 16 + _LEVEL * (max(levels, default=0) + 1),
    )


def _kind(strip: Strip) -> str:
    if strip.kind in ("edge", "broke"):
        return text("strip.edge" if strip.kind == "edge" else "strip.broke_reel")
    return text("strip.order", order=strip.order)


def _strip(strip: Strip, scale: float) -> _DrawnStrip:
    left, wide = float(strip.from_mm) * scale, float(strip.width_mm) * scale
    drawn = strip.kind in ("edge", "broke")
    return _DrawnStrip(
        kind=strip.kind,
        left=f"{left:.2f}",
        right=f"{left + wide:.2f}",
        width=f"{wide:.2f}",
        labels=() if drawn else _labels(strip, left + wide / 2, wide),
    )


def _labels(strip: Strip, middle: float, wide: float) -> tuple[_Label, ...]:
    """Give what fits into a strip: its width and order; its width, turned where it is narrow."""
    width, x = number(strip.width_mm), f"{middle:.2f}"
    if len(width) * 11 + 6 <= wide:
        labels = [_Label(name="width", x=x, y=_TOP + 30, words=width)]
        if len(strip.order) * 7.6 + 4 <= wide:
            labels.append(_Label(name="order", x=x, y=_TOP + 49, words=strip.order))
        return tuple(labels)
    if wide < 14:
        return ()
    x = f"{middle + 4:.2f}"
    return (_Label(name="order", x=x, y=_TOP + _TALL // 2, words=width, turned=True),)


def _levels(block: Block, scale: float) -> tuple[int, ...]:
    """Choose a line for each knife's position, so that figures do not run into each other."""
    ends: list[float] = []
    levels: list[int] = []
    for knife in block.knives_mm:
        half = (len(number(knife)) * _DIGIT + 12) / 2
        left = max(float(knife) * scale, half) - half
        level = next((i for i, end in enumerate(ends) if end <= left), len(ends))
        if level == len(ends):
            ends.append(0.0)
        ends[level] = left + 2 * half
        levels.append(level)
    return tuple(levels)


def _knife(x: float, words: str, level: int, *, moved: bool) -> _DrawnKnife:
    half = len(words) * _DIGIT / 2
    return _DrawnKnife(
        name="knife moved" if moved else "knife",
        left=f"{x - 5:.2f}",
        at=f"{x:.2f}",
        right=f"{x + 5:.2f}",
        middle=f"{min(max(x, half), _WIDE - half):.2f}",
        level=level,
        low=_BASE + 12 + _LEVEL * level,
        words=words,
    )
