"""Sets on the jumbos on which they were issued, as far as these last.

A set that is given up, or that its jumbo has no metres for, leaves the sets on later jumbos where
they are: laid anew end to end, all of them would move, and jumbos that they filled would no more
be full.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from trimopt.book.makeable import mm
from trimopt.book.model import Order, Stretch
from trimopt.plan.model import Block, SetRow
from trimopt.plan.planning.replanning.standing import Standing
from trimopt.plan.planning.revising.wound_again import hit_by_bands, join_fault
from trimopt.winding import StockJumbo
from trimopt.winding.jumbos.laying import segments_on


@dataclass(kw_only=True)
class IssuedPlaces:
    """How far each jumbo of a run is taken; sets are put on it one after another."""

    case: Standing
    jumbos: dict[str, StockJumbo] = field(default_factory=dict)  # taken from, whole
    _reached_m: dict[str, int] = field(default_factory=dict)

    def against(self, block: Block, row: SetRow) -> str:
        """What stands against a set on the jumbos on which it was issued; empty: nothing."""
        hit: frozenset[int] = frozenset()
        for name in row.jumbos:
            jumbo = self.case.jumbo(name)
            if jumbo is None:
                return self._gone(name)
            if jumbo.width_mm != (block.jumbo_width_mm or self.case.mill.jumbo.width_mm):
                return f"jumbo {name} is {mm(jumbo.width_mm)} mm wide"
            parts = [part for part in self._parts(row) if part.jumbo == name]
            if parts[-1].to_m > jumbo.usable_m:
                return f"jumbo {name} ends before it"
            if jumbo.cut_out and not {*parts} <= {*row.stretches}:
                return f"it would lie elsewhere beside the defects of jumbo {name}"
            for part in parts:
                hit |= hit_by_bands(block, jumbo, part.from_m, part.to_m)
        if hit != {*row.spoiled, *row.seconds}:
            return "a defect lies in other reels of it than planned"
        return join_fault(self.case.mill, self._orders, block, row, row.stretches)

    @cached_property
    def _orders(self) -> Mapping[str, Order]:
        return {order.number: order for order in self.case.run.orders}

    def take(self, row: SetRow) -> SetRow:
        """The set in its place."""
        parts = self._parts(row)
        self.jumbos |= self._whole(row)
        self._reached_m |= {part.jumbo: part.to_m for part in parts}
        return replace(row, stretches=parts)

    def _gone(self, name: str) -> str:
        """Why nothing is wound from a jumbo any more: another came on, or it is nowhere listed."""
        opened = next((each for each in self.case.opened if each.name == name), None)
        left_m = 0 if opened is None else opened.usable_m - self.case.reached_m.get(name, 0)
        if not left_m:
            return f"jumbo {name} is not there any more"
        return (
            f"jumbo {name} was taken off with {left_m:,} m on it, which count as lost; to use "
            "them, list them in the order book as a jumbo with a name of its own"
        )

    def _whole(self, row: SetRow) -> dict[str, StockJumbo]:
        found = {name: self.case.jumbo(name) for name in row.jumbos}
        return {name: jumbo for name, jumbo in found.items() if jumbo is not None}

    def _parts(self, row: SetRow) -> tuple[Stretch, ...]:
        metres = [(part.jumbo, part.to_m - part.from_m) for part in row.stretches]
        reached = {**self.case.reached_m, **self._reached_m}
        return segments_on(metres, self._whole(row), reached)


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
