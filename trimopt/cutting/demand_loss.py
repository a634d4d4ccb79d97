"""The loss of one demand at many amounts at once, in floats: to steer a search, never to prove."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trimopt.cutting.instance import SCALE, Demand

__all__ = ["demand_loss"]

Floats = NDArray[np.float64]


def demand_loss(demand: Demand, made: Floats, worth: Floats) -> Floats:
    """Loss as `trimopt.cutting.instance` defines it, without sets; infinite where short.

    Parameters
    ----------
    demand
        The demand.
    made, worth
        Its yield and its worth, arrays of one shape.
    """
    net = worth
    if demand.high is not None:
        net = net - demand.surplus_worth * np.maximum(0.0, made - demand.high)
    loss = -SCALE * net
    if demand.ordered is not None:
        loss = loss + demand.under_price * np.maximum(0.0, demand.ordered - net)
        loss = loss + demand.over_price * np.maximum(0.0, net - demand.ordered)
    return np.where(made < demand.low, np.inf, loss)
