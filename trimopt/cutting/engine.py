"""One `solve`: from an instance to a plan of cuts with a proven bound."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction
from functools import partial

import numpy as np
from numpy.typing import NDArray

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.bin_packing import Fewest, FewestSets, fewest_of
from trimopt.cutting.bin_packing.bin_master import PRICE_SCALE
from trimopt.cutting.decomposition import solve_parts
from trimopt.cutting.lp.bound_certificate import certificate, price_bound
from trimopt.cutting.lp.class_offers import ClassOffer, class_offers
from trimopt.cutting.lp.column_generation import generate, values_at
from trimopt.cutting.lp.convexified import Guide, whole_values
from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.lp.master import Master, Point
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.lp.tightening import tightened
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.observer import Observer
from trimopt.cutting.model.outcome import (
    Certificate,
    Cut,
    Outcome,
    Pattern,
    Status,
    pattern_faults,
)
from trimopt.cutting.parts import parts_of
from trimopt.cutting.search.local_search import Exchange
from trimopt.cutting.search.pattern_enumeration import NearPatterns, near_patterns
from trimopt.cutting.search.restarts import CLOSER, Closing
from trimopt.cutting.search.rounding import dive
from trimopt.cutting.search.search_state import Search, paper_cost
from trimopt.cutting.search.single_order_patterns import is_held, own_patterns
from trimopt.cutting.search.starting_plan import completed

__all__ = ["blocked", "held_demands", "solve"]

Floats = NDArray[np.float64]

DEFAULT_S = 60.0
"""Seconds of a search whose caller sets no budget."""

_EXCHANGES, _MAX_EXCHANGES = 300, 12  # tried at a time, and how often at most
_CLOSE = 2e-3  # of paper used: a gap that exchanges need not close
_FAR, _HEAT = 3e-3, 0.01  # of paper used, and of a set: from such a gap on they begin hotter
_EXCHANGES_HOT = 2_400
_WORTH_ON, _MAX_IDLE = 2e-4, 3  # of paper used: what a turn must bring, and idle turns allowed
# Pieces of an order that a dive makes whole, and the share of a set that it rounds up. Those after
# the first are for runs that are far off: mostly a piece or two of a small order too many.
_DIVES = ((2, 0.6), (3, 0.9), (3, 0.6), (10, 0.75), (5, 0.75), (20, 0.75))
_ROUNDING = 1e-6  # of a set: far above what floats can err by in a reduced cost
_NEAR = 1_000  # patterns of least reduced cost in the exchange
_MAX_POOL, _POOL_PROVEN = 1_200, 250  # patterns of an integer program: to mend, to prove
_POOL_EFFORT = 0.15  # of the solver's deterministic seconds, each some ten of the clock


def solve(
    instance: Instance,
    *,
    budget: Budget | None = None,
    gap: float = 0.0,
    seed: int = 0,
    observer: Observer | None = None,
    start: tuple[Cut, ...] = (),
) -> Outcome:
    """Least loss, proven.

    Parameters
    ----------
    instance
        The run.
    budget
        When to stop with the best so far; None: after a minute.
    gap
        Stop where (loss - bound) / cost of the paper is at most this.
    seed
        The same instance, seed and limit of work give the same outcome.
    observer
        Told of progress.
    start
        A plan to begin from, or one for other rules: what does not hold is mended.

    Returns
    -------
    Outcome
        Every plan in it has passed `faults_of`; its bound holds over all patterns.
    """
    budget = budget or Budget.lasting(DEFAULT_S)
    parts = parts_of(instance)
    if len(parts) > 1:
        each = partial(solve, gap=gap, seed=seed)
        return solve_parts(instance, parts, each, budget, observer=observer, start=start)
    search = Search(
        instance=instance, budget=budget.share(1, budget.max_work), gap=gap, observer=observer
    )
    run = _Run(search, seed)
    with suppress(SearchEnded, SolverFailedError):  # what stands is given out
        run.go(start)
    return run.outcome()


def blocked(instance: Instance) -> tuple[int, ...]:
    """Demands with something to be made of which no allowed pattern holds a piece.

    An instance has a plan just where there is none: what is made beyond a range is surplus.
    """
    held = held_demands(instance)
    return tuple(i for i, demand in enumerate(instance.demands) if demand.low and i not in held)


def held_demands(instance: Instance) -> frozenset[int]:
    """Demands of which an allowed pattern holds a piece."""
    pricers = _pricers(instance)
    return frozenset(i for i in range(len(instance.demands)) if is_held(instance, pricers, i))


class _Run:
    """The steps of one search, in order; what stands after any of them can be given out."""

    def __init__(self, search: Search, seed: int) -> None:
        self.search = search
        self.seed = seed
        self.proof: Certificate | None = None
        self.proved = 0
        self.blocking: tuple[int, ...] = ()

    def go(self, start: tuple[Cut, ...]) -> None:
        search = self.search
        instance = search.instance
        pricers = _pricers(instance)
        own = own_patterns(instance, pricers)
        self.blocking = _blocked(instance, own)
        if self.blocking:
            return
        if start:
            search.take(completed(instance, start, own), "start")
        search.take(completed(instance, (), own), "one order a pattern")
        offers = [pricer.offer for pricer in pricers]
        problem = fewest_of(instance, offers)
        if problem is not None:
            self.fewest(problem, offers[0])
            return
        master = Master(instance)
        for pattern in own:
            if pattern is not None:
                master.add(pattern)
        for cut in start:
            if not pattern_faults(instance, cut.pattern):
                master.add(cut.pattern)
        if not master.patterns:
            search.prove(search.loss or 0, "nothing to make")
            return
        self.real(master, pricers, given=bool(start))

    def real(self, master: Master, pricers: list[Pricer], *, given: bool) -> None:
        """Linear program, its bound, dives, and whole sets exchanged over a pool.

        The exchange begins from dives in the program of whole pieces, from that in the program over
        patterns, and from a plan that was given.
        """
        search = self.search
        instance = search.instance
        # Nothing made, nothing lost: prices that hold before any program is solved.
        free = [0.0] * len(instance.demands)
        self.proof, self.proved = self._prices(
            instance, pricers, free, [float(SCALE)] * len(instance.demands)
        )
        point, _ = generate(master, pricers, search)
        proof, proved = self._point_prices(instance, pricers, point)
        if proof is not None and proved >= self.proved:
            self.proof, self.proved = proof, proved
        closer, more = tightened(instance)
        if closer.demands != instance.demands:
            tight = Master(closer)
            for pattern in master.patterns:
                tight.add(pattern)
            master = tight
            point, _ = generate(master, pricers, search)
            proof, proved = self._point_prices(closer, pricers, point)
            if proof is not None:
                search.prove(max(self.proved, proved + more), "prices and whole pieces")
        if self.proof is not None:
            search.prove(self.proved, "prices")
        parts = {p: float(n) for p, n in zip(master.patterns, point.sets, strict=True) if n > 0}
        sets = self._dive(0, closer, point, parts)
        if search.loss is None:
            return
        guide = Guide(
            values=values_at(instance, point),
            parts=parts,
            least=None if proof is None else proved + more,
        )
        if not search.within(CLOSER):
            found = whole_values(search, (closer, more), pricers, point, master.patterns)
            guide = found.if_closer(guide)
        least = point.loss + more if guide.least is None else guide.least
        margin = _ROUNDING * SCALE * max(pricer.offer.cost for pricer in pricers)
        most = search.loss - least + margin
        near = near_patterns(pricers, guide.values, search, wanted=_NEAR, most=most)
        pool = sorted({*near.patterns, *master.patterns, *guide.parts, *sets})
        exchange = Exchange(search, pool, self.seed)
        closing = Closing(search, guide, exchange, self.seed)
        closing.first((sets, None) if given else (sets,))
        for turn in range(1, len(_DIVES)):
            if self.search.within(_FAR):
                break
            exchange.run(_EXCHANGES, self._dive(turn, closer, point, parts))
        self._exchange(exchange)
        served = self._all_that_serve(near, guide, margin)
        if served is None or len(served) > _POOL_PROVEN:
            if not (instance.apart or instance.together or instance.barred):
                closing.run(pricers)
            served = self._all_that_serve(near, guide, margin)
        self._small_pool(pool if served is None else served, complete=served is not None)

    def _dive(
        self, turn: int, closer: Instance, point: Point, parts: dict[Pattern, float]
    ) -> dict[Pattern, int]:
        """Sets from a dive, which the search is told of."""
        small, share = _DIVES[turn]
        sets = dive(closer, self.search, point, parts, small=small, share=share)
        self.search.take(sets, "dive")
        return sets

    def _point_prices(
        self, instance: Instance, pricers: list[Pricer], point: Point
    ) -> tuple[Certificate | None, int]:
        """Safe prices from an optimum of the linear program, and what they prove."""
        return self._prices(
            instance, pricers, point.gain_price.tolist(), point.worth_price.tolist()
        )

    def _prices(
        self,
        instance: Instance,
        pricers: list[Pricer],
        gain_price: list[float],
        worth_price: list[float],
    ) -> tuple[Certificate | None, int]:
        safe = certificate(instance, [pricer.offer for pricer in pricers], gain_price, worth_price)
        if safe is None:
            return None, 0
        proof, work = safe
        self.search.budget.spend(work)
        return proof, price_bound(instance, proof)

    def _exchange(self, exchange: Exchange) -> None:
        """Exchange sets until plan and bound are close, or turns of it have stopped to pay."""
        search = self.search
        idle = 0
        for _ in range(_MAX_EXCHANGES - 1):
            if self.search.within(_CLOSE):
                break
            before = search.loss
            if self.search.within(_FAR):
                exchange.run(_EXCHANGES)
            else:  # a whole set too many, as a rule: only a detour through worse plans saves it
                exchange.run(_EXCHANGES_HOT, heat=_HEAT)
            assert before is not None
            assert search.loss is not None
            paper = paper_cost(search.instance, search.cuts)
            idle = idle + 1 if before - search.loss <= _WORTH_ON * paper else 0
            if idle == _MAX_IDLE:
                break

    def _all_that_serve(
        self, near: NearPatterns, guide: Guide, margin: float
    ) -> list[Pattern] | None:
        """Every pattern that a better plan can hold; None where they are not known."""
        assert self.search.loss is not None
        if guide.least is None:
            return None
        gap = self.search.loss - guide.least + margin
        if near.complete < gap:
            return None
        costs = zip(near.patterns, near.reduced, strict=True)
        return [pattern for pattern, reduced in costs if reduced <= gap]

    def _small_pool(self, pool: list[Pattern], *, complete: bool) -> None:
        """Whole sets over the pool by integer program; a proof where the pool holds all there is.

        The pool holds every pattern of a plan that is better than the one known where `complete`:
        in such a plan no pattern's reduced cost is above the gap to what the prices prove.
        """
        search = self.search
        close = self.search.within(_CLOSE)
        if len(pool) > (_POOL_PROVEN if close else _MAX_POOL) or (close and not complete):
            return
        # Slow to import, and not every search comes here.
        from trimopt.cutting.search.pool_program import choose_sets  # noqa: PLC0415

        hint = {cut.pattern: cut.sets for cut in search.cuts}
        proved = choose_sets(
            search, pool, effort=_POOL_EFFORT, seed=self.seed, hint=hint, above=search.bound
        )
        if complete and proved is not None:
            search.prove(proved, "all patterns that could serve")

    def fewest(self, problem: Fewest, offer: ClassOffer) -> None:
        """Run of one class where the loss is so much a set: fewest sets."""
        steps = FewestSets(self.search, problem, offer, self.seed)
        try:
            steps.run()
        finally:
            self._prices_of(steps, problem, offer)

    def _prices_of(self, steps: FewestSets, problem: Fewest, offer: ClassOffer) -> None:
        """Prices of pieces in fewest sets, as prices of the run.

        Where the widths alone proved the plan, each piece's price is its share of the width.
        """
        instance = self.search.instance
        prices = [PRICE_SCALE * width // problem.width for width in problem.widths]
        if steps.root is not None:
            prices = [int(price) for price in steps.root.prices]
        gain_price = [0.0] * len(instance.demands)
        worth_price = [float(SCALE)] * len(instance.demands)
        cost = SCALE * offer.cost / PRICE_SCALE
        for item, price in zip(problem.members, prices, strict=True):
            for k, _ in item:
                option = instance.options[k]
                worth = SCALE * option.worth
                gain_price[option.demand] = (cost * float(price) - worth) / option.gain
        safe = certificate(instance, [offer], gain_price, worth_price)
        if safe is not None:
            self.proof = safe[0]
            self.proved = price_bound(instance, self.proof)

    def outcome(self) -> Outcome:
        search = self.search
        if self.blocking:
            return Outcome(
                status=Status.INFEASIBLE,
                cuts=(),
                loss=None,
                bound=0,
                price_bound=0,
                certificate=None,
                seconds=search.seconds,
                blocking=self.blocking,
                text="no pattern may hold a piece of the demand",
            )
        bound = search.bound
        if self.proof is not None and (bound is None or bound < self.proved):
            bound = self.proved
        if bound is None:
            bound = _floor_bound(search.instance)
        if search.loss is None:
            status = Status.OUT_OF_TIME
        else:
            status = Status.OPTIMAL if search.loss <= bound else Status.FEASIBLE
        return Outcome(
            status=status,
            cuts=search.cuts,
            loss=search.loss,
            bound=bound,
            price_bound=self.proved if self.proof is not None else bound,
            certificate=self.proof,
            clock_stopped=search.budget.stopped,
            seconds=search.seconds,
        )


def _floor_bound(instance: Instance) -> int:
    """A bound before any price is known: every demand at the most that it can give back."""
    total = 0
    for demand, places in zip(instance.demands, instance.by_demand(), strict=True):
        options = [instance.options[k] for k in places]
        if demand.high is None and any(option.worth for option in options):
            continue
        ratio = max((Fraction(o.worth, o.gain) for o in options), default=Fraction(0))
        total -= SCALE * int(ratio * (demand.high or 0) + 1)
    return total


def _pricers(instance: Instance) -> list[Pricer]:
    return [Pricer(instance, offer) for offer in class_offers(instance)]


def _blocked(instance: Instance, own: list[Pattern | None]) -> tuple[int, ...]:
    return tuple(
        i for i, pattern in enumerate(own) if pattern is None and instance.demands[i].low > 0
    )
