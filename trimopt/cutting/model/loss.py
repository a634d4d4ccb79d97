"""The loss of a demand: exact for one amount, or arrays (defined in `cutting.model.instance`).

The loss of a plan is the cost of its sets and, for every demand, what `demand_loss` gives for the
yield and the worth that the plan makes of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.model.instance import SCALE, Demand

Amounts = TypeVar("Amounts", NDArray[np.float64], NDArray[np.int64])
Number = TypeVar("Number", int, Fraction)

OPEN = 1 << 60
"""Stands for no upper limit on what is made."""


def net_worth(demand: Demand, made: int, worth: int) -> int:
    """Worth of what is made, less what its surplus takes back."""
    surplus = 0 if demand.high is None else max(0, made - demand.high)
    return worth - demand.surplus_worth * surplus


def loss_of_net(demand: Demand, net: Number) -> Number:
    """Loss of a demand, without its sets, at a net worth; exact for whole numbers and fractions."""
    loss = -SCALE * net
    if demand.ordered is not None:
        loss += demand.under_price * max(0 * net, demand.ordered - net)
        loss += demand.over_price * max(0 * net, net - demand.ordered)
    return loss


def demand_loss(demand: Demand, made: int, worth: int) -> int:
    """Loss of one demand without its sets, in whole numbers.

    Parameters
    ----------
    made, worth
        Its yield and worth, surplus in them; a shortage costs nothing here.
    """
    return loss_of_net(demand, net_worth(demand, made, worth))


def over_price_of(demand: Demand) -> int:
    """The price of a unit of worth too much; 0 where nothing is ordered."""
    return demand.over_price if demand.ordered is not None else 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LossTable:
    """The figures of demands as arrays of one shape, to take the loss of many amounts at once.

    A demand that is wanted at no worth has prices of 0, one without an upper limit has `OPEN`.
    """

    low: NDArray[Any]
    high: NDArray[Any]
    surplus_worth: NDArray[Any]
    ordered: NDArray[Any]
    under_price: NDArray[Any]
    over_price: NDArray[Any]

    @classmethod
    def of(cls, demands: Iterable[Demand], dtype: type[np.number[Any]] = np.int64) -> Self:
        """Tabulate demands: whole numbers give exact losses, floats may steer a search only."""
        some = tuple(demands)

        def column(figures: Sequence[int]) -> NDArray[Any]:
            return np.array(figures, dtype=dtype)

        return cls(
            low=column([d.low for d in some]),
            high=column([OPEN if d.high is None else d.high for d in some]),
            surplus_worth=column([d.surplus_worth for d in some]),
            ordered=column([d.ordered or 0 for d in some]),
            under_price=column([0 if d.ordered is None else d.under_price for d in some]),
            over_price=column([0 if d.ordered is None else d.over_price for d in some]),
        )

    @classmethod
    def one(cls, demand: Demand, dtype: type[np.number[Any]] = np.int64) -> LossTable:
        """Tabulate one demand, to meet amounts of any shape."""
        return cls.of([demand], dtype).at(0)

    def at(self, places: int | NDArray[np.int64]) -> LossTable:
        """Repeat the figures of demands, one for each place."""
        return LossTable(
            low=self.low[places],
            high=self.high[places],
            surplus_worth=self.surplus_worth[places],
            ordered=self.ordered[places],
            under_price=self.under_price[places],
            over_price=self.over_price[places],
        )

    def loss(self, made: Amounts, worth: Amounts) -> Amounts:
        """Loss of each demand without its sets; a shortage costs nothing here.

        Parameters
        ----------
        made, worth
            Yield and worth, surplus in them; the last axis is that of the demands.
        """
        net = worth - self.surplus_worth * np.maximum(0, made - self.high)
        more = net - self.ordered
        loss: Amounts = (
            self.over_price * np.maximum(0, more)
            - self.under_price * np.minimum(0, more)
            - SCALE * net
        )
        return loss

    def loss_or_short(self, made: Amounts, worth: Amounts) -> NDArray[np.float64]:
        """Loss in floats, infinite where too little is made."""
        return np.where(made < self.low, np.inf, self.loss(made, worth))
