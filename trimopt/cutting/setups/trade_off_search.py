"""The search for the trade-off: the engine's plan first, then builds and neighbourhoods in turn."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from random import Random
from time import perf_counter

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.engine import DEFAULT_S, solve
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.observer import Observer, Progress
from trimopt.cutting.model.outcome import Cut, Outcome, Pattern, faults_of, loss_of, pattern_faults
from trimopt.cutting.setups.all_patterns_program import NO_PLAN, Every, every_pattern
from trimopt.cutting.setups.archive import Archive
from trimopt.cutting.setups.build_tables import Case, Plan, case_of, plan_of, without_surplus
from trimopt.cutting.setups.column_bound import fewest_by_columns
from trimopt.cutting.setups.merging import Merger
from trimopt.cutting.setups.model import Point, TradeOff
from trimopt.cutting.setups.pattern_floor import fewest_patterns
from trimopt.cutting.setups.pinned_cuts import without_fixed
from trimopt.cutting.setups.ruin_recreate import Recreator

__all__ = ["fewest", "trade_off"]

#: Builds between two looks at the clock and the observer.
ROUND = 64
#: So many patterns in all make an instance one for the integer program over all of them.
FEW = 1_500
EXACT_EFFORT = 4.0
EFFORT = 0.1  # of the constraint model
EXACT_WORK = 256
BOUND_WORK = 128
#: Draws of sets for one choice of patterns that go.
DRAWS = 8
#: Points on either side of a cap that the search looks at.
NEAR = 2
#: Share of the time for the whole trade-off where there is a cap, and how often its work follows.
WHOLE = 0.4
AGAIN = 3


def _assumed_floor(case: Case, outcome: Outcome) -> float:
    """Loss that no plan can avoid at the case's values, as a guide for the builder."""
    if outcome.certificate is not None:
        return float(outcome.price_bound)
    if any(option.worth for option in case.instance.options):
        return 0.0
    return sum(
        low * min((case.value[k] / case.gain[k] for k in case.by_demand[i]), default=0.0)
        for i, low in enumerate(case.low)
    )


class _Search:
    """State of one trade-off."""

    def __init__(
        self,
        instance: Instance,
        outcome: Outcome,
        seed: int,
        fixed: tuple[Cut, ...],
        *,
        budget: Budget,
        observer: Observer | None,
    ) -> None:
        self.most: int | None = None  # the cap, once the search keeps near it
        self.begun = perf_counter()
        self.work = 0
        self.instance = instance
        self.outcome = outcome
        self.budget = budget
        self.observer = observer
        self.rng = Random(seed)
        self.case = case_of(instance, outcome.certificate)
        self.archive = Archive(self.case, plan_of(fixed))
        self.recreator = Recreator(
            self.case, self.archive, _assumed_floor(self.case, outcome), self.rng
        )
        self.any_bound = fewest_patterns(instance, budget, fixed)
        self.fewest_bound = self.any_bound  # at no more loss than `fewest_loss`
        self.fewest_loss: int | None = None
        self.loss_bounds: dict[int, int] = {}
        self.merger = Merger(self.case, self.archive, self.recreator, self.rng)

    def begin(self, plan: Plan) -> None:
        """Take in the engine's plan, without a surplus that it may hold because it is free."""
        self.archive.add(plan)
        if self.archive.loss:
            return
        fixed = len(self.archive.fixed)
        exact = without_surplus(self.case, plan, fixed)
        if exact is not None:
            self.archive.add(exact)
        if self.archive.loss:
            return
        # the rules of the patterns want more made than was asked: then let it be
        self.case = replace(self.case, strict=(False,) * len(self.case.strict))
        for part in (self.archive, self.recreator, self.merger):
            part.case = self.case
        self.archive.add(plan)

    def spend(self, work: int, step: str) -> None:
        """Count work, and tell the observer what is known."""
        if self.observer is not None:
            self.observer(
                Progress(
                    seconds=perf_counter() - self.begun,
                    loss=self.archive.least(),
                    bound=self.outcome.bound,
                    step=step,
                )
            )
        self.work += work
        self.budget.spend(work)

    def go(self, most: int | None) -> None:
        """Search until a limit, or until every point is proven; then near the cap."""
        budget = self.budget
        if most is not None:
            self.budget = budget.share(WHOLE, budget.max_work)
        with suppress(SearchEnded):
            self._whole()
        if most is not None and not _result(self).settled(most):
            self.most, self.budget = most, budget.share(1, AGAIN * budget.max_work)
            self._exchanges()

    def _whole(self) -> None:
        self._builds(ROUND)
        self.spend(ROUND, "patterns built")
        self._bounded()
        self._exact()
        self._exchanges()

    def _exchanges(self) -> None:
        while True:
            self._builds(ROUND)
            self.spend(ROUND, "patterns built")
            for _ in range(ROUND // DRAWS):
                self.merger.draw(self._plan(), DRAWS)
            self.spend(ROUND, "sets dealt to fewer patterns")
            front = self._front()
            if (
                front and len(self.case.classes) == 1
            ):  # over several the model is slow for its worth
                _, loss, plans = front[int(self.rng.random() * len(front))]
                plan = plans[int(self.rng.random() * len(plans))]
                self.merger.solved(plan, float(loss), EFFORT, self.budget)
                self.spend(ROUND // 2, "patterns exchanged")

    def _exact(self) -> None:
        """Where the patterns are few, the integer program over all of them, point by point."""
        patterns = every_pattern(self.case, FEW)
        if patterns is None:
            return
        every = Every(self.case, patterns, self.archive.fixed)
        if not every.fits():
            return
        count: int | None = None
        while True:
            front = list(self.archive.front())
            if not front:
                return
            best = next((at for at in front if count is None or at[0] <= count), front[-1])
            first = count is None
            plan, bound = every.solve(
                loss=best[1] if first else None,
                patterns=count,
                fewest=self.fewest_bound if first and best[1] == self.fewest_loss else 0,
                hint=best[2][0],
                proof=self.outcome.certificate,
                floor=self.outcome.price_bound,
                effort=EXACT_EFFORT,
                budget=self.budget,
                seed=self.rng.randrange(1 << 30),
            )
            if plan is not None:
                self.archive.add(plan)
            if bound is not None and first:
                self.fewest_bound = max(self.fewest_bound, bound)
                self.fewest_loss = best[1]
                count = min(k for k, loss in self.archive.loss.items() if loss <= best[1])
            elif bound is not None and count is not None:
                if bound == NO_PLAN:
                    self.any_bound = max(self.any_bound, count + 1)
                    raise SearchEnded
                self.loss_bounds[count] = bound
            self.spend(EXACT_WORK, "all patterns in one integer program")
            if (
                bound is None
                or count is None
                or (not first and (plan is None or self.case.loss(plan) != bound))
            ):
                return
            count -= 1
            if count < self.any_bound:
                raise SearchEnded

    def _bounded(self) -> None:
        """The bound by columns, where the patterns are too many for one integer program."""
        proof, least = self.outcome.certificate, self.archive.least()
        if least is None:
            return
        gap = max(0.0, least - _assumed_floor(self.case, self.outcome))
        bound = fewest_by_columns(self.case, proof, gap, self.budget.share(0.3))
        self.fewest_bound = max(self.fewest_bound, bound)
        self.fewest_loss = least
        self.spend(BOUND_WORK, "bound on the patterns")

    def loss_bound(self, patterns: int) -> int:
        """Proven least loss with at most so many patterns."""
        known = [bound for count, bound in self.loss_bounds.items() if count >= patterns]
        return max([self.outcome.bound, *known])

    def _plan(self) -> Plan:
        """A plan of the front, that of least loss most often."""
        front = self._front()
        at = max(0, int(self.rng.random() * (len(front) + 2)) - 2)
        plans = front[at][2] if front else [()]
        return plans[int(self.rng.random() * len(plans))]

    def _front(self) -> list[tuple[int, int, list[Plan]]]:
        """Where plans are taken from: the archive's front, under a cap what is near it."""
        front = list(self.archive.front())
        if self.most is None:
            return front
        within = next((at for at, p in enumerate(front) if p[0] <= self.most), len(front))
        return front[max(0, within - NEAR) : within + NEAR]

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


def trade_off(
    instance: Instance,
    outcome: Outcome,
    *,
    budget: Budget | None = None,
    seed: int = 0,
    observer: Observer | None = None,
    fixed: tuple[Cut, ...] = (),
    most: int | None = None,
) -> TradeOff:
    """Least loss for each number of patterns.

    Parameters
    ----------
    instance
        The run.
    outcome
        The engine's answer for it: its plan is where the search begins (with `fixed` in front,
        where there are any), its bound holds here too.
    budget
        When to stop with what is known; None: after a minute.
    seed
        The same instance, outcome, seed and limit of work give the same trade-off.
    observer
        Told of progress.
    fixed
        Cuts that every plan holds as they are. They stand first in each point's cuts.
    most
        The patterns that are wanted at the most. Where the whole trade-off leaves more to be
        found there, the search goes on near them, with three times the work.

    Returns
    -------
    TradeOff
        Every plan in it has passed `faults_of`.

    Raises
    ------
    ValueError
        A fixed cut is not allowed.
    """
    budget = budget or Budget.lasting(DEFAULT_S)
    budget = budget.share(1, budget.max_work)
    for cut in fixed:
        if cut.sets < 1 or pattern_faults(instance, cut.pattern):
            message = f"{cut} cannot be fixed: {'; '.join(pattern_faults(instance, cut.pattern))}"
            raise ValueError(message)
    search = _Search(instance, outcome, seed, fixed, budget=budget, observer=observer)
    try:
        start = outcome.cuts
        if start[: len(fixed)] != fixed:
            rest = solve(
                without_fixed(instance, fixed),
                budget=budget.share(0.5),
                seed=seed,
            )
            start = (*fixed, *rest.cuts) if rest.loss is not None else ()
        if start and not faults_of(instance, start):
            search.begin(plan_of(start))
        search.go(most)
    except SearchEnded:
        pass
    return _result(search)


def _result(search: _Search) -> TradeOff:
    instance, archive = search.instance, search.archive
    points = []
    for patterns, loss, plans in archive.front():
        good = []
        for plan in plans:
            cuts = tuple(Cut(Pattern(c, pieces), sets) for c, pieces, sets in plan)
            if not faults_of(instance, cuts) and loss_of(instance, cuts) == loss:
                good.append(cuts)
        if good:
            points.append(
                Point(
                    patterns=patterns,
                    loss=loss,
                    cuts=good[0],
                    loss_bound=search.loss_bound(patterns),
                    equal=tuple(good[1:]),
                )
            )
    bound = search.any_bound
    if points and search.fewest_loss is not None and points[0].loss <= search.fewest_loss:
        bound = max(bound, search.fewest_bound)
    return TradeOff(
        points=tuple(points),
        patterns_bound=bound,
        patterns_bound_any=search.any_bound,
        clock_stopped=search.budget.stopped,
        seconds=perf_counter() - search.begun,
        work=search.work,
    )


def fewest(
    instance: Instance,
    outcome: Outcome,
    *,
    budget: Budget | None = None,
    seed: int = 0,
    observer: Observer | None = None,
) -> Point | None:
    """The fewest patterns found at no more loss than the engine's plan; None without a plan.

    Parameters
    ----------
    instance, outcome, budget, seed, observer
        As for `trade_off`.
    """
    return trade_off(instance, outcome, budget=budget, seed=seed, observer=observer).least_loss
