"""The most that a set can be worth at given prices: a plain table over pieces and width.

A set is what the winder allows: pieces side by side inside the width, no more of them and of broke
reels than there are stations, edge strips no wider than the greatest, no-edge reels inside. The
table holds, for every number of pieces and every exact width, the best value; sets that leave too
wide a strip are looked at with the broke reels that they need.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trimopt.paper import common_step

_MAX_CELLS = 16_000_000  # of one table; a finer unit is refused, not waited for
_SMALL = 2**60


class TooFineError(ValueError):
    """The widths have too fine a common step for the table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedReel:
    """A reel that may lie in the set, and what it is worth at the prices; below 0 too."""

    width_mm: Fraction
    value: int
    no_edge: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLimits:
    """What a set may hold.

    Reels and broke reels lie inside `width_mm`. What reels leave of it up to `strip_mm` goes with
    the edge strips; beyond that broke reels take the rest, each from `min_broke_mm` to
    `max_broke_mm`. `strip_mm` None: the strips may be of any width.
    """

    width_mm: Fraction
    strip_mm: Fraction | None
    min_broke_mm: Fraction
    max_broke_mm: Fraction
    stations: int


def max_pattern_value(pieces: Sequence[PricedReel], limits: SetLimits) -> int:
    """The greatest value of an allowed set; 0 where none is worth more than an empty one.

    Parameters
    ----------
    pieces
        Each may be taken any number of times.
    limits
        What the winder allows.

    Raises
    ------
    TooFineError
        The table would be too large.
    """
    fitting = [piece for piece in pieces if 0 < piece.width_mm <= limits.width_mm]
    if not fitting or limits.stations < 1:
        return 0
    step = common_step([piece.width_mm for piece in fitting])
    columns = math.floor(limits.width_mm / step) + 1
    if columns * (limits.stations + 1) > _MAX_CELLS:
        message = f"a step of {float(step):g} mm is too fine"
        raise TooFineError(message)
    plain = _best_by_width([piece for piece in fitting if not piece.no_edge], step)
    inside = _best_by_width([piece for piece in fitting if piece.no_edge], step)
    broke = _broke_reels(limits, step, columns)
    return _max_value(plain, inside, broke, limits.stations)


def _best_by_width(pieces: Sequence[PricedReel], step: Fraction) -> dict[int, int]:
    best: dict[int, int] = {}
    for piece in pieces:
        width = int(piece.width_mm / step)
        best[width] = max(piece.value, best.get(width, piece.value))
    return best


def _broke_reels(limits: SetLimits, step: Fraction, columns: int) -> NDArray[np.int64]:
    """Broke reels that a set of each used width needs; so many that it never fits where none do."""
    if limits.strip_mm is None:
        return np.zeros(columns, dtype=np.int64)
    sizes = (step, limits.width_mm, limits.strip_mm, limits.min_broke_mm, limits.max_broke_mm)
    bottom = math.lcm(*(size.denominator for size in sizes))
    step_n, width_n, strip_n, min_n, max_n = (int(size * bottom) for size in sizes)
    kind: Any = np.int64 if width_n < _SMALL else object
    left = width_n - np.arange(columns, dtype=kind) * step_n
    beyond = left - strip_n
    # Rounded up: as many as keep each no wider than the greatest.
    needed = np.where(beyond > 0, np.maximum(1, -(-beyond // max_n)), 0).astype(np.int64)
    needed[(needed > 0) & (left < needed * min_n)] = limits.stations + 1
    return needed


def _max_value(
    plain: dict[int, int], inside: dict[int, int], broke: NDArray[np.int64], stations: int
) -> int:
    """The best of a table: rows are numbers of pieces so far, columns the exact width used.

    Plain pieces first, then no-edge ones on top of them; any order gives the same set.
    """
    greatest = max(abs(value) for value in (*plain.values(), *inside.values()))
    # Whole numbers of any size where 64 bits could overflow: slower and as exact.
    small = greatest * (stations + 1) < _SMALL
    kind: Any = np.int64 if small else object
    never = -2 * _SMALL if small else -(greatest + 1) * (stations + 2) * 4

    def empty() -> list[NDArray[Any]]:
        return [np.full(len(broke), never, dtype=kind) for _ in range(4)]

    def add(into: NDArray[Any], row: NDArray[Any], pieces: dict[int, int]) -> None:
        for width, value in pieces.items():
            part = into[width:]
            np.maximum(part, row[: len(row) - width] + value, out=part)

    def allowed(row: NDArray[Any], count: int, *, beside: int) -> int:
        """Best of a row whose sets have `beside` plain pieces (2 or more: 2) at the edges."""
        fits = (broke + count <= stations) & (broke + beside >= 2)
        return int(row[fits].max()) if fits.any() else 0

    best, rows = 0, empty()
    rows[3][0] = 0  # no piece yet
    for count in range(stations + 1):
        following = empty()
        best = max(best, allowed(rows[3], count, beside=2))
        add(following[3], rows[3], plain)
        for beside in range(3) if inside else ():
            best = max(best, allowed(rows[beside], count, beside=beside))
            add(following[beside], rows[beside], inside)
        if inside:
            add(following[min(count, 2)], rows[3], inside)
        rows = following
    return best
