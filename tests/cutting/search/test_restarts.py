"""Starts of runs of many orders, of which some lack a little at all times."""

from __future__ import annotations

from dataclasses import replace

from tests.bench.mill_like import KINDS, mill_like
from trimopt.budget import Budget
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate, values_at
from trimopt.cutting.lp.convexified import Guide
from trimopt.cutting.lp.master import Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.search.local_search import LocalSearch
from trimopt.cutting.search.restarts import Restarts
from trimopt.cutting.search.search_state import Search, paper_cost
from trimopt.cutting.search.single_order_patterns import completed, single_order_patterns


def test_a_start_of_many_orders_ends_as_a_whole_plan_near_the_linear_program() -> None:
    """Sheets lack a few sheets of some order, for next to nothing; the plan known is far off."""
    kind = replace(next(k for k in KINDS if k.name == "sheets"), orders=(64, 64), classes=(1, 1))
    instance = mill_like(kind, 0)
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    own = single_order_patterns(instance, pricers)
    search = Search(instance=instance, budget=Budget())
    search.take(completed(instance, (), own), "one order a pattern")
    master = Master(instance)
    for pattern in own:
        if pattern is not None:
            master.add(pattern)
    point, _ = generate(master, pricers, search)
    parts = {p: float(n) for p, n in zip(master.patterns, point.sets, strict=True) if n > 0}
    guide = Guide(values=values_at(instance, point), parts=parts, bound=None)
    restarts = Restarts(search, guide, LocalSearch(search, master.patterns, 0), 0)
    restarts.begin()
    assert search.loss is not None
    paper = paper_cost(instance, search.cuts)
    assert 0 <= search.loss - point.loss < 0.005 * paper
