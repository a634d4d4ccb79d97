"""The joint bound: least loss for a run with both dimensions, width and length together.

Proven by the engine's certificate over all patterns and every whole length in range. Butts are
never negative, so it bounds the loss with butts as well. Where a few orders of reels are a part of
their own, a search over their whole sets proves it (`trimopt.winding.jumbos.whole_set_bound`).

`trimopt.winding.jumbos.length_ends` says why a few lengths stand for every length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trimopt.book.model import Product
from trimopt.budget import Budget
from trimopt.cutting import solve
from trimopt.cutting.decomposition import parts_of
from trimopt.making import PreparedRun
from trimopt.mill.model import Mill
from trimopt.winding.jumbos.length_ends import every_length
from trimopt.winding.jumbos.whole_set_bound import whole_sets_bound

_FEW = 6  # orders of a part whose whole sets are searched through


def least_loss(
    making: PreparedRun, mill: Mill, usable_m: Sequence[int], *, budget: Budget | None = None
) -> int | None:
    """Bound the loss over every whole length in range, in 1/SCALE of the run's area unit.

    Parts of a few reel orders are searched through (`trimopt.winding.jumbos.whole_set_bound`); the
    others get what prices prove.

    Parameters
    ----------
    usable_m
        Usable lengths of all kinds of jumbo that there are.
    budget
        When to stop; None: never.

    Returns
    -------
    int or None
        None where nothing was proven in time.
    """
    budget = budget or Budget()
    wide, lengths = every_length(making, mill, usable_m)
    total = 0
    for part in parts_of(wide):
        # As wide a gap as may be: the linear program proves, and no plan is sought.
        outcome = solve(part.instance, budget=budget, gap=1.0)
        if outcome.certificate is None:
            return None
        found = None
        orders = [making.run.orders[i] for i in part.demands]
        if len(orders) <= _FEW and all(order.product is Product.REEL for order in orders):
            own = tuple(making.instance.demands[i] for i in part.demands)
            found = whole_sets_bound(
                replace(part.instance, demands=own),
                [lengths[c][1] for c in part.classes],
                outcome,
                budget,
            )
        total += outcome.price_bound if found is None else max(outcome.price_bound, found)
    return total
