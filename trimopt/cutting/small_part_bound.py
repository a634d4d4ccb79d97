"""The bound of a run without a plan: by prices, and by search where few demands make a part.

The linear program of a large run is close to its plans. That of one order, or of a few on a core of
their own, is not: it makes fractions of a set, and a whole set is much of them. So a small part is
searched through, which takes milliseconds, and a large one gets what its prices prove.
"""

from __future__ import annotations

from dataclasses import replace

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.decomposition import parts_of, solve_parts
from trimopt.cutting.engine import solve
from trimopt.cutting.model.cuts import Cut
from trimopt.cutting.model.instance import Instance
from trimopt.cutting.model.outcome import Observer, Outcome, Status
from trimopt.cutting.params import PARAMS, SmallPartParams
from trimopt.cutting.search.pattern_enumeration import all_patterns
from trimopt.cutting.search.search_state import Search


def prove(instance: Instance, *, budget: Budget, seed: int = 0) -> Outcome:
    """Bound the loss of a run.

    Parameters
    ----------
    seed
        Of the searches of small parts.

    Returns
    -------
    Outcome
        Its `price_bound` is what the prices prove, its `bound` what is proven in all. Its plan is
        whatever was met on the way.
    """

    def each(
        part: Instance,
        *,
        budget: Budget,
        observer: Observer | None = None,
        start: tuple[Cut, ...] = (),
    ) -> Outcome:
        # As wide a gap as may be: the linear program proves, and no plan is sought.
        outcome = solve(part, budget=budget, gap=1.0, seed=seed, observer=observer, start=start)
        if len(part.demands) > PARAMS.small_parts.max_demands:
            return outcome
        return _searched(part, outcome, budget, seed, PARAMS.small_parts)

    parts = parts_of(instance)
    if len(parts) <= 1:
        return each(instance, budget=budget)
    return solve_parts(instance, parts, each, budget, observer=None, start=())


def _searched(
    part: Instance, outcome: Outcome, budget: Budget, seed: int, params: SmallPartParams
) -> Outcome:
    """The outcome with what a search over all patterns of the part proves."""
    prices = outcome.certificate
    if prices is None or outcome.loss is None or outcome.loss <= outcome.bound:
        return outcome
    patterns = all_patterns(part, max_looked=params.max_looked)
    if patterns is None:
        return outcome
    # One more than the gap: the bound of the prices was rounded up.
    most = (outcome.loss - outcome.price_bound + 1) * prices.scale
    pool = [pattern for pattern in patterns if prices.reduced_cost(part, pattern) <= most]
    if len(pool) > params.max_pool:
        return outcome
    # Slow to import, and not every run has small parts.
    from trimopt.cutting.search.pool_program import choose_sets  # noqa: PLC0415

    search = Search(instance=part, budget=budget.share(1))
    proved = None
    try:
        search.take({cut.pattern: cut.sets for cut in outcome.cuts}, "linear program")
        proved = choose_sets(search, pool, effort=params.effort, seed=seed, above=outcome.bound)
    except SearchEnded:
        pass  # the clock
    loss, bound = search.loss, outcome.bound if proved is None else max(outcome.bound, proved)
    return replace(
        outcome,
        status=Status.OPTIMAL if loss is not None and loss <= bound else Status.FEASIBLE,
        cuts=search.cuts,
        loss=loss,
        bound=bound,
        clock_stopped=outcome.clock_stopped or search.budget.stopped,
        seconds=outcome.seconds + search.seconds,
    )
