"""A lot in whole numbers: what can lie where, before anybody has chosen an order of the strips.

All positions of a run are multiples of one unit, the greatest common step of its widths, strips and
knives, so that nothing is rounded. It loses nothing: knives of two layouts can only stand on the
same place when their offsets leave the same remainder, and lowering all offsets to the next
multiple of the unit keeps both every such meeting and every limit, which are multiples themselves.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import ceil, floor, prod

import numpy as np
from numpy.typing import NDArray

from trimopt.errors import InfeasibleError
from trimopt.mill.model import Winder
from trimopt.winding.model import Lot, Strip

_Ints = NDArray[np.int64]
_MAX_STATES = 20_000  # sub-multisets; 14 strips of different widths have 16,384


@dataclass(frozen=True)
class SubsetTable:
    """Every sub-multiset of a shape's strips, fewest strips first.

    A knife between strips stands at the offset plus the widths of what lies in front of it: a
    sub-multiset. `sums` are those widths; `level[n] : level[n + 1]` are the ones of n strips;
    `before[n]` gives for each of them and each chain the sub-multiset without the chain's last
    strip in it, or `len(sums)` where there is none or that strip may not lie there.
    """

    sums: _Ints
    level: tuple[int, ...]
    before: tuple[_Ints, ...]


@dataclass(frozen=True)
class LotShape:
    """The geometry of a lot, in units. Equal shapes lay out alike, whatever the reels are for.

    `kinds` are (width, no-edge, broke) with `counts` of each; the front edge strip may be anything
    from `min_offset` to `max_offset` units wide. `broke_outside`: no strip lies outside a broke
    reel but another one.
    """

    kinds: tuple[tuple[int, bool, bool], ...]
    counts: tuple[int, ...]
    min_offset: int
    max_offset: int
    broke_outside: bool

    @property
    def strips(self) -> int:
        """Strips across the web, broke reels in them."""
        return sum(self.counts)

    @property
    def knives(self) -> int:
        """Knives it takes: one more than strips, since both edges are trimmed."""
        return self.strips + 1

    @property
    def broke(self) -> int:
        """Broke reels among the strips."""
        return sum(count for kind, count in zip(self.kinds, self.counts, strict=True) if kind[2])

    @cached_property
    def chains(self) -> tuple[tuple[int, ...], ...]:
        """Positions in `kinds` of strips that keep this order among themselves.

        One chain a kind, where the sub-multisets are few enough; else kinds share a chain, and
        the best layout is the best that keeps these orders.
        """
        chains = [(k,) * count for k, count in enumerate(self.counts)]
        while prod(len(chain) + 1 for chain in chains) > _MAX_STATES:
            # Broke reels keep a chain of their own: they may have to lie on either side.
            chains.sort(key=lambda chain: (self.kinds[chain[0]][2], -len(chain), chain))
            chains[:2] = [chains[0] + chains[1]]
        return tuple(chains)

    @cached_property
    def table(self) -> SubsetTable:
        """All sub-multisets; made once."""
        radix = []
        states = 1
        for chain in self.chains:
            radix.append(states)
            states *= len(chain) + 1
        code = np.arange(states, dtype=np.int64)
        digits = [code // r % (len(c) + 1) for r, c in zip(radix, self.chains, strict=True)]
        size = np.sum(digits, axis=0)
        order = np.argsort(size, kind="stable")
        place = np.empty(states, dtype=np.int64)
        place[order] = np.arange(states)
        sums = np.zeros(states, dtype=np.int64)
        before = np.full((states, len(self.chains)), states, dtype=np.int64)
        at_edge = (size == 1) | (size == self.strips)  # the strip added last lies at an edge
        is_broke = [[False, *(self.kinds[k][2] for k in chain)] for chain in self.chains]
        broke = sum(np.cumsum(b)[digit] for b, digit in zip(is_broke, digits, strict=True))
        plain = size - broke
        between = self.broke_outside & (plain > 0) & (plain < self.strips - self.broke)
        for c, (r, digit, chain) in enumerate(zip(radix, digits, self.chains, strict=True)):
            widths = [self.kinds[k][0] for k in chain]
            sums += np.cumsum([0, *widths])[digit]
            inside = np.array([False, *(self.kinds[k][1] for k in chain)])[digit]
            may = (digit > 0) & ~(inside & at_edge) & ~(np.array(is_broke[c])[digit] & between)
            before[may, c] = place[code[may] - r]
        before = before[order]
        bounds = np.searchsorted(size[order], np.arange(self.strips + 2))
        return SubsetTable(
            sums=sums[order],
            level=tuple(int(b) for b in bounds),
            before=tuple(before[bounds[n] : bounds[n + 1]] for n in range(self.strips + 1)),
        )

    @cached_property
    def knife_sums(self) -> tuple[_Ints, _Ints]:
        """Each (strips in front of a knife, their width in units) that can be, once."""
        t = self.table
        levels = np.repeat(np.arange(self.knives), np.diff(t.level))
        pairs = np.unique(np.stack([levels, t.sums]), axis=1)
        return pairs[0], pairs[1]

    @cached_property
    def sums_any(self) -> _Ints:
        """Widths, units, that any of its strips can take together; each once, rising."""
        return np.unique(self.table.sums)


def _refuse(lot: Lot, text: str) -> InfeasibleError:
    widths = " + ".join(f"{float(strip.width_mm):g}" for strip in lot.strips)
    return InfeasibleError(f"lot {lot.number} ({widths} mm) cannot be laid out: {text}")


def _mm(value: Fraction) -> str:
    return f"{float(value):g} mm"


def _broke_mm(lot: Lot, winder: Winder, web_mm: Fraction) -> tuple[Fraction, Fraction]:
    """The least that the lot's broke reels take together, and what they take if they can.

    They take as much as leaves the edge strips the most room to shift; where the web or the mass of
    the set allows no more than less, it is less.
    """
    count = lot.broke_reels
    reels_mm = sum((strip.width_mm for strip in lot.strips), Fraction(0))
    left_mm = web_mm - reels_mm
    min_edge, max_edge = winder.min_edge_trim_mm, winder.max_edge_trim_mm
    min_total = count * winder.narrowest_broke_mm
    if max_edge is not None:
        min_total = max(min_total, left_mm - 2 * max_edge)
    max_total = min(
        count * winder.max_reel_width_mm,
        left_mm - 2 * min_edge,
        winder.max_web_mm - reels_mm,
    )
    if lot.max_web_mm is not None:
        max_total = min(max_total, lot.max_web_mm - reels_mm)
    if min_total > max_total:
        raise _refuse(
            lot,
            f"{_mm(left_mm)} of the web are left, which {count} broke reel"
            f"{'s' if count > 1 else ''} of {_mm(winder.narrowest_broke_mm)} to "
            f"{_mm(winder.max_reel_width_mm)} and two edge strips of {_mm(min_edge)} to "
            f"{'any width' if max_edge is None else _mm(max_edge)} cannot take; "
            "change the number of broke reels or the pattern",
        )
    wanted = left_mm - min_edge - (max_edge if max_edge is not None else min_edge)
    return min_total, min(max(wanted, min_total), max_total)


def max_wound_mm(lot: Lot, winder: Winder, web_mm: Fraction) -> Fraction:
    """The most that a layout of the lot winds, broke reels in it."""
    wound_mm = sum((strip.width_mm for strip in lot.strips), Fraction(0))
    return wound_mm + _broke_mm(lot, winder, web_mm)[1] if lot.broke_reels else wound_mm


def _broke_widths(lot: Lot, winder: Winder, web_mm: Fraction, unit_mm: Fraction) -> list[int]:
    """Widths, units, of the lot's broke reels, each about equal."""
    count = lot.broke_reels
    if not count:
        return []
    min_mm, max_mm = _broke_mm(lot, winder, web_mm)
    min_total = ceil(min_mm / unit_mm)
    total = max(min_total, floor(max_mm / unit_mm))
    left = web_mm - sum((strip.width_mm for strip in lot.strips), Fraction(0))
    if not winder.web_shift and int(left / unit_mm) - total & 1:
        total += 1 if total == min_total else -1  # two equal edge strips take an even number
    return [(total + k) // count for k in range(count)]


def _check(lot: Lot, winder: Winder) -> None:
    """Raise where the winder cannot hold the lot, whatever the layout."""
    stations = len(lot.strips) + lot.broke_reels
    if not lot.strips or lot.broke_reels < 0:
        raise _refuse(lot, "it has no strips, or fewer than no broke reels")
    if stations > winder.max_reels:
        raise _refuse(lot, f"{stations} strips, and the winder takes {winder.max_reels}")
    if stations + 1 > winder.knives:
        raise _refuse(
            lot, f"{stations} strips take {stations + 1} knives, and there are {winder.knives}"
        )
    narrow = min(strip.width_mm for strip in lot.strips)
    if narrow < winder.min_knife_spacing_mm or narrow <= 0:
        raise _refuse(
            lot,
            f"{_mm(narrow)} is less than the least knife spacing, "
            f"{_mm(winder.min_knife_spacing_mm)}",
        )
    inside = sum(strip.no_edge for strip in lot.strips)
    if inside and stations - inside < 2:
        raise _refuse(
            lot,
            f"{inside} of its {stations} strips may not lie at an edge; two others must lie "
            "outside them, or broke reels",
        )


def shape_of(
    lot: Lot, winder: Winder, web_mm: Fraction, unit_mm: Fraction
) -> tuple[LotShape, tuple[Strip, ...]]:
    """The lot's geometry, and all its strips with the broke reels' widths chosen.

    Parameters
    ----------
    winder
        Edge trim, knives, stations, spacing and whether the web may be shifted. Where it may not,
        the set is centred on the web: two equal edge strips.
    web_mm
        Width of the jumbo.
    unit_mm
        Divides every width of the run (`run_unit_mm`); half of that where nothing is shifted.

    Raises
    ------
    InfeasibleError
        Where no layout obeys the limits; the text names the one that stops it.
    """
    _check(lot, winder)
    left = web_mm - sum((strip.width_mm for strip in lot.strips), Fraction(0))
    min_edge, max_edge = winder.min_edge_trim_mm, winder.max_edge_trim_mm
    broke = [
        Strip(key="", width_mm=width * unit_mm, broke=True)
        for width in _broke_widths(lot, winder, web_mm, unit_mm)
    ]
    left -= sum((strip.width_mm for strip in broke), Fraction(0))
    if web_mm - left > winder.max_web_mm:
        raise _refuse(
            lot,
            f"its strips take {_mm(web_mm - left)}, and the winder {_mm(winder.max_web_mm)}",
        )
    if left < 2 * min_edge:
        raise _refuse(
            lot,
            f"it leaves {_mm(left)} of the {_mm(web_mm)} web, and each edge strip must be at least "
            f"{_mm(min_edge)}",
        )
    if max_edge is not None and left > 2 * max_edge:
        raise _refuse(
            lot,
            f"it leaves {_mm(left)} of the {_mm(web_mm)} web, and no edge strip may be wider than "
            f"{_mm(max_edge)}; add a broke reel",
        )
    low = min_edge if max_edge is None else max(min_edge, left - max_edge)
    high = left - min_edge if max_edge is None else min(max_edge, left - min_edge)
    if not winder.web_shift:
        low = high = left / 2
    strips = (*lot.strips, *broke)
    counted = Counter((int(s.width_mm / unit_mm), s.no_edge, s.broke) for s in strips)
    kinds = tuple(sorted(counted, reverse=True))
    shape = LotShape(
        kinds=kinds,
        counts=tuple(counted[kind] for kind in kinds),
        min_offset=ceil(low / unit_mm),
        max_offset=floor(high / unit_mm),
        broke_outside=winder.broke_position == "edge",
    )
    return shape, strips
