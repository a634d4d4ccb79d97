"""The loss of one demand at many amounts at once."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.instance import SCALE, Demand

__all__ = ["demand_loss", "loss_where_made"]

Floats = NDArray[np.float64]
Amounts = TypeVar("Amounts", NDArray[np.float64], NDArray[np.int64])


def loss_where_made(demand: Demand, made: Amounts, worth: Amounts) -> Amounts:
    """Loss as `trimopt.cutting.instance` defines it, without sets, where enough is made.

    Parameters
    ----------
    demand
        The demand.
    made, worth
        Its yield and its worth, arrays of one shape: whole numbers give an exact loss.
    """
    net: Any = worth
    if demand.high is not None:
        net = net - demand.surplus_worth * np.maximum(0, made - demand.high)
    loss: Any = -SCALE * net
    if demand.ordered is not None:
        loss = loss + demand.under_price * np.maximum(0, demand.ordered - net)
        loss = loss + demand.over_price * np.maximum(0, net - demand.ordered)
    found: Amounts = loss
    return found


def demand_loss(demand: Demand, made: Floats, worth: Floats) -> Floats:
    """Loss in floats, infinite where too little is made: to steer a search, never to prove."""
    return np.where(made < demand.low, np.inf, loss_where_made(demand, made, worth))
