"""A run's patterns for the orders that a shift must make, in whole or in part; the others fill.

Of an order that may wait nothing is required: the engine takes its widths where they fill a set
that an urgent order needs anyway, since paper that is delivered is no loss. It is worth less than
that of an urgent order, else sets would be made for it alone, and the hours are for others.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from trimopt.cutting import SCALE, solve
from trimopt.cutting.setups import trade_off
from trimopt.plan.planning.run_costs import costs_for
from trimopt.plan.planning.wind_run import Solved
from trimopt.plan.planning.work_limits import trade_work

__all__ = ["solve_partly"]

_FILL = 0.6
"""What paper of an order that may wait is worth beside that of one that must be made."""


def solve_partly(solved: Solved, required: Mapping[str, float]) -> Solved | None:
    """The run with patterns for some of its orders; None where none were found in time.

    Parameters
    ----------
    solved
        The run with patterns for all of its orders.
    required
        By order number, the share that must be made: 1 for the whole of it.
    """
    making, settings = solved.making, solved.settings
    demands = tuple(
        demand
        if (share := required.get(order.number, 0.0)) >= 1
        else replace(demand, low=math.floor(share * demand.low), ordered=None)
        for order, demand in zip(making.run.orders, solved.charged.demands, strict=True)
    )
    waits = [order.number not in required for order in making.run.orders]
    options = tuple(
        replace(option, worth=int(_FILL * option.worth)) if waits[option.demand] else option
        for option in solved.charged.options
    )
    charged = replace(solved.charged, demands=demands, options=options)
    outcome = solve(charged, budget=solved.budget.share(0.4), seed=settings.seed)
    if not outcome.cuts:
        return None
    trade = trade_off(
        charged,
        outcome,
        budget=solved.budget.share(0.4, trade_work(settings.effort, len(required))),
        seed=settings.seed,
        fixed=solved.heeded.fixed,
        most=solved.heeded.max_patterns,
    )
    if not trade.points:
        return None
    costs = costs_for(making, solved.mill, settings)
    within = trade.within(solved.heeded.max_patterns)
    point = within.cheapest(costs.unit_kg * costs.a_kg / SCALE, costs.set_up)
    return replace(solved, charged=charged, outcome=outcome, trade=trade, point=point)
