"""One more demand joins a plan: the planned sets stay where they can, the rest makes room.

The linear program with the demand in it, begun from the plan's patterns, proves a bound.
The plan is found by exchanging whole sets over a pool: the plan's own patterns, and patterns that
hold the new demand. So sets change only where the new demand gains by it, and the plan after
compares with the plan before.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.lp.bound_certificate import certificate, price_bound
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate, values_at
from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.lp.master import LPSolution, Master
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.lp.tightening import tightened
from trimopt.cutting.model.cuts import Cut, Pattern, is_allowed
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.params import PARAMS
from trimopt.cutting.search.local_search import LocalSearch
from trimopt.cutting.search.pattern_enumeration import near_patterns
from trimopt.cutting.search.search_state import Search
from trimopt.cutting.search.single_order_patterns import sets_for, single_order_pattern


@dataclass(frozen=True, slots=True, kw_only=True)
class Insertion:
    """What joins which plan.

    `demand` is the new one's position in `instance`; `kept` the plan so far; `charges` what a set
    of each class costs in the search (the instance's costs are what is proven over); `set_up` the
    loss that a pattern more must be worth. `drawn_in`: prove over ranges drawn in to what whole
    pieces make (`trimopt.cutting.lp.tightening`), where the plan gained by it.
    """

    instance: Instance
    demand: int
    kept: tuple[Cut, ...]
    charges: tuple[int, ...]
    set_up: float
    drawn_in: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class InsertedPlan:
    """The plan with the new demand in it, empty where none was found, and a proven bound.

    `bound` holds for every plan of the instance, over all patterns; None where the clock came
    before any was proven.
    """

    cuts: tuple[Cut, ...]
    bound: int | None


def insert_demand(joining: Insertion, *, budget: Budget, seed: int = 0) -> InsertedPlan:
    """Find the plan that a new demand and a plan make together.

    Parameters
    ----------
    budget
        It only stops the search, whose end is a count of exchanges.
    seed
        The same problem and seed give the same plan, unless the clock stopped it.
    """
    pricers = [Pricer(joining.instance, offer) for offer in class_offers(joining.instance)]
    own = single_order_pattern(joining.instance, pricers, joining.demand)
    if own is None:
        return InsertedPlan(cuts=(), bound=None)
    charged = joining.instance.with_costs(joining.charges)
    search = Search(instance=charged, budget=budget.share(1), set_up=joining.set_up)
    search.take(_beside(joining, own), "by itself")
    program = _InsertionProgram(joining, pricers, search, own)
    try:
        pool = program.pool(program.solve())
        exchange = LocalSearch(search, [*(cut.pattern for cut in joining.kept), *pool], seed)
        exchange.run(PARAMS.insertion.exchanges, {cut.pattern: cut.sets for cut in joining.kept})
    except (SearchEnded, SolverFailedError):
        pass  # what stands is given out, with the bound that is proven so far
    return InsertedPlan(cuts=search.cuts, bound=program.bound)


def _beside(joining: Insertion, own: Pattern) -> dict[Pattern, int]:
    """The plan so far, and sets of nothing but the new demand."""
    sets = {cut.pattern: cut.sets for cut in joining.kept}
    sets[own] = sets.get(own, 0) + sets_for(joining.instance, joining.demand, own)
    return sets


class _InsertionProgram:
    """The linear program with the new demand in it: its bound, and the patterns it likes."""

    def __init__(
        self, joining: Insertion, pricers: list[Pricer], search: Search, own: Pattern
    ) -> None:
        self.joining = joining
        self.pricers = pricers
        self.search = search
        self.closer, self.more = joining.instance, 0
        if joining.drawn_in:
            self.closer, self.more = tightened(joining.instance, search.params)
        self.bound: int | None = None
        self.master = Master(self.closer)
        for pattern in (*(cut.pattern for cut in joining.kept), own):
            self.master.add(pattern)

    def solve(self) -> LPSolution:
        """The optimum; the bound that its prices prove is kept."""
        point, _ = generate(self.master, self.pricers, self.search)
        offers = [pricer.offer for pricer in self.pricers]
        safe = certificate(
            self.closer, offers, point.gain_price.tolist(), point.worth_price.tolist()
        )
        if safe is not None:
            self.bound = price_bound(self.closer, safe[0]) + self.more
        return point

    def pool(self, point: LPSolution) -> list[Pattern]:
        """Patterns that hold the new demand: of the program, near it, and made of planned ones."""
        # No pattern that loses a whole set is wanted, however few there are.
        dearest = float(SCALE * max(pricer.offer.cost for pricer in self.pricers))
        near = near_patterns(
            self.pricers,
            values_at(self.closer, point),
            self.search,
            wanted=self.search.params.insertion.near_patterns,
            max_cost=dearest,
            holding=self.joining.demand,
        ).patterns
        made = [
            new
            for cut in self.joining.kept
            for new in made_of(self.joining.instance, self.joining.demand, cut.pattern)
        ]
        return [
            pattern
            for pattern in dict.fromkeys((*self.master.patterns, *near, *made))
            if self._holds(pattern)
        ]

    def _holds(self, pattern: Pattern) -> bool:
        options = self.joining.instance.options
        return any(options[k].demand == self.joining.demand for k, _ in pattern.pieces)


def made_of(instance: Instance, demand: int, pattern: Pattern) -> Iterator[Pattern]:
    """A planned pattern with pieces of a demand in its trim, or in the place of one option's."""
    c = pattern.winding_class
    for new in instance.options_of(c):
        if instance.options[new].demand != demand:
            continue
        width = instance.options[new].width
        for gone, fewer in _gone(pattern):
            left = {k: n - (fewer if k == gone else 0) for k, n in pattern.pieces}
            used = sum(instance.options[k].width * n for k, n in left.items())
            room = (instance.classes[c].width - used) // width
            for count in range(room, 0, -1):
                pieces = {**left, new: left.get(new, 0) + count}
                made = Pattern(c, tuple(sorted((k, n) for k, n in pieces.items() if n)))
                if is_allowed(instance, made):
                    yield made
                    break


def _gone(pattern: Pattern) -> Iterator[tuple[int, int]]:
    """Which option may lose how many pieces: none, or any number of one."""
    yield -1, 0
    for k, most in pattern.pieces:
        for fewer in range(1, most + 1):
            yield k, fewer
