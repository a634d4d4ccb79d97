"""One `solve`: from an instance to a plan of cuts with a proven bound."""

from __future__ import annotations

from contextlib import suppress
from functools import partial

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.bin_packing.bin_problem import bin_problem_of
from trimopt.cutting.decomposition import parts_of, solve_parts
from trimopt.cutting.lp.bound_certificate import certificate, price_bound
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate, values_at
from trimopt.cutting.lp.convexified import Guide, convexified_guide
from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.lp.master import LPSolution, Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.lp.tightening import tightened
from trimopt.cutting.model.cuts import Cut, Pattern, is_allowed
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.model.outcome import Certificate, Observer, Outcome, Status
from trimopt.cutting.params import PARAMS, EngineParams
from trimopt.cutting.search.local_search import LocalSearch
from trimopt.cutting.search.pattern_enumeration import NearPatterns, near_patterns
from trimopt.cutting.search.pool_bound import prove_by_cuts
from trimopt.cutting.search.restarts import Restarts
from trimopt.cutting.search.search_state import Search, paper_cost
from trimopt.cutting.search.single_order_patterns import completed, is_held, single_order_patterns
from trimopt.cutting.width_grid import grid_of, solve_on_grid

DEFAULT_S = 60.0
"""Seconds of a search whose caller sets no budget."""

_WORK_ANYWAY = 100_000_000  # half a second: of twenty to thirty orders all that it takes
_NEARLY = 1e-6  # of a set, by which a number of sets may miss a whole one
_ROUNDING = 1e-6  # of a set: far above what floats can err by in a reduced cost


def solve(
    instance: Instance,
    *,
    budget: Budget | None = None,
    gap: float = 0.0,
    seed: int = 0,
    observer: Observer | None = None,
    start: tuple[Cut, ...] = (),
    params: EngineParams = PARAMS,
) -> Outcome:
    """Least loss, proven.

    Parameters
    ----------
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
    params
        The tuned numbers.

    Returns
    -------
    Outcome
        Every plan in it has passed `faults_of`; its bound holds over all patterns.
    """
    budget = budget or Budget.lasting(DEFAULT_S)
    parts = parts_of(instance)
    if len(parts) > 1:
        each = partial(solve, gap=gap, seed=seed, params=params)
        return solve_parts(instance, parts, each, budget, observer=observer, start=start)
    steps = grid_of(instance, params.grid)
    if steps is not None:
        return solve_on_grid(
            instance,
            partial(solve, seed=seed),
            steps,
            budget=budget,
            observer=observer,
            start=start,
            gap=gap,
            params=params,
        )
    search = Search(
        instance=instance,
        budget=budget.share(1, budget.max_work),
        gap=gap,
        observer=observer,
        params=params,
    )
    run = _Stages(search, seed)
    with suppress(SearchEnded, SolverFailedError):  # what stands is given out
        run.go(start)
    return run.outcome()


def generated_patterns(instance: Instance, *, budget: Budget | None = None) -> tuple[Pattern, ...]:
    """Patterns that the linear program was given until none improved it; those of the optimum too.

    None where time ends before, or the grid of widths is so fine that its tables are coarser.
    """
    if grid_of(instance, PARAMS.grid) is not None:
        return ()
    pricers = _pricers(instance)
    search = Search(instance=instance, budget=budget or Budget())
    master = Master(instance)
    for pattern in single_order_patterns(instance, pricers):
        if pattern is not None:
            master.add(pattern)
    if not master.patterns:
        return ()
    try:
        generate(master, pricers, search)
    except (SearchEnded, SolverFailedError):
        return ()
    return tuple(master.patterns)


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


class _Stages:
    """The stages of one search, in order; what stands after any of them can be given out."""

    def __init__(self, search: Search, seed: int) -> None:
        self.search = search
        self.params = search.params.stages
        self.seed = seed
        self.proof: Certificate | None = None
        self.proved = 0
        self.blocked = False  # a demand lies in no allowed pattern

    def go(self, start: tuple[Cut, ...]) -> None:
        """A first plan, then the run as what it is: bin packing, or the general case."""
        search = self.search
        instance = search.instance
        pricers = _pricers(instance)
        own = single_order_patterns(instance, pricers)
        demands = zip(own, instance.demands, strict=True)
        self.blocked = any(pattern is None and demand.low > 0 for pattern, demand in demands)
        if self.blocked:
            return
        if start:
            search.take(completed(instance, start, own), "start")
        search.take(completed(instance, (), own), "one order a pattern")
        problem = bin_problem_of(instance, [pricer.offer for pricer in pricers])
        if problem is not None:
            # A mill's run seldom is one of bin packing alone.
            from trimopt.cutting.bin_packing.fewest_sets import FewestSets  # noqa: PLC0415

            steps = FewestSets(search, problem, pricers[0].offer, self.seed)
            try:
                steps.run()
            finally:
                self._proved_by(instance, pricers, *steps.prices())
            return
        master = Master(instance)
        for pattern in (*own, *(cut.pattern for cut in start)):
            if pattern is not None and is_allowed(instance, pattern):
                master.add(pattern)
        if not master.patterns:
            search.prove(search.loss or 0, "nothing to make")
            return
        first = search.loss
        try:
            self._general(master, pricers, given=bool(start))
        except SearchEnded:
            if search.loss == first and search.budget.over():
                if search.budget.stopped and search.gap < 1:  # where a plan is sought at all
                    self._priced(master, pricers)
                    self._built(own)
                self._rounded(master, own)
            raise

    def _rounded(self, master: Master, own: list[Pattern | None]) -> None:
        """Where time ends before sets are exchanged: the program as far as it is, made whole."""
        point = master.solve()
        for least in (_NEARLY, 1 - _NEARLY):  # every part of a set rounded down, and up
            sets = [int(n + least) for n in point.sets]
            cuts = [Cut(p, n) for p, n in zip(master.patterns, sets, strict=True) if n]
            plan = completed(self.search.instance, cuts, own)
            with suppress(SearchEnded):
                self.search.take(plan, "linear program rounded")

    def _priced(self, master: Master, pricers: list[Pricer]) -> None:
        """Where a clock ends it so soon, the program over patterns, with a little work anyway."""
        budget = Budget(max_work=_WORK_ANYWAY, anyway=True)
        with suppress(SearchEnded):
            generate(master, pricers, Search(instance=self.search.instance, budget=budget))

    def _built(self, own: list[Pattern | None]) -> None:
        """Where a clock ends it so soon, plans that are built in no time, whatever it says."""
        from trimopt.cutting.setups.direct_builds import quick_builds  # noqa: PLC0415  seldom

        for cuts in quick_builds(self.search.instance):
            with suppress(SearchEnded):
                self.search.take(completed(self.search.instance, cuts, own), "built quickly")

    def _general(self, master: Master, pricers: list[Pricer], *, given: bool) -> None:
        """Linear program, its bound, and whole sets exchanged over a pool of patterns.

        The local search begins from dives in the convexified program, from the whole parts of the
        program over patterns, and from a plan that was given.
        """
        search, instance = self.search, self.search.instance
        # Nothing made, nothing lost: prices that hold before any program is solved.
        free = [0.0] * len(instance.demands)
        self._proved_by(instance, pricers, free, [float(SCALE)] * len(free))
        (closer, more), master, point, proved = self._linear_program(master, pricers)
        parts = {p: float(n) for p, n in zip(master.patterns, point.sets, strict=True) if n > 0}
        least = None if proved is None else proved + more
        guide = Guide(values=values_at(instance, point), parts=parts, bound=least)
        if not search.within(search.params.restarts.target_gap):
            found = convexified_guide(search, (closer, more), pricers, point, master.patterns)
            guide = found.if_closer(guide)
        least_loss = point.loss + more if guide.bound is None else guide.bound
        margin = _ROUNDING * SCALE * max(pricer.offer.cost for pricer in pricers)
        assert search.loss is not None, "patterns of one order make a plan"
        near = near_patterns(
            pricers,
            guide.values,
            search,
            wanted=self.params.near_patterns,
            max_cost=search.loss - least_loss + margin,
        )
        sets = {pattern: int(n + _NEARLY) for pattern, n in parts.items() if n + _NEARLY >= 1}
        pool = sorted({*near.patterns, *master.patterns, *guide.parts})
        exchange = LocalSearch(search, pool, self.seed)
        closing = Restarts(search, guide, exchange, self.seed)
        closing.first((sets, None) if given else (sets,))
        # Where a plan is far off, a whole set too many, as a rule, moves of pieces mend it soon.
        ruled = instance.apart or instance.together or instance.barred  # no such moves know of
        self._exchange(exchange, self.params.turns if ruled else 1)
        serving = self._all_that_serve(near, guide, margin)
        if serving is None or len(serving) > self.params.max_pool_close:
            prove = partial(prove_by_cuts, search, guide, pricers, margin)
            if not ruled:
                closing.run(pricers, prove)
            better = search.loss != closing.proved
            if better and not search.within(search.params.restarts.target_gap):
                prove()
            serving = self._all_that_serve(near, guide, margin)
        if serving is not None:
            self._prove_by_pool(serving)

    def _linear_program(
        self, master: Master, pricers: list[Pricer]
    ) -> tuple[tuple[Instance, int], Master, LPSolution, int | None]:
        """Its optimum and what its prices prove, then again over tightened ranges.

        Gives the instance with tightened ranges and the loss to be added to its losses, and of
        the program over these ranges the master, the optimum, and the bound that it proves.
        """
        search, instance = self.search, self.search.instance
        point, _ = generate(master, pricers, search)
        proved = self._proved_by(instance, pricers, *_prices_of(point))
        closer, more = tightened(instance, search.params)
        if closer.demands != instance.demands:
            tight = Master(closer)
            for pattern in master.patterns:
                tight.add(pattern)
            master = tight
            point, _ = generate(master, pricers, search)
            proved = self._proved_by(closer, pricers, *_prices_of(point), keep=False)
            if proved is not None:
                search.prove(max(self.proved, proved + more), "prices and whole pieces")
        if self.proof is not None:
            search.prove(self.proved, "prices")
        return (closer, more), master, point, proved

    def _proved_by(
        self,
        instance: Instance,
        pricers: list[Pricer],
        gain_price: list[float],
        worth_price: list[float],
        *,
        keep: bool = True,
    ) -> int | None:
        """Return what prices prove of an instance, None where nothing.

        They become the certificate of the run where they prove no less (`keep`).
        """
        safe = certificate(instance, [pricer.offer for pricer in pricers], gain_price, worth_price)
        if safe is None:
            return None
        proof, work = safe
        proved = price_bound(instance, proof)
        if keep and (self.proof is None or proved >= self.proved):
            self.proof, self.proved = proof, proved
        self.search.budget.spend(work)
        return proved

    def _exchange(self, exchange: LocalSearch, turns: int) -> None:
        """Exchange sets until plan and bound are close, or turns of it have stopped to pay."""
        search, params = self.search, self.params
        idle = 0
        for _ in range(turns):
            if search.within(params.close_gap):
                break
            before = search.loss
            if search.within(params.far_gap):
                exchange.run(params.exchanges)
            else:  # a whole set too many, as a rule: only a detour through worse plans saves it
                exchange.run(params.far_exchanges, heat=params.far_heat)
            assert before is not None
            assert search.loss is not None
            paper = paper_cost(search.instance, search.cuts)
            idle = idle + 1 if before - search.loss <= params.min_progress * paper else 0
            if idle == params.max_idle_turns:
                break

    def _all_that_serve(
        self, near: NearPatterns, guide: Guide, margin: float
    ) -> list[Pattern] | None:
        """Every pattern that a better plan can hold; None where they are not known.

        In such a plan no pattern's reduced cost is above the gap to what the prices prove.
        """
        assert self.search.loss is not None
        if guide.bound is None:
            return None
        gap = self.search.loss - guide.bound + margin
        if near.complete < gap:
            return None
        costs = zip(near.patterns, near.reduced, strict=True)
        return [pattern for pattern, reduced in costs if reduced <= gap]

    def _prove_by_pool(self, pool: list[Pattern]) -> None:
        """The best plan over every pattern that can serve, by integer program: so it is proven."""
        search, params = self.search, self.params
        close = search.within(params.close_gap)
        if len(pool) > (params.max_pool_close if close else params.max_pool):
            return
        # Slow to import, and not every search comes here.
        from trimopt.cutting.search.pool_program import choose_sets  # noqa: PLC0415

        proved = choose_sets(
            search, pool, effort=params.pool_effort, seed=self.seed, above=search.bound
        )
        if proved is not None:
            search.prove(proved, "all patterns that could serve")

    def outcome(self) -> Outcome:
        search = self.search
        if self.blocked:
            return Outcome(
                status=Status.INFEASIBLE,
                cuts=(),
                loss=None,
                bound=0,
                price_bound=0,
                certificate=None,
                seconds=search.seconds,
            )
        bound = search.bound
        if self.proof is not None and (bound is None or bound < self.proved):
            bound = self.proved
        if bound is None:  # before any price is known: all that demands can give back at the most
            bound = -SCALE * sum(d.surplus_worth * (d.high or 0) for d in search.instance.demands)
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


def _prices_of(point: LPSolution) -> tuple[list[float], list[float]]:
    return point.gain_price.tolist(), point.worth_price.tolist()


def _pricers(instance: Instance) -> list[Pricer]:
    return [Pricer(instance, offer) for offer in class_offers(instance)]
