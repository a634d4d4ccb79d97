"""A list of enquiries answered together: which can all be had, and which exclude each other.

All enquiries are optional orders of one problem (`trimopt.cutting.optional_demands`): each gets its
range or nothing. The paper of a run, where only listed jumbos may be used, and the hours of the
shift, which the runs share, limit the sets; without hours each run is a problem of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from trimopt.budget import Budget
from trimopt.cutting import SCALE
from trimopt.cutting.model.cuts import totals_of
from trimopt.cutting.model.loss import net_worth
from trimopt.cutting.optional_demands import Choice, choose_demands
from trimopt.errors import PlanError
from trimopt.fit.extra_paper import ExtraPaper, average_use, ends_share
from trimopt.fit.joint_problem import JointProblem, ListedEnquiry, Worth, average_moves
from trimopt.fit.planned_run import Basis, plan_now, with_order
from trimopt.fit.run_with_enquiry import may_get_kg
from trimopt.fit.when import HoursEnd
from trimopt.mill.model import Values
from trimopt.plan.model import Effort, RunPlan
from trimopt.plan.states import LACKING

_CHOOSING = 0.5  # of the time, to choose; the rest to plan again
_MAX_SUMMED = 28  # enquiries of which every sum is looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class Declined:
    """An enquiry that the selection leaves out.

    With it in, as far as was found, those in `instead_of` would be left out; None: no plan that
    has it was found.
    """

    key: int
    instead_of: tuple[int, ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """The best selection that was found, and what is proven of it.

    `value` is what it is valued by, tonnes or money (`by`, as of `Worth`); no selection has more
    than `max_value`, of ordered quantities and at the listed set lengths (None: not proven in
    time). `extra` is the extra paper of the whole selection, None where nothing is chosen.
    """

    chosen: tuple[int, ...]
    declined: tuple[Declined, ...]
    chosen_t: float
    asked_t: float
    by: str
    value: float
    max_value: float | None
    extra: ExtraPaper | None

    @property
    def best(self) -> bool:
        """Whether no selection is better, to a kilogram or a unit of money."""
        nearly = 1e-3 if self.by == "tonnes" else 1.0
        return self.max_value is not None and self.value >= self.max_value - nearly


def choose_together(
    enquiries: Sequence[ListedEnquiry],
    values: Values,
    hours: Sequence[HoursEnd],
    *,
    effort: Effort,
    budget: Budget,
    seed: int = 0,
) -> Together:
    """Find the best selection of enquiries, and plan their runs again with it.

    Where hours are limited, set-ups are first counted with the knife moves that the plan has on
    average, and the selection stands if it keeps the hours planned again; else with all knives
    moved.

    Parameters
    ----------
    enquiries
        At least one.
    hours
        What is left of the shift, and of the runs' own days.
    budget
        It only stops the search.
    """
    worth = Worth.of(enquiries, values)
    for moved in (average_moves(enquiries), 1.0) if hours else (1.0,):
        found = _chosen(
            enquiries, worth, hours, moved=moved, budget=budget.share(_CHOOSING), seed=seed
        )
        runs = [planned for one in found for planned in _planned(one, effort, budget)]
        if moved == 1.0 or _within(runs, hours):
            break
    return _summed(found, worth, runs, within=_within(runs, hours))


def _chosen(
    enquiries: Sequence[ListedEnquiry],
    worth: Worth,
    hours: Sequence[HoursEnd],
    *,
    moved: float,
    budget: Budget,
    seed: int,
) -> list[_Found]:
    """Runs that share hours are one problem, else each is one of its own."""
    shared = any(left.run is None for left in hours)
    groups: dict[str, list[ListedEnquiry]] = {}
    for one in enquiries:
        groups.setdefault("" if shared else one.run.name, []).append(one)
    found = []
    for (name, some), share in zip(groups.items(), budget.shares(len(groups)), strict=True):
        own = [left for left in hours if shared or left.run == name]
        problem = JointProblem.of(some, worth, own, moved=moved)
        choice, others = choose_demands(problem.choosing(), budget=share, seed=seed)
        found.append(_Found(problem=problem, choice=choice, others=others))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Planned:
    """A run planned again with the chosen in it (`plan` None: not found), and what is proven."""

    basis: Basis
    plan: RunPlan | None
    numbers: frozenset[str]  # of the chosen
    least_kg: float | None  # no plan of the run with them loses less
    got_kg: tuple[float, float]  # min. and max. of the chosen

    def lost_kg(self, plan: RunPlan) -> float:
        """Loss of a plan of the run, with its butts."""
        return self.basis.objective.loss_with_butts_kg(plan.balance)

    @property
    def sold_kg(self) -> float:
        """Kilograms of the chosen in the plan."""
        lines = () if self.plan is None else self.plan.orders
        return sum(line.delivered_kg for line in lines if line.number in self.numbers)

    @property
    def holds(self) -> bool:
        """Whether the plan has every order."""
        return self.plan is not None and not any(line.state in LACKING for line in self.plan.orders)


def _planned(found: _Found, effort: Effort, budget: Budget) -> Iterable[_Planned]:
    """The runs of the chosen, each planned again with them."""
    # It brings the winding room, which rows alone do without.
    from trimopt.winding.jumbos.joint_bound import least_loss  # noqa: PLC0415

    for side in found.problem.beside.sides:
        mine = [
            one
            for one in found.problem.enquiries
            if one.key in found.chosen and one.run.name == side.making.run.name
        ]
        if not mine:
            continue
        orders, basis = tuple(one.order for one in mine), side.basis
        alone = with_order(basis, *orders)
        bound = least_loss(alone, basis.mill, basis.usable_m, budget=budget)
        got = [may_get_kg(alone, order.number) for order in orders]
        plan = None
        with suppress(PlanError):
            plan = plan_now(
                replace(mine[0].run, orders=(*mine[0].run.orders, *orders)),
                side.jumbos,
                replace(basis.settings, effort=effort),
                budget=budget,
                instructions=mine[0].instructions,
            )
        yield _Planned(
            basis=basis,
            plan=plan,
            numbers=frozenset(order.number for order in orders),
            least_kg=None if bound is None else alone.loss_kg(bound),
            got_kg=(sum(low for low, _ in got), sum(high for _, high in got)),
        )


def _within(runs: Sequence[_Planned], hours: Iterable[HoursEnd]) -> bool:
    """Whether the runs as planned again keep the hours, with all of their orders."""
    more = {
        each.basis.planned.name: each.plan.minutes - each.basis.planned.minutes
        for each in runs
        if each.plan is not None
    }
    return all(each.holds for each in runs) and all(
        sum(m for name, m in more.items() if left.run in (None, name)) <= max(0.0, left.left_min)
        for left in hours
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """What the engine found of a problem."""

    problem: JointProblem
    choice: Choice
    others: Mapping[int, frozenset[int]]

    @property
    def chosen(self) -> set[int]:
        places = self.problem.places
        return {key for key, place in places.items() if place in self.choice.chosen}

    @property
    def given_up(self) -> int:
        """What declining the others costs, in units of worth."""
        return sum(
            worth for key, worth in self.problem.declined().items() if key not in self.chosen
        )

    def declined(self) -> Iterable[Declined]:
        """The others, each with what it would push out."""
        places = self.problem.places
        for one in self.problem.enquiries:
            if one.key in self.chosen:
                continue
            instead = None
            if beside := self.others.get(places.get(one.key, -1)):
                gone = self.choice.chosen - beside
                instead = tuple(sorted(key for key in self.chosen if places[key] in gone))
            yield Declined(key=one.key, instead_of=instead)

    def loss_more_kg(self) -> float:
        """Loss more than as planned, in the plan found."""
        beside = self.problem.beside
        before = sum(side.loss_before_kg for side in beside.sides)
        return beside.loss_kg(self.choice.total - SCALE * self.given_up) - before

    def delivered_kg(self) -> float:
        """What is made of the chosen."""
        beside = self.problem.beside
        made, worth, _ = totals_of(beside.instance, self.choice.cuts)
        nets = (
            net_worth(beside.instance.demands[i], made[i], worth[i]) for i in self.choice.chosen
        )
        return beside.kg(sum(nets))

    def value(self, loss_more_kg: float) -> float:
        """What the chosen are worth: tonnes, sales, or the margin."""
        declined = self.problem.declined()
        sold = float(sum(declined[key] for key in self.chosen) * self.problem.unit_value)
        if self.problem.worth.by != "margin":
            return sold
        return sold - float(self.problem.worth.paper_per_t) * loss_more_kg / 1000

    def max_value(self) -> float | None:
        """No selection is worth more; None where nothing is proven."""
        problem, bound = self.problem, self.choice.bound
        worths = problem.declined()
        whole = sum(worths.values())
        by_money = problem.worth.by == "margin"
        if not by_money and len(self.chosen) == len(worths):
            return self.value(0.0)
        choosing = problem.choosing()
        if bound is None or not (by_money or choosing.limits):
            return None
        if by_money:
            before = sum(side.loss_before_kg for side in problem.beside.sides)
            lost = float(problem.worth.paper_per_t) / 1000
            at_best = SCALE * whole - bound
            return float(at_best * problem.unit_value / SCALE) + lost * before
        # What is given up costs no less than the bound less the most that a plan can lose: all
        # the paper that the limits leave it.
        classes = choosing.instance.classes
        dearest = min(
            limit.possible
            * max(
                Fraction(each.cost, max(1, use))
                for each, use in zip(classes, limit.use, strict=True)
            )
            for limit in choosing.limits
        )
        most = greatest_sum(list(worths.values()), math.floor(whole + dearest - bound / SCALE))
        return float(most * problem.unit_value)


def greatest_sum(worths: Sequence[int], limit: int) -> int:
    """The greatest sum of some of them that is no more than a limit; the limit where unknown.

    Examples
    --------
    >>> greatest_sum([5, 7, 9], 13)
    12
    """
    if sum(worths) <= limit or len(worths) > _MAX_SUMMED:
        return min(limit, sum(worths))
    halves = []
    for half in (worths[::2], worths[1::2]):
        sums = np.zeros(1, dtype=np.int64)
        for worth in half:
            sums = np.concatenate([sums, sums + worth])
        halves.append(np.unique(sums))
    first, second = halves
    first = first[first <= limit]
    best = second[np.searchsorted(second, limit - first, side="right") - 1]
    return int((first + best).max(initial=0))


def _summed(
    found: Sequence[_Found], worth: Worth, runs: Sequence[_Planned], *, within: bool
) -> Together:
    """One answer of all problems."""
    ordered_t = {
        key: one.problem.beside.kg(one.problem.ordered(key)) / 1000
        for one in found
        for key in one.problem.places
    }
    chosen = sorted(key for one in found for key in one.chosen)
    declined = [each for one in found for each in one.declined()]
    most = [one.max_value() for one in found]
    known = [each for each in most if each is not None]
    return Together(
        chosen=tuple(chosen),
        declined=tuple(sorted(declined, key=lambda each: each.key)),
        chosen_t=sum(ordered_t[key] for key in chosen),
        asked_t=sum(ordered_t.values()),
        by=worth.by,
        value=sum(one.value(one.loss_more_kg()) for one in found),
        max_value=sum(known) if len(known) == len(most) else None,
        extra=_extra(found, runs, within=within) if chosen else None,
    )


def _extra(found: Sequence[_Found], runs: Sequence[_Planned], *, within: bool) -> ExtraPaper:
    """Extra paper of the whole selection, as that of one enquiry is defined."""
    share = 1 + ends_share(runs[0].basis.mill)
    more = sum(one.loss_more_kg() for one in found)
    before = sum(run.lost_kg(run.basis.planned) for run in runs)
    least = [run.least_kg for run in runs]
    low = None if None in least else sum(each or 0.0 for each in least) - before
    got = [sum(run.got_kg[k] for run in runs) for k in (0, 1)]
    most = None
    if within:
        sold = sum(run.sold_kg for run in runs)
        most = share * (
            1 + (sum(run.lost_kg(run.plan) for run in runs if run.plan) - before) / sold
        )
    weights = [run.got_kg[0] for run in runs]
    return ExtraPaper(
        min_use=None if low is None else min(share * (1 + low / kg) for kg in got),
        max_use=most,
        held_use=share * (1 + more / sum(one.delivered_kg() for one in found if one.chosen)),
        average=sum(average_use(run.basis) * kg for run, kg in zip(runs, weights, strict=True))
        / sum(weights),
    )
