"""What longer or shorter sets give to the orders, and the loss that follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trimopt.winding.jumbos.laying import Laying, LengthBlock
from trimopt.winding.model import LaidSet

__all__ = ["Case", "OrderRoom", "SetGain", "room_faults"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRoom:
    """What an order has by the plan with every set at its class's length, and what it allows.

    `made` is in the order's unit (reels, sheets, metres, area), `worth` in units of paper, as
    `paper_per_m` of `balance`. An order that is outside its range already is not taken further out.
    """

    order: str
    made: Fraction
    least: Fraction
    most: Fraction | None = None
    worth: Fraction = Fraction(0)
    ordered: Fraction | None = None  # wanted worth
    under: Fraction = Fraction(0)  # loss for a unit of worth below it
    over: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetGain:
    """What one metre on one set of a block gives to an order.

    `rounding` is the most that a set's true yield is off the straight line, for sheets: pieces
    times ups, since a sheet is whole. An order keeps that much more room for every set changed.
    """

    order: int  # position among the rooms
    gain_per_m: Fraction = Fraction(0)
    worth_per_m: Fraction = Fraction(0)
    rounding: Fraction = Fraction(0)

    @property
    def worth_rounding(self) -> Fraction:
        """Worth of the rounding."""
        if not self.rounding:
            return Fraction(0)
        return self.rounding * self.worth_per_m / self.gain_per_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Blocks in running order with what their metres give; the loss of a way to lay them."""

    blocks: tuple[LengthBlock, ...]
    rooms: tuple[OrderRoom, ...]
    gains: tuple[tuple[SetGain, ...], ...]
    paper_per_m: Fraction

    @property
    def close_m(self) -> float:
        """Metres of jumbo that are not worth a longer search: one in a hundred thousand wound."""
        return sum(block.sets * block.length_m for block in self.blocks) / 100_000

    def loss(self, laying: Laying) -> Fraction:
        """Paper used less what it is worth, with the values of under and over."""
        if not self.gains:
            return self.paper_per_m * laying.lost_m
        worth = [room.worth for room in self.rooms]
        for laid in laying.sets:
            more = laid.length_m - self.blocks[laid.block].length_m
            for gain in self.gains[laid.block] if more else ():
                worth[gain.order] += gain.worth_per_m * more - gain.worth_rounding
        loss = self.paper_per_m * laying.used_m
        for room, has in zip(self.rooms, worth, strict=True):
            loss -= has
            if room.ordered is not None:
                loss += room.under * max(Fraction(0), room.ordered - has)
                loss += room.over * max(Fraction(0), has - room.ordered)
        return loss


def room_faults(
    blocks: Sequence[LengthBlock],
    sets: Sequence[LaidSet],
    rooms: Sequence[OrderRoom],
    gains: Sequence[Sequence[SetGain]],
) -> tuple[str, ...]:
    """What set lengths break: reels outside their range, orders outside theirs. Empty: nothing."""
    faults = []
    made = [room.made for room in rooms]
    rounding = [Fraction(0)] * len(rooms)
    for laid in sets:
        block = blocks[laid.block]
        if not block.min_m <= laid.length_m <= block.max_m:
            faults.append(
                f"a set of block {laid.block} is {laid.length_m} m long; "
                f"{block.min_m} to {block.max_m} m are allowed"
            )
        more = laid.length_m - block.length_m
        for gain in gains[laid.block] if gains else ():
            if more:
                made[gain.order] += gain.gain_per_m * more
                rounding[gain.order] += gain.rounding
    for room, has, loose in zip(rooms, made, rounding, strict=True):
        if has - loose < min(room.least, room.made):
            faults.append(f"order {room.order}: {float(has - loose):g} made, {room.least} required")
        if room.most is not None and has + loose > max(room.most, room.made):
            faults.append(f"order {room.order}: {float(has + loose):g} made, {room.most} allowed")
    return tuple(faults)
