"""Starts of runs of many orders, some of which lack a little; and turns that bring nothing."""

from __future__ import annotations

from dataclasses import replace

from tests.bench.mill_like import KINDS, mill_like
from trimopt.budget import Budget
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate, values_at
from trimopt.cutting.lp.convexified import Guide
from trimopt.cutting.lp.master import Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.params import PARAMS, EngineParams
from trimopt.cutting.search.local_search import LocalSearch
from trimopt.cutting.search.restarts import Restarts
from trimopt.cutting.search.search_state import Search, paper_cost
from trimopt.cutting.search.single_order_patterns import completed, single_order_patterns


def _restarts(instance: Instance, params: EngineParams = PARAMS) -> tuple[Restarts, list[Pricer]]:
    """Turns from the linear program over patterns alone; the plan known is far off."""
    pricers = [Pricer(instance, offer) for offer in class_offers(instance)]
    own = single_order_patterns(instance, pricers)
    search = Search(instance=instance, budget=Budget(), params=params)
    search.take(completed(instance, (), own), "one order a pattern")
    master = Master(instance)
    for pattern in own:
        if pattern is not None:
            master.add(pattern)
    point, _ = generate(master, pricers, search)
    search.prove(int(point.loss) - 1, "linear program")
    parts = {p: float(n) for p, n in zip(master.patterns, point.sets, strict=True) if n > 0}
    guide = Guide(values=values_at(instance, point), parts=parts, bound=None)
    return Restarts(search, guide, LocalSearch(search, master.patterns, 0), 0), pricers


def _many_sheets(orders: int) -> Instance:
    kind = next(kind for kind in KINDS if kind.name == "sheets")
    return mill_like(replace(kind, orders=(orders, orders), classes=(1, 1)), 0)


def test_a_start_of_many_orders_ends_as_a_whole_plan_near_the_linear_program() -> None:
    """Sheets lack a few sheets of some order, for next to nothing; the plan known is far off."""
    restarts, _ = _restarts(_many_sheets(64))
    search = restarts.search
    restarts.begin()
    assert search.loss is not None
    assert search.bound is not None
    assert 0 <= search.loss - search.bound < 0.005 * paper_cost(search.instance, search.cuts)


def test_a_bound_that_is_raised_ends_turns_that_bring_nothing() -> None:
    """It is asked for once, where the plan stands still and the gap is open."""
    params = replace(
        PARAMS,
        restarts=replace(PARAMS.restarts, starts=1, start_exchanges=32, exchanges_after=32),
        piece_moves=replace(PARAMS.piece_moves, max_idle_sweeps=1),
        stages=replace(PARAMS.stages, resting_work=1, near_work=1, resting_progress=0.5),
    )
    restarts, pricers = _restarts(_many_sheets(8), params)
    search, asked = restarts.search, list[float]()
    search.bound = 0

    def prove() -> None:
        asked.append(search.budget.work)
        if search.loss is not None:
            search.bound = search.loss - paper_cost(search.instance, search.cuts) // 1_000

    restarts.run(pricers, prove)
    assert len(asked) == 1
    assert not search.within(params.restarts.target_gap)
    assert asked[0] == search.budget.work < params.restarts.work
