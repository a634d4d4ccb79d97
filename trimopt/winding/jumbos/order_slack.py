"""Set lengths that may move: what a metre gives to the orders, what they allow, and the loss.

Orders tie the lengths of many sets together, which paths that end jumbos set by set cannot see. For
these, ranges are `narrowed` to lengths that orders hardly break.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Self

from trimopt.winding.jumbos.laying import Laying, LengthBlock
from trimopt.winding.model import JumboSupply, LaidSet


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSlack:
    """What an order has by the plan with every set at its class's length, and what it allows.

    `made` is in the order's unit (reels, sheets, metres, area), `worth` of all of it in units of
    paper, as `paper_per_m` of `LengthProblem`. What is made beyond `high` is not sold: a unit of it
    takes back `surplus`. An order that is outside its range already is not taken further out.
    """

    order: str
    made: Fraction
    low: Fraction
    high: Fraction
    worth: Fraction = Fraction(0)
    surplus: Fraction = Fraction(0)
    ordered: Fraction | None = None  # wanted worth
    under: Fraction = Fraction(0)  # loss for a unit of worth below it
    over: Fraction = Fraction(0)

    @property
    def min_made(self) -> Fraction:
        """The least that lengths may leave it: its lower limit, or less where it has less."""
        return min(self.low, self.made)

    @property
    def max_made(self) -> Fraction:
        """The most that lengths may give it."""
        return max(self.high, self.made)

    @property
    def beyond(self) -> Fraction:
        """What is made beyond the upper limit."""
        return max(Fraction(0), self.made - self.high)

    def net_worth(self, made: Fraction, worth: Fraction) -> Fraction:
        """Worth of what is sold of it, less the price of what is below or above ordered."""
        worth -= self.surplus * max(Fraction(0), made - self.high)
        if self.ordered is None:
            return worth
        short, beyond = self.ordered - worth, worth - self.ordered
        return worth - max(Fraction(0), self.under * short, self.over * beyond)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetReels:
    """Reels of a set that are cut into sheets: whole chops, less the sheeter's waste."""

    reels: int
    ups: int
    chop_mm: Fraction
    kept: Fraction  # share that is not waste

    def sheets(self, length_m: int) -> int:
        """Sheets from reels of that length."""
        return self.reels * math.floor(self.ups * (1000 * length_m // self.chop_mm) * self.kept)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetGain:
    """What one metre on one set of a block gives to an order.

    `rounding` is the most that a set's true yield is off the straight line, for sheets: pieces
    times ups, since a sheet is whole. A search keeps that much more room for every set.
    `sheeted` says what the reels are cut into; None: they are not.
    """

    order: int  # position among the orders
    gain_per_m: Fraction = Fraction(0)
    worth_per_m: Fraction = Fraction(0)
    rounding: Fraction = Fraction(0)
    sheeted: SheetReels | None = None

    def more(self, length_m: int, instead_of_m: int) -> tuple[Fraction, Fraction]:
        """Gain and worth of a set of another length."""
        metres = length_m - instead_of_m
        if self.sheeted is None:
            return self.gain_per_m * metres, self.worth_per_m * metres
        sheets = Fraction(self.sheeted.sheets(length_m) - self.sheeted.sheets(instead_of_m))
        return sheets, sheets * self.worth_per_m / self.gain_per_m


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthProblem:
    """Blocks in running order, the jumbos, and what the blocks' metres give to the orders.

    Parameters
    ----------
    blocks
        Blocks with the lengths that their reels allow.
    gains
        For each block, what a metre on one of its sets gives to which order. Empty: a metre wound
        is worth what it uses, so that only butts count.
    paper_per_m
        Paper used by a metre of jumbo, in the unit of `worth` (its full width times one metre).
    """

    blocks: tuple[LengthBlock, ...]
    supply: JumboSupply
    orders: tuple[OrderSlack, ...] = ()
    gains: tuple[tuple[SetGain, ...], ...] = ()
    paper_per_m: Fraction = Fraction(1)

    def in_order(self, order: Sequence[int]) -> Self:
        """The same with the blocks in another running order, given by their positions."""
        return replace(
            self,
            blocks=tuple(self.blocks[at] for at in order),
            gains=tuple(self.gains[at] for at in order) if self.gains else (),
        )

    @property
    def close_m(self) -> float:
        """Metres of jumbo that are not worth a longer search: one in a hundred thousand wound."""
        return sum(block.sets * block.length_m for block in self.blocks) / 100_000

    def loss(self, laying: Laying) -> Fraction:
        """Paper used less what it is worth, with the values of under and over.

        The loss of a plan as the engine has it (`trimopt.cutting.model.loss`), but in fractions:
        lengths that move make no whole numbers of its units.
        """
        if not self.gains:
            return self.paper_per_m * laying.lost_m
        made = [order.made for order in self.orders]
        worth = [order.worth for order in self.orders]
        for laid in laying.sets:
            for gain in self.gains[laid.block]:
                more, value = gain.more(laid.length_m, self.blocks[laid.block].length_m)
                made[gain.order] += more
                worth[gain.order] += value
        sold = sum(map(OrderSlack.net_worth, self.orders, made, worth))
        return self.paper_per_m * laying.used_m - sold

    def allows(self, sets: Sequence[LaidSet]) -> bool:
        """Whether all reels stay inside their ranges at these lengths, and all orders in theirs."""
        made = [order.made for order in self.orders]
        for laid in sets:
            block = self.blocks[laid.block]
            if not block.min_m <= laid.length_m <= block.max_m:
                return False
            for gain in self.gains[laid.block] if self.gains else ():
                made[gain.order] += gain.more(laid.length_m, block.length_m)[0]
        return all(
            order.min_made <= has <= order.max_made
            for order, has in zip(self.orders, made, strict=True)
        )


def narrowed(problem: LengthProblem, bold: float) -> tuple[LengthBlock, ...]:
    """Blocks with ranges narrowed so far that orders cannot break (`bold` 1), or hardly.

    An order that can give up s metres over all sets that serve it, of which the lengths of those
    sets could take r, lets each set have the share bold * s / r of its own range.
    """
    blocks = problem.blocks
    longer, shorter = [1.0] * len(blocks), [1.0] * len(blocks)
    for o, order in enumerate(problem.orders):
        # Lengths do not change what is made of an order by reels: it takes nothing off a range.
        serving = [
            (b, float(gain.gain_per_m))
            for b, row in enumerate(problem.gains)
            for gain in row
            if gain.order == o and gain.gain_per_m
        ]
        # Surplus may stay: up to the upper limit a metre less is no loss.
        most = order.high if order.surplus * order.beyond else order.max_made
        for slack, share, spread in (
            (most - order.made, longer, [b.max_m - b.length_m for b in blocks]),
            (order.made - order.min_made, shorter, [b.length_m - b.min_m for b in blocks]),
        ):
            reach = sum(gain * spread[b] * blocks[b].sets for b, gain in serving)
            if reach > max(0.0, float(slack)):
                for b, _ in serving:
                    share[b] = min(share[b], max(0.0, float(slack)) / reach)
    return tuple(
        replace(
            block,
            min_m=math.ceil(
                block.length_m - min(1.0, bold * less) * (block.length_m - block.min_m)
            ),
            max_m=math.floor(
                block.length_m + min(1.0, bold * more) * (block.max_m - block.length_m)
            ),
        )
        for block, less, more in zip(blocks, shorter, longer, strict=True)
    )
