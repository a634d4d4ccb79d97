"""Sets on the jumbos on which they were issued, as far as these last.

A set that is given up, or that its jumbo has no metres for, leaves the sets on later jumbos where
they are: laid anew end to end, all of them would move, and jumbos that they filled would no more
be full.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from trimopt.book.makeable import mm
from trimopt.plan.model import Block, SetRow, Stretch
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.revising.wound_again import hit_by_bands
from trimopt.winding import StockJumbo


@dataclass(kw_only=True)
class IssuedPlaces:
    """How far each jumbo of a run is taken; sets are put on it one after another."""

    case: Standing
    jumbos: dict[str, StockJumbo] = field(default_factory=dict)  # taken from, whole
    _reached_m: dict[str, int] = field(default_factory=dict)

    def against(self, block: Block, row: SetRow) -> str:
        """What stands against a set on the jumbos on which it was issued; empty: nothing."""
        hit: frozenset[int] = frozenset()
        for part, metres in zip(row.stretches, _metres(row), strict=True):
            jumbo = self.case.jumbo(part.jumbo)
            if jumbo is None:
                return self._gone(part.jumbo)
            if jumbo.width_mm != (block.jumbo_width_mm or self.case.mill.jumbo.width_mm):
                return f"jumbo {part.jumbo} is {mm(jumbo.width_mm)} mm wide"
            start_m = self._start_m(jumbo, metres)
            if start_m + metres > jumbo.usable_m:
                return f"jumbo {part.jumbo} ends before it"
            if jumbo.cut_out and start_m != part.from_m:
                return f"it would lie elsewhere beside the defects of jumbo {part.jumbo}"
            hit |= hit_by_bands(block, jumbo, start_m, start_m + metres)
        if hit != {*row.spoiled, *row.seconds}:
            return "a defect lies in other reels of it than planned"
        return ""

    def take(self, row: SetRow) -> SetRow:
        """The set in its place."""
        parts = []
        for part, metres in zip(row.stretches, _metres(row), strict=True):
            jumbo = self.case.jumbo(part.jumbo)
            assert jumbo is not None
            start_m = self._start_m(jumbo, metres)
            self.jumbos[jumbo.name] = jumbo
            self._reached_m[jumbo.name] = start_m + metres
            parts.append(Stretch(jumbo=jumbo.name, from_m=start_m, to_m=start_m + metres))
        return replace(row, stretches=tuple(parts))

    def _gone(self, name: str) -> str:
        """Why nothing is wound from a jumbo any more: another came on, or it is nowhere listed."""
        opened = next((each for each in self.case.opened if each.name == name), None)
        left_m = 0 if opened is None else opened.usable_m - self._stood_m(name)
        if not left_m:
            return f"jumbo {name} is not there any more"
        return (
            f"jumbo {name} was taken off with {left_m:,} m on it, which count as lost; to use "
            "them, list them in the order book as a jumbo with a name of its own"
        )

    def _stood_m(self, name: str) -> int:
        return self.case.reached_m.get(name, 0)

    def _start_m(self, jumbo: StockJumbo, metres: int) -> int:
        reached = self._reached_m.get(jumbo.name, self._stood_m(jumbo.name))
        return jumbo.behind_cuts(reached, metres)


def _metres(row: SetRow) -> list[int]:
    return [part.to_m - part.from_m for part in row.stretches]


def in_places(
    case: Standing, blocks: Sequence[Block]
) -> tuple[tuple[Block, ...], Mapping[str, StockJumbo]] | None:
    """Blocks with their sets where they were issued, and these jumbos; None: one has no place."""
    places = IssuedPlaces(case=case)
    laid = []
    for block in blocks:
        rows = []
        for row in block.sets:
            if places.against(block, row):
                return None
            rows.append(places.take(row))
        laid.append(replace(block, sets=tuple(rows)))
    return tuple(laid), places.jumbos
