"""Sets exchanged with a price on each pattern: from a plan that is known to one of fewer patterns.

The price is drawn anew for each turn, over all that a set-up may cost beside paper, so that all
points of the trade-off come closer. Where every quantity is exact next to nothing can be exchanged.
"""

from __future__ import annotations

from contextlib import suppress
from math import exp, log
from random import Random

import numpy as np

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.cuts import Pattern, residual
from trimopt.cutting.model.instance import SCALE
from trimopt.cutting.params import PARAMS
from trimopt.cutting.search.local_search import LocalSearch
from trimopt.cutting.search.pattern_enumeration import near_patterns
from trimopt.cutting.search.search_state import Search, paper_cost
from trimopt.cutting.setups.archive import Archive
from trimopt.cutting.setups.build_tables import BuildTables
from trimopt.cutting.width_grid import grid_of


class PricedExchanges:
    """Exchanges over the patterns nearest to the prices of the bound, and those of known plans.

    Parameters
    ----------
    archive
        Where plans are taken from and kept; its `fixed` cuts stay in front of them.
    budget
        Its clock ends a turn; its work is not counted here.
    """

    def __init__(self, tables: BuildTables, archive: Archive, budget: Budget, seed: int) -> None:
        self.params = tables.params
        self.archive = archive
        self.rng = Random(seed)
        self.fixed = archive.fixed
        rest = residual(tables.instance, self.fixed)
        self.search = Search(instance=rest, budget=budget.share(1))
        pricers = [Pricer(rest, offer) for offer in class_offers(rest)]
        near: tuple[Pattern, ...] = ()
        if grid_of(rest, PARAMS.grid) is None:  # in finer steps tables take too much
            near = near_patterns(
                pricers,
                np.array(tables.value),
                self.search,
                wanted=self.params.near_patterns,
                max_cost=float(SCALE * max(pricer.offer.cost for pricer in pricers)),
            ).patterns
        known = {
            cut.pattern
            for _, _, plans in archive.front()
            for plan in plans
            for cut in plan[len(self.fixed) :]
        }
        pool = sorted({*near, *known})
        self.exchange = LocalSearch(self.search, pool, seed)

    def turn(self) -> None:
        """Draw a price, and exchange sets of the plan that costs least at it."""
        front = list(self.archive.front())
        if not front:
            return
        low, high = (log(share) for share in self.params.pattern_prices)
        paper = paper_cost(self.search.instance, front[0][2][0])
        price = paper * exp(low + (high - low) * self.rng.random())
        *_, plans = min(front, key=lambda point: point[1] + price * point[0])
        plan = plans[int(self.rng.random() * len(plans))]
        self.exchange.price_patterns(price)
        with suppress(SearchEnded):
            rest = {cut.pattern: cut.sets for cut in plan[len(self.fixed) :]}
            self.exchange.run(self.params.exchanges, rest)
        self.archive.add((*self.fixed, *self.search.cuts))
