"""A set seen from above, as strips from the front side: what every picture of it is drawn from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trimopt.plan.model import Block


@dataclass(frozen=True, slots=True, kw_only=True)
class WebStrip:
    """Part of the web between two cuts, or between a cut and the web's edge."""

    kind: str  # "edge", "reel", "sheeter" or "broke"
    number: int | None  # position from the front side; None for an edge strip
    order: str
    from_mm: Fraction
    to_mm: Fraction

    @property
    def width_mm(self) -> Fraction:
        return self.to_mm - self.from_mm


def strips_of(block: Block) -> tuple[WebStrip, ...]:
    """Give the strips of a block from the front side, edge trim included.

    Edge strips of no width are left out, so that every strip can be drawn.
    """
    found: list[WebStrip] = []
    at = Fraction(0)

    def add(kind: str, width_mm: Fraction, number: int | None = None, order: str = "") -> None:
        nonlocal at
        if width_mm > 0:
            found.append(
                WebStrip(kind=kind, number=number, order=order, from_mm=at, to_mm=at + width_mm)
            )
        at += width_mm

    add("edge", block.edge_front_mm)
    for position in block.positions:
        add(position.kind, position.width_mm, position.number, position.order)
    add("edge", block.edge_back_mm)
    return tuple(found)


def spans(
    widths: Sequence[Fraction], cells: int, min_cells: int = 1
) -> tuple[tuple[int, int], ...]:
    """Share `cells` equal cells out over `widths`, to scale, `min_cells` to each at the least.

    Cuts are rounded to the nearest cell where they stand, so errors do not add up: no cut is drawn
    more than half a cell from its place unless a strip is narrower than the cells it has.

    Parameters
    ----------
    widths : sequence of Fraction
        Widths of the strips in order, mm, all above zero.
    cells : int
        Cells to fill, enough for all strips.

    Returns
    -------
    tuple of (int, int)
        First cell and the cell after the last one, from 0.

    Raises
    ------
    ValueError
        When there are fewer.

    Examples
    --------
    >>> spans([Fraction(25), Fraction(700), Fraction(275)], 10)
    ((0, 1), (1, 7), (7, 10))
    """
    count = len(widths)
    if cells < min_cells * count:
        raise ValueError(f"{count} strips need at least {min_cells * count} cells, not {cells}")
    total = sum(widths, Fraction(0))
    cuts = [0]
    done = Fraction(0)
    for index, width in enumerate(widths):
        done += width
        nearest = int(cells * done / total + Fraction(1, 2)) if total else index + 1
        behind = min_cells * (count - index - 1)
        cuts.append(min(max(nearest, cuts[-1] + min_cells), cells - behind))
    return tuple(pairwise(cuts))


def levels_of(boxes: Sequence[tuple[float, float]]) -> tuple[int, ...]:
    """Choose a line for each figure, given where it begins and ends, so that none cover another.

    >>> levels_of([(0, 4), (3, 7), (4, 8)])
    (0, 1, 0)
    """
    ends: list[float] = []
    levels: list[int] = []
    for begin, end in boxes:
        level = next((at for at, last in enumerate(ends) if last <= begin), len(ends))
        ends[level : level + 1] = [end]
        levels.append(level)
    return tuple(levels)
