"""Metres of an odd jumbo that sets can be wound from, and the bands of defects beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from trimopt.book.model import Defect
from trimopt.winding import StockJumbo

_FEW = 4  # bands of which each is counted apart: patterns are laid round them one by one


@dataclass(frozen=True, slots=True, kw_only=True)
class OddStretch:
    """Metres of an odd jumbo that sets can be wound from without a break.

    `bands` are defects in a part of the width, their metres counted as the stretch's are.
    """

    jumbo: StockJumbo
    from_m: int
    to_m: int
    bands: tuple[Defect, ...] = ()

    @property
    def length_m(self) -> int:
        return self.to_m - self.from_m

    @property
    def avoidable(self) -> Iterator[frozenset[int]]:
        """Bands that a set may keep clear of: all of them; of a few all but one, too."""
        every = frozenset(range(len(self.bands)))
        but_one = [every - {one} for one in every] if len(every) <= _FEW else []
        yield from dict.fromkeys((every, *but_one)) if every else ()

    def clear_m(self, avoided: frozenset[int]) -> tuple[tuple[int, int], ...]:
        """Its metres beside which none of these bands lies, from and to, counted from its start."""
        clear, reached = [], 0
        for band in sorted((self.bands[b] for b in avoided), key=lambda band: band.from_m):
            clear.append((reached, band.from_m - self.from_m))
            reached = max(reached, band.to_m - self.from_m)
        clear.append((reached, self.length_m))
        return tuple((start, end) for start, end in clear if start < end)


def joined_stretch(over: Sequence[OddStretch], first_m: int, last_m: int) -> OddStretch:
    """The last metres of a stretch and the first of a later one, and the bands that lie there."""
    first, last = over[0], over[-1]
    from_m = max(first.from_m, first.to_m - first_m)
    to_m = min(last.to_m, last.from_m + last_m)
    bands = (band for each in over for band in each.bands)
    met = dict.fromkeys(band for band in bands if band.from_m < to_m and from_m < band.to_m)
    return replace(first, from_m=from_m, to_m=to_m, bands=tuple(met))
