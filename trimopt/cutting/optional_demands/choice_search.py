"""Which of some demands join a plan: each of them made in its range, or not at all.

To decline a demand costs what the caller says; sets may be limited (`SetLimit`). The least of loss
and of what is declined is sought over all choices at once: a linear program in which every optional
demand may be made in part, whose prices prove a bound over all patterns and choices. Whole choices
come from that program: what it makes for the most part, with as much of the limits as leaves room
for whole sets, which are exchanged for each choice; and, where the patterns are few, from an
integer program over them.

Weak duality: at prices of demands that no pattern overruns when a set is dearer by what it uses of
each limit at the limit's price, a choice loses no less than the sum over its demands of
`floor_of`, plus what it declines, less the limits at their prices. Each optional demand takes the
less of the two, so the sum bounds every choice.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import chain
from math import ceil, floor

from trimopt.budget import Budget, SearchEnded
from trimopt.cutting.insertion import made_of
from trimopt.cutting.lp.bound_certificate import certificate, floor_of, ratios
from trimopt.cutting.lp.class_offers import class_offers
from trimopt.cutting.lp.column_generation import generate, values_at
from trimopt.cutting.lp.linear_program import SolverFailedError
from trimopt.cutting.lp.master import LPSolution
from trimopt.cutting.lp.pricing import Pricer
from trimopt.cutting.lp.tightening import tightened
from trimopt.cutting.model.cuts import Cut, Pattern
from trimopt.cutting.model.instance import SCALE, Instance
from trimopt.cutting.optional_demands.choosing import Choice, Choosing
from trimopt.cutting.optional_demands.optional_master import OptionalMaster, whole_choice
from trimopt.cutting.params import PARAMS, EngineParams
from trimopt.cutting.search.local_search import LocalSearch
from trimopt.cutting.search.pattern_enumeration import near_patterns
from trimopt.cutting.search.search_state import Search, tidy
from trimopt.cutting.search.single_order_patterns import sets_for, single_order_pattern


def choose_demands(
    asked: Choosing, *, budget: Budget, seed: int = 0, params: EngineParams = PARAMS
) -> tuple[Choice, dict[int, frozenset[int]]]:
    """Find the best choice, and for each demand that it declines one that has it.

    Parameters
    ----------
    budget
        It only stops the search, whose parts end by work.
    seed
        The same again gives the same, unless the clock stopped it.

    Returns
    -------
    Choice
        The best that was found; where nothing can join, the plan so far.
    dict
        By demand that is declined, a good choice with it, as far as one was found. Not proven.
    """
    work = _ChoiceSearch(asked, Search(asked.instance, budget.share(1), params=params), seed)
    others: dict[int, frozenset[int]] = {}
    with suppress(SearchEnded, SolverFailedError):  # what stands is given out, as far as proven
        work.run()
        for i in sorted(asked.declined.keys() - work.chosen):
            beside = work.with_demand(i)
            if beside is not None:
                others[i] = beside
    choice = Choice(
        chosen=work.chosen,
        cuts=work.cuts,
        total=asked.total(work.chosen, work.cuts),
        bound=work.bound,
    )
    return choice, others


@dataclass(slots=True)
class _ChoiceSearch:
    """The search: its best choice so far, and what it proved."""

    asked: Choosing
    search: Search
    seed: int
    chosen: frozenset[int] = frozenset()
    cuts: tuple[Cut, ...] = ()
    bound: int | None = None
    pool: list[Pattern] = field(default_factory=list)
    tried: dict[frozenset[int], tuple[Cut, ...] | None] = field(default_factory=dict)  # that hold
    own: dict[int, dict[Pattern, int]] = field(default_factory=dict)  # sets of one demand alone
    share: float = 1.0  # of what is left of the limits: what the program may use
    master: OptionalMaster = field(init=False)
    prices: list[float] = field(default_factory=list)  # of the limits
    dearer: tuple[int, ...] = ()  # cost of a set of each class with what it uses of the limits

    def __post_init__(self) -> None:
        self.cuts = self.asked.kept

    def run(self) -> None:
        """Linear program and bound, then whole choices."""
        asked = self.asked
        pricers = [Pricer(asked.instance, offer) for offer in class_offers(asked.instance)]
        for i in sorted(asked.declined):
            pattern = single_order_pattern(asked.instance, pricers, i)
            if pattern is not None:
                self.own[i] = {pattern: sets_for(asked.instance, i, pattern)}
        tight, more = tightened(asked.of(frozenset()), self.search.params)
        demands = list(tight.demands)
        for i in asked.declined:
            demands[i] = asked.instance.demands[i]
        closer = replace(asked.instance, demands=tuple(demands))
        self.master = OptionalMaster(instance=closer, declined=asked.declined, limits=asked.limits)
        for pattern in (*(cut.pattern for cut in asked.kept), *chain(*self.own.values())):
            self.master.add(pattern)
        point, _ = generate(self.master, pricers, self.search)
        self.prices = self.master.limit_prices()
        self._prove(closer, more, point)
        self._gather(closer, point)
        self._choose()

    def _prove(self, closer: Instance, more: int, point: LPSolution) -> None:
        """Keep what the prices of a point prove, in exact fractions."""
        prices, limits = [Fraction(price) for price in self.prices], self.asked.limits
        priced = list(zip(prices, limits, strict=True))
        self.dearer = self._dearer(prices)
        dear = closer.with_costs(self.dearer)
        safe = certificate(
            dear, class_offers(dear), point.gain_price.tolist(), point.worth_price.tolist()
        )
        if safe is None:
            return
        proof, work = safe
        total = more - sum((p * limit.possible for p, limit in priced), Fraction(0))
        for i, (demand, span) in enumerate(zip(closer.demands, ratios(closer), strict=True)):
            least = floor_of(demand, span, proof.gain_price[i], proof.worth_price[i], proof.scale)
            if i in self.asked.declined:
                least = min(least, Fraction(SCALE * self.asked.declined[i]))
            total += least
        self.bound = ceil(total)
        self.search.budget.spend(work)

    def _dearer(self, prices: Sequence[Fraction]) -> tuple[int, ...]:
        """Cost of a set of each class with what it uses of the limits at prices, rounded down."""
        priced = list(zip(prices, self.asked.limits, strict=True))
        return tuple(
            each.cost + floor(sum((p * limit.use[c] for p, limit in priced), Fraction(0)) / SCALE)
            for c, each in enumerate(self.asked.instance.classes)
        )

    def _gather(self, closer: Instance, point: LPSolution) -> None:
        """Patterns of plan and program, those near it, and planned ones with new pieces."""
        asked, params = self.asked, self.search.params
        dear = closer.with_costs(self.dearer)
        pricers = [Pricer(dear, offer) for offer in class_offers(dear)]
        wanted = max(params.choice.min_near, params.insertion.near_patterns // len(asked.declined))
        found = list(self.master.patterns)
        for i in sorted(asked.declined):
            found += near_patterns(
                pricers,
                values_at(closer, point),
                self.search,
                wanted=wanted,
                max_cost=float(SCALE * max(self.dearer)),
                holding=i,
            ).patterns
            for cut in asked.kept:
                found += made_of(asked.instance, i, cut.pattern)
        self.pool = list(dict.fromkeys(found))

    def _choose(self) -> None:
        """Whole choices of the program, the best made better, and those of the integer program."""
        asked, params = self.asked, self.search.params
        self._approach()
        if asked.limits:
            self.master.count_changes({cut.pattern for cut in asked.kept})
            self._approach()
            self._insert()
            self._exchange()
        self._take(self.chosen, self._planned(self.chosen, priced=False))
        if len(self.pool) <= params.choice.max_pool:
            begin = self.chosen, {cut.pattern: cut.sets for cut in self.cuts}
            pool = list(dict.fromkeys((*self.pool, *begin[1])))
            found = whole_choice(asked, self.search, pool, begin, seed=self.seed)
            if found is not None:
                self._take(found[0], tidy(found[1]))

    def _approach(self) -> None:
        """Choices of the program with ever more of the limits, as whole sets can do with."""
        self.share, low, high = 1.0, 0.0, 1.0
        for _ in range(self.search.params.choice.rounds):
            wanted = self._wanted(self.share)
            if self._try(wanted):
                low = self.share
            else:
                high = self.share
            if low >= high or not wanted:
                break
            self.share = (low + high) / 2
        self.share = low

    def _wanted(self, share: float) -> frozenset[int]:
        """What the program makes for the most part, with a share of what is left of the limits."""
        kept = self.asked.kept
        now = [limit.used(kept, kept) for limit in self.asked.limits]
        self.master.allow(
            [
                used + share * max(0, limit.sure - used)
                for used, limit in zip(now, self.asked.limits, strict=True)
            ]
        )
        self.master.solve()
        prices = self.master.limit_prices()
        if any(prices):
            # Plans are then sought that are sparing with what there is least of.
            self.prices, self.dearer = prices, self._dearer([Fraction(each) for each in prices])
        self.search.budget.check()
        return frozenset(i for i, made in self.master.chosen_shares().items() if made > _HALF)

    def _insert(self) -> None:
        """One after another, by what each is worth, and by that for what it uses; each alone.

        So no choice is worse than these, however the program divides the limits.
        """
        worth = self.asked.declined
        for value in (worth, {i: worth[i] / self._used_by(i) for i in worth}):
            self._grown(sorted(worth, key=lambda i: (-value[i], i)))
        for i in sorted(worth, key=lambda i: (-worth[i], i)):
            if self._may_be_better(worth.keys() - {i}):
                self._try(frozenset({i}))

    def _used_by(self, i: int) -> float:
        """The largest share of a limit that sets of a demand alone use."""
        sets = self.own.get(i, {})
        shares = [
            sum(limit.use[p.winding_class] * n for p, n in sets.items()) / max(1, limit.sure)
            for limit in self.asked.limits
        ]
        return max((share for share in shares if share > 0), default=1.0)

    def _grown(self, order: Sequence[int]) -> frozenset[int]:
        """Demands put in one after another, without those that no plan holds beside the others."""
        grown: frozenset[int] = frozenset()
        out: set[int] = set()
        for i in order:
            if self._try(grown | {i}):
                grown |= {i}
            else:
                out.add(i)
                if not self._may_be_better(out):
                    break
        return grown

    def _may_be_better(self, out: Set[int]) -> bool:
        """Whether a choice without some may be better: what is declined is the least it loses."""
        worth = self.asked.declined
        least = sum(worth[i] if i in out else min(0, worth[i]) for i in worth)
        return SCALE * least < self.asked.total(self.chosen, self.cuts)

    def _exchange(self) -> None:
        """Put each of those declined in, in place of what has to go, while that is better."""
        left = self.search.params.choice.exchanges
        better = True
        while better:
            better = False
            out = self.asked.declined.keys() - self.chosen
            for i in sorted(out, key=lambda i: (-self.asked.declined[i], i)):
                if left <= 0:
                    return
                left -= 1
                before = self.chosen
                if not self._try(self.chosen | {i}):
                    self.with_demand(i)
                better |= self.chosen != before

    def with_demand(self, i: int) -> frozenset[int] | None:
        """A choice that has a demand, of the chosen as many as can stay; None where none is found.

        It becomes the choice where it is better.
        """
        others = self.asked.declined.keys() - self.chosen - {i}
        share = max(self.share, _LEAST_SHARE)
        found = None
        self.master.hold(made={i}, declined=others)
        with suppress(SolverFailedError):  # it alone takes more than there is
            for _ in range(_TRIES):
                wanted = self._wanted(share) | {i}
                if self._try(wanted):
                    found = wanted
                    break
                share *= _LESS
        self.master.hold(made=set(), declined=set())
        if found is None and self._try(frozenset({i})):
            found = frozenset({i})
            for k in sorted(self.chosen - found, key=lambda k: (-self.asked.declined[k], k)):
                if self._try(found | {k}):
                    found |= {k}
        return found

    def _try(self, chosen: frozenset[int]) -> bool:
        """Plan a choice, once; keep it where it is better. Whether its plan holds."""
        if chosen not in self.tried:
            self.tried[chosen] = None
            # Dear limits can make a shortage cheaper than sets, so it is tried without them, too.
            for priced in (True, False) if any(self.prices) else (False,):
                cuts = self._planned(chosen, priced=priced)
                if self.asked.holds(chosen, cuts):
                    self.tried[chosen] = cuts
                    self._take(chosen, cuts)
                    break
        return self.tried[chosen] is not None

    def _take(self, chosen: frozenset[int], cuts: tuple[Cut, ...]) -> None:
        """Keep a choice whose plan holds where it is better."""
        asked = self.asked
        if asked.holds(chosen, cuts) and (
            asked.total(chosen, cuts) < asked.total(self.chosen, self.cuts)
        ):
            self.chosen, self.cuts = chosen, cuts

    def _planned(self, chosen: frozenset[int], *, priced: bool = True) -> tuple[Cut, ...]:
        """A plan of a choice by exchange of whole sets, which may use too much.

        `priced`: sets and changes cost what they use of the limits too.
        """
        asked, params = self.asked, self.search.params
        instance = asked.of(chosen)
        out = asked.declined.keys() - chosen
        charges, set_up = asked.charges, asked.set_up
        if priced:
            plain = [each.cost for each in instance.classes]
            parts = zip(charges, self.dearer, plain, strict=True)
            charges = tuple(charge + dear - cost for charge, dear, cost in parts)
            limits = zip(self.prices, asked.limits, strict=True)
            set_up += sum(price * limit.change for price, limit in limits)
        search = Search(
            instance=instance.with_costs(charges),
            budget=self.search.budget.share(1),
            params=params,
            set_up=set_up,
        )
        pool = [
            pattern
            for pattern in self.pool
            if not any(instance.options[k].demand in out for k, _ in pattern.pieces)
        ]
        with suppress(SearchEnded):
            exchange = LocalSearch(search, pool, self.seed)
            for begun in self._starts(chosen):
                search.take(begun, "by itself")
                exchange.run(params.insertion.exchanges, begun)
        return search.cuts

    def _starts(self, chosen: frozenset[int]) -> list[dict[Pattern, int]]:
        """The plan so far, and that of the largest part tried, with sets of each other alone."""
        kept = {cut.pattern: cut.sets for cut in self.asked.kept}
        held = [
            (some, cuts) for some, cuts in self.tried.items() if cuts is not None and some <= chosen
        ]
        if self.chosen <= chosen:
            held.append((self.chosen, self.cuts))
        held.append((frozenset(), self.asked.kept))
        some, cuts = max(held, key=lambda each: len(each[0]))
        beside = {cut.pattern: cut.sets for cut in cuts}
        for i in sorted(chosen - some):
            for pattern, sets in self.own.get(i, {}).items():
                beside[pattern] = beside.get(pattern, 0) + sets
        return [kept] if beside == kept else [kept, beside]


_HALF = 0.5
_LEAST_SHARE = 0.25  # of what is left of the limits, where the choice uses next to nothing
_TRIES, _LESS = 3, 0.7  # plans of a choice with one demand, each with less of the limits
