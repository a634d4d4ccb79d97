"""The search for the trade-off: the engine's plan first, then builds and neighbourhoods in turn."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import partial
from random import Random
from typing import TYPE_CHECKING

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.engine import DEFAULT_S, solve
from trimopt.cutting.model.cuts import Cut, faults_of, loss_of, residual
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.outcome import Outcome
from trimopt.cutting.params import PARAMS, EngineParams, SetUpParams
from trimopt.cutting.search.pattern_enumeration import all_patterns
from trimopt.cutting.search.search_state import paper_cost
from trimopt.cutting.setups.archive import Archive
from trimopt.cutting.setups.build_tables import BuildTables
from trimopt.cutting.setups.dealt_sets import Merger
from trimopt.cutting.setups.model import ParetoPoint, TradeOff
from trimopt.cutting.setups.pattern_floor import fewest_patterns
from trimopt.cutting.setups.priced_exchanges import PricedExchanges
from trimopt.cutting.setups.ruin_recreate import Recreator

if TYPE_CHECKING:
    from trimopt.cutting.setups.all_patterns_program import AllPatterns

EXACT_WORK = 256


class _TradeOffSearch:
    """State of one trade-off."""

    def __init__(
        self,
        instance: Instance,
        outcome: Outcome,
        seed: int,
        fixed: tuple[Cut, ...],
        *,
        budget: Budget,
        params: SetUpParams,
    ) -> None:
        self.max_patterns: int | None = None  # the cap, once the search keeps near it
        self.work = 0
        self.instance = instance
        self.outcome = outcome
        self.budget = budget
        self.seed = seed
        self.rng = Random(seed)
        self.params = params
        self.tables = BuildTables.of(instance, outcome.certificate, params)
        self.archive = Archive(self.tables, fixed)
        self.floor = self.tables.assumed_floor(
            None if outcome.certificate is None else outcome.price_bound
        )
        self.recreator = Recreator(self.tables, self.archive, self.floor, self.rng)
        self.merger = Merger(self.tables, self.archive, self.recreator, self.rng)
        # Work is counted in builds here, so the limit on it is none for the engine that bounds.
        self.any_bound = fewest_patterns(instance, budget.share(1), fixed)
        self.fewest_bound = self.any_bound  # at no more loss than `fewest_loss`
        self.fewest_loss: int | None = None
        self.loss_bounds: dict[int, int] = {}
        # The points that lose little more than the least, and the work that last changed them.
        self.near: list[tuple[int, int]] = []
        self.changed_at = 0

    def spend(self, work: int) -> None:
        """Count work; it ends the search where it was the last."""
        self.work += work
        self.budget.spend(work)

    def go(self, max_patterns: int | None) -> None:
        """Search until a limit, or until every point is proven; then near the cap."""
        budget = self.budget
        if max_patterns is not None:
            self.budget = budget.share(self.params.share_before_cap, budget.max_work)
        with suppress(SearchEnded):
            self._whole()
        if max_patterns is not None and not self.result().settled(max_patterns):
            self.max_patterns = max_patterns
            self.budget = budget.share(1, self.params.work_near_cap * budget.max_work)
            self._exchanges()

    def _whole(self) -> None:
        self._builds(self.params.builds)
        self.spend(self.params.builds)
        self._exact()
        self._exchanges()

    def _exchanges(self) -> None:
        """Builds, and between them what mends plans: exchanges, of exact quantities deals."""
        mended = self._dealt
        if self.archive.ranges:
            priced = PricedExchanges(self.tables, self.archive, self.budget, self.seed)
            mended = partial(self._exchanged, priced)
        while not self._rests():
            self._builds(self.params.builds)
            self.spend(self.params.builds)
            mended()

    def _exchanged(self, priced: PricedExchanges) -> None:
        for _ in range(self.params.turns):
            priced.turn()
            self.spend(self.params.turn_work)

    def _dealt(self) -> None:
        for _ in range(self.params.builds // self.params.draws):
            self.merger.draw(self._plan(), self.params.draws)
        self.spend(self.params.builds)

    def _rests(self) -> bool:
        """Whether the last part of the work changed no point that a scheduler might take.

        Near a cap the search goes on: little is found there, and it was asked for.
        """
        least = self.archive.min_loss() or 0
        most = least + self.params.resting_loss * paper_cost(self.instance, self.outcome.cuts)
        near = [(count, loss) for count, loss, _ in self.archive.front() if loss <= most]
        if near != self.near:
            self.near, self.changed_at = near, self.work
        idle = max(self.params.resting_builds, self.params.resting_share * self.work)
        return self.max_patterns is None and self.work - self.changed_at >= idle

    def _exact(self) -> None:
        """Where the patterns are few, the integer program over all of them, point by point."""
        patterns = all_patterns(
            self.instance, max_looked=self.params.max_looked, max_found=self.params.max_patterns
        )
        least = self.archive.min_loss()
        if patterns is None or least is None:
            return
        # Slow to import, and of many orders patterns are not few.
        from trimopt.cutting.setups.all_patterns_program import NO_PLAN, AllPatterns  # noqa: PLC0415

        program = AllPatterns(
            tables=self.tables,
            patterns=patterns,
            fixed=self.archive.fixed,
            outcome=self.outcome,
            effort=self.params.exact_effort,
        )
        _, bound = self._solved(program, loss=least, patterns=None)
        if bound is None:
            self.spend(EXACT_WORK)
            return
        self.fewest_bound, self.fewest_loss = max(self.fewest_bound, bound), least
        self.spend(EXACT_WORK)  # what is proven stands where this ends the search
        program = replace(program, effort=self.params.point_effort)
        count = min(k for k, loss in self.archive.loss.items() if loss <= least) - 1
        while count >= self.any_bound:
            plan, bound = self._solved(program, loss=None, patterns=count)
            if bound is None:
                self.spend(EXACT_WORK)
                return
            if bound == NO_PLAN:
                self.any_bound = max(self.any_bound, count + 1)
                break
            self.loss_bounds[count] = bound
            self.spend(EXACT_WORK)
            if plan is None or self.tables.loss(plan) != bound:
                return
            count -= 1
        raise SearchEnded

    def _solved(
        self, program: AllPatterns, *, loss: int | None, patterns: int | None
    ) -> tuple[tuple[Cut, ...] | None, int | None]:
        """One point of the integer program, begun from the nearest plan that is known."""
        front = list(self.archive.front())
        hint = next((at for at in front if patterns is None or at[0] <= patterns), front[-1])
        plan, bound = program.solve(
            loss=loss,
            patterns=patterns,
            hint=hint[2][0],
            budget=self.budget,
            seed=self.rng.randrange(1 << 30),
        )
        if plan is not None:
            self.archive.add(plan)
        return plan, bound

    def _loss_bound(self, patterns: int) -> int:
        """Proven least loss with at most so many patterns."""
        known = [bound for count, bound in self.loss_bounds.items() if count >= patterns]
        return max([self.outcome.bound, *known])

    def _plan(self) -> tuple[Cut, ...]:
        """A plan of the front, that of least loss most often."""
        front = self._front()
        at = max(0, int(self.rng.random() * (len(front) + 2)) - 2)
        plans = front[at][2] if front else [()]
        return plans[int(self.rng.random() * len(plans))]

    def _front(self) -> list[tuple[int, int, list[tuple[Cut, ...]]]]:
        """Where plans are taken from: the archive's front, under a cap what is near it."""
        front = list(self.archive.front())
        if self.max_patterns is None:
            return front
        within = next((at for at, p in enumerate(front) if p[0] <= self.max_patterns), len(front))
        return front[max(0, within - self.params.near_cap) : within + self.params.near_cap]

    def _builds(self, count: int) -> None:
        rng, archive = self.rng, self.archive
        for _ in range(count):
            if self.budget.over():
                return
            front = self._front()
            if not front or rng.random() < 0.03:
                self.recreator.step(None, float("inf"), 10**9)
                continue
            at = int(rng.random() * (len(front) + 1)) - 1
            patterns, loss, plans = front[max(0, at)]
            draw = rng.random()
            if draw < 0.4:
                near = patterns + (1 if draw < 0.3 else -1)
                plans = archive.plans.get(near, plans)
            base = plans[int(rng.random() * len(plans))]
            if at == len(front) - 1 and rng.random() < 0.5:  # beyond the end: any loss
                self.recreator.step(base, float("inf"), patterns - 1)
            else:
                self.recreator.step(base, float(loss), patterns)

    def result(self) -> TradeOff:
        """What is known, of plans that have passed `faults_of`."""
        points = []
        for patterns, loss, plans in self.archive.front():
            good = [
                cuts
                for cuts in plans
                if not faults_of(self.instance, cuts) and loss_of(self.instance, cuts) == loss
            ]
            if good:
                points.append(
                    ParetoPoint(
                        patterns=patterns,
                        loss=loss,
                        cuts=good[0],
                        loss_bound=self._loss_bound(patterns),
                        equal=tuple(good[1:]),
                    )
                )
        bound = self.any_bound
        if points and self.fewest_loss is not None and points[0].loss <= self.fewest_loss:
            bound = max(bound, self.fewest_bound)
        return TradeOff(
            points=tuple(points),
            patterns_bound=bound,
            patterns_bound_any=self.any_bound,
            clock_stopped=self.budget.stopped,
            work=self.work,
        )


def trade_off(
    instance: Instance,
    outcome: Outcome,
    *,
    budget: Budget | None = None,
    seed: int = 0,
    fixed: tuple[Cut, ...] = (),
    max_patterns: int | None = None,
    params: EngineParams = PARAMS,
) -> TradeOff:
    """Least loss for each number of patterns.

    Parameters
    ----------
    outcome
        The engine's answer for it: its plan is where the search begins (with `fixed` in front,
        where there are any), its bound holds here too.
    budget
        When to stop with what is known; None: after a minute.
    seed
        The same instance, outcome, seed and limit of work give the same trade-off.
    fixed
        Cuts that every plan holds as they are. They stand first in each point's cuts.
    max_patterns
        The patterns that are wanted at the most. Where the whole trade-off leaves more to be
        found there, the search goes on near them, with three times the work.

    Returns
    -------
    TradeOff
        Every plan in it has passed `faults_of`.
    """
    budget = budget or Budget.lasting(DEFAULT_S)
    budget = budget.share(1, budget.max_work)
    search = _TradeOffSearch(instance, outcome, seed, fixed, budget=budget, params=params.set_ups)
    try:
        start = outcome.cuts
        if start[: len(fixed)] != fixed:
            rest = solve(
                residual(instance, fixed),
                budget=budget.share(0.5),
                seed=seed,
                params=params,
            )
            start = (*fixed, *rest.cuts)
        if not faults_of(instance, start):  # what asks for nothing is met by no cut at all
            search.archive.add(start)
        search.go(max_patterns)
    except SearchEnded:
        pass
    return search.result()
