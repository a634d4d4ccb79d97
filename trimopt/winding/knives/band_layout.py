"""A layout round bands of defects: the order of the strips and the place of the web, exactly.

Which strips a band hits depends on what lies in front of each and on where the web lies. Between
two places of the web at which a knife comes to stand on the edge of a band nothing changes, so the
first, the last and those places stand for all. For each of them a dynamic program over what has
been laid from the front finds the order of least cost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import ceil, floor

from trimopt.mill.model import Winder
from trimopt.winding.knives.arrange_job import run_unit_mm
from trimopt.winding.knives.integer_lot import shape_of
from trimopt.winding.model import Layout, Lot, Strip

_MAX_PLACES = 60  # of the web; more are thinned out

Band = tuple[Fraction, Fraction]
"""From and to, mm from the front side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundBands:
    """A layout, the positions that a band lies in, counted from 1, and what that costs."""

    layout: Layout
    hit: tuple[int, ...]
    cost: int


@dataclass(frozen=True, slots=True)
class _StripKind:
    strip: Strip
    width: int
    cost: int


def layout_round_bands(
    lot: Lot, winder: Winder, web_mm: Fraction, bands: Sequence[Band], costs: Mapping[str, int]
) -> RoundBands:
    """Lay a lot out so that bands cost least; of layouts alike the web stands as far to the front.

    Parameters
    ----------
    costs
        By the key of a strip, what a band in it costs; a broke reel costs nothing.

    Raises
    ------
    InfeasibleError
        The lot cannot be laid out at all.
    """
    unit = run_unit_mm((lot,), winder, web_mm)
    shape, strips = shape_of(lot, winder, web_mm, unit)
    counts = Counter(strips)
    kinds = tuple(
        _StripKind(strip, int(strip.width_mm / unit), 0 if strip.broke else costs[strip.key])
        for strip in counts
    )
    hits = [(floor(front / unit), ceil(back / unit)) for front, back in bands]
    search = _BandSearch(kinds, tuple(counts.values()), hits, outside=shape.broke_outside)
    best = None
    for place in _places(search, shape.min_offset, shape.max_offset, hits):
        found = search.best(place)
        if found is not None and (best is None or found[0] < best[0]):
            best = found[0], place, found[1]
    assert best is not None  # the shape has a layout
    cost, place, order = best
    knives = [place]
    for kind in order:
        knives.append(knives[-1] + kind.width)
    return RoundBands(
        layout=Layout(
            strips=tuple(kind.strip for kind in order),
            edge_front_mm=knives[0] * unit,
            edge_back_mm=web_mm - knives[-1] * unit,
            knives_mm=tuple(knife * unit for knife in knives),
        ),
        hit=tuple(
            number
            for number, kind in enumerate(order, start=1)
            if not kind.strip.broke and _hit(hits, knives[number - 1], knives[number])
        ),
        cost=cost,
    )


def _hit(bands: Sequence[tuple[int, int]], front: int, back: int) -> bool:
    return any(front < to and start < back for start, to in bands)


def _places(
    search: _BandSearch, low: int, high: int, bands: Sequence[tuple[int, int]]
) -> Sequence[int]:
    """The places of the front edge that stand for all, rising."""
    ends = {end for band in bands for end in band}
    places = {end - before for end in ends for before in search.sums()}
    inside = sorted({low, high} | {place for place in places if low <= place <= high})
    step = -(-len(inside) // _MAX_PLACES)
    return inside if step == 1 else sorted({*inside[::step], high})


class _BandSearch:
    """Strips laid from the front; a state is how many of each kind are laid."""

    def __init__(
        self,
        kinds: tuple[_StripKind, ...],
        counts: tuple[int, ...],
        bands: Sequence[tuple[int, int]],
        *,
        outside: bool,
    ) -> None:
        self.kinds = kinds
        self.counts = counts
        self.bands = bands
        self.outside = outside
        self.states = sorted(product(*(range(count + 1) for count in counts)), key=sum)

    def sums(self) -> set[int]:
        """Widths that can lie in front of a knife."""
        return {
            sum(n * kind.width for n, kind in zip(state, self.kinds, strict=True))
            for state in self.states
        }

    def best(self, place: int) -> tuple[int, tuple[_StripKind, ...]] | None:
        """The order of least cost with the web at a place; None where no order may be."""
        start = (0,) * len(self.kinds)
        found: dict[tuple[int, ...], tuple[int, tuple[_StripKind, ...]]] = {start: (0, ())}
        for state in self.states:
            if state not in found:
                continue
            cost, order = found[state]
            front = place + sum(kind.width for kind in order)
            for k, kind in enumerate(self.kinds):
                if state[k] == self.counts[k] or not self._may(state, k):
                    continue
                after = (*state[:k], state[k] + 1, *state[k + 1 :])
                hit = _hit(self.bands, front, front + kind.width)
                total = cost + (kind.cost if hit else 0)
                if after not in found or total < found[after][0]:
                    found[after] = total, (*order, kind)
        return found.get(self.counts)

    def _may(self, state: tuple[int, ...], k: int) -> bool:
        laid, kind = sum(state), self.kinds[k].strip
        if kind.no_edge and laid in {0, sum(self.counts) - 1}:
            return False
        if not (kind.broke and self.outside):
            return True
        plain = [
            (n, count)
            for n, count, each in zip(state, self.counts, self.kinds, strict=True)
            if not each.strip.broke
        ]
        return all(n == 0 for n, _ in plain) or all(n == count for n, count in plain)
