"""What sets give to the orders of a run, counted reel by reel: the one place that counts it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

from trimopt.making import CutOption, Piece, PreparedRun, piece_of
from trimopt.making.required_ranges import quantity_of_gain
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, Position


@dataclass(slots=True)
class OrderTally:
    """What an order gets: gain, and area in the run's units."""

    gain: int = 0
    area: int = 0
    reels: list[Piece] = field(default_factory=list)  # in the order they are made
    last_set: int | None = None
    finished: datetime | None = None


class RunTally:
    """The tallies of a run by order number; sets are added one after another."""

    def __init__(self, making: PreparedRun, mill: Mill) -> None:
        self.of = {order.number: OrderTally() for order in making.run.orders}
        self._orders = {order.number: order for order in making.run.orders}
        self._sheeters = {sheeter.name: sheeter for sheeter in mill.sheeters}
        self._unit_mm = making.unit_mm
        self._known: dict[tuple[object, ...], Piece] = {}  # sets are many, kinds of reels few

    def add(self, reel: Position | CutOption, order: str, length_m: int) -> OrderTally:
        """Count one reel of that length; gives the tally of its order."""
        key = order, reel.width_mm, reel.ups, reel.sheeter, length_m
        if key not in self._known:
            self._known[key] = piece_of(
                self._orders[order],
                width_mm=reel.width_mm,
                ups=reel.ups,
                sheeter=self._sheeters.get(reel.sheeter),
                length_m=length_m,
                unit_mm=self._unit_mm,
            )
        piece, total = self._known[key], self.of[order]
        total.gain += piece.gain
        total.area += piece.area
        total.reels.append(piece)
        return total


def tallies(
    making: PreparedRun, mill: Mill, blocks: Sequence[Block], *, nominal: bool = False
) -> dict[str, OrderTally]:
    """What blocks give to each order of a run, spoiled reels left out.

    Parameters
    ----------
    nominal
        Whether every set is taken at its block's length, and not at its own.
    """
    tally = RunTally(making, mill)
    for block in blocks:
        reels = block.reels
        for row in block.sets:
            length_m = block.length_m if nominal else row.length_m
            for position in reels:
                if position.number in row.spoiled:
                    continue
                total = tally.add(position, position.order, length_m)
                total.last_set = max(total.last_set or 0, row.number)
                if row.finish is not None:
                    total.finished = max(total.finished or row.finish, row.finish)
    return tally.of


def made_of(making: PreparedRun, mill: Mill, blocks: Sequence[Block]) -> dict[str, Fraction]:
    """What blocks give to each order of a run, in its unit."""
    made = tallies(making, mill, blocks)
    gains = ((order, made[order.number].gain) for order in making.run.orders)
    return {
        order.number: quantity_of_gain(order, gain, making.unit_mm) if gain else Fraction(0)
        for order, gain in gains
    }
