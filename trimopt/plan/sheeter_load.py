"""A load of a sheeter: the reels that it unwinds together, and when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadReel:
    """A reel of a load: by the set of its run and its place across the set, or one from stock."""

    set_number: int  # 0: from stock
    position: int
    stock: str = ""  # its number in the warehouse


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Reels unwound together at a sheeter: of one order, width and ups, matched in length."""

    number: int  # in the order in which the sheeter takes its loads, from 1
    sheeter: str
    run: str
    order: str
    width_mm: Fraction
    ups: int
    length_m: int  # of its shortest reel: the load ends with it
    stands: int  # reels that the sheeter unwinds together
    reels: tuple[LoadReel, ...]
    sheets: int  # waste taken off
    ready: datetime  # its last reel has left the winder; from stock: the plan begins
    start: datetime  # of changing the reels
    finish: datetime

    @property
    def part(self) -> bool:
        """Whether it is a part load: stands stay empty, for too few reels match."""
        return len(self.reels) < self.stands
