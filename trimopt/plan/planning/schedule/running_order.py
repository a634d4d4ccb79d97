"""The running order of a run: knife moves and butts weighed against each other.

The winder's own order has the fewest knife moves. Where it leaves butts, orders that leave less are
sought, with layouts anew, and what costs less in all is taken: paper and knife moves at the mill's
prices, or paper first where it has none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import inf

from trimopt.budget import Budget
from trimopt.cutting import Cut
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.objective import Objective
from trimopt.plan.planning.schedule.run_lots import length_problem, lots_of
from trimopt.winding import Arrangement, Laying, Lot, MovePrices, arrange, balance, schedule_run
from trimopt.winding.jumbos.last_metres import Balanced
from trimopt.winding.jumbos.laying import Content, UnlaidSets, lay_lengths

#: Work of the winding room at normal effort.
_KNIFE_WORK = 1_000
_AGAIN_WORK = 1_000
_ORDER_TRIES, _MAX_ORDER_TRIES = 300, 12_000  # a block, and of a run at the most
_CAPPED = MovePrices(set_up=Fraction(100_000))  # in knife moves, so metres of jumbo at the least
_MIN_BUTTS = 0.003  # share of the metres wound; butts below it are not worth a search


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningOrder:
    """Lots in running order, their layouts, their sets on the jumbos, and the loss in all."""

    arrangement: Arrangement
    lots: tuple[Lot, ...]
    laying: Laying
    loss_area: Fraction | None  # with butts, in area units; None where the paper did not last

    @property
    def leaves_butts(self) -> bool:
        """Whether more than a few metres are lost, or the listed jumbos do not last."""
        laying = self.laying
        return bool(laying.unlaid) or laying.lost_m > _MIN_BUTTS * laying.wound_m

    def cost(self, objective: Objective) -> float:
        """Loss, set-ups and knife moves; infinite where there was too little paper."""
        if self.loss_area is None or self.laying.unlaid:
            return inf
        return objective.cost(self.loss_area, self.arrangement.set_ups, self.arrangement.moves)


def best_running_order(run: ChosenRun, cuts: tuple[Cut, ...], budget: Budget) -> RunningOrder:
    """Arrange cuts and wind them onto the run's jumbos; a lot's number is the place of its cut.

    Where more set-ups would come of it than an instruction allows, no butt is worth one. Where the
    budget is over, the orders and layouts that were met so far are taken.
    """
    lots = lots_of(run.making, cuts, run.held(cuts))
    if not lots or run.supply.empty:
        return _unlaid(run, cuts, lots)
    moves = run.objective.set_up_moves
    prices = MovePrices() if moves is None else MovePrices(set_up=moves)
    found = _arranged(run, cuts, lots, prices, budget)
    if run.max_set_ups is not None and found.arrangement.set_ups > run.max_set_ups:
        return _arranged(run, cuts, lots, _CAPPED, budget)
    return found


def _unlaid(run: ChosenRun, cuts: tuple[Cut, ...], lots: tuple[Lot, ...]) -> RunningOrder:
    """No set laid out: there is none, or no jumbo beside the odd ones."""
    unlaid = tuple(UnlaidSets(block=at, sets=lot.sets) for at, lot in enumerate(lots))
    laying = Laying(sets=(), butts=(), unlaid=unlaid)
    problem = length_problem(run.making, run.mill, cuts, lots, run.supply, beside=run.beside)
    return RunningOrder(
        arrangement=arrange((), run.mill.winder, run.mill.jumbo.width_mm),
        lots=lots,
        laying=laying,
        loss_area=None if unlaid else problem.loss(laying),
    )


def order_on_jumbos(run: ChosenRun, cuts: tuple[Cut, ...], share: float) -> RunningOrder:
    """The best running order, an odd jumbo not in the way.

    Where a jumbo of an odd length makes the order leave butts, it costs no more than as if that
    jumbo were not listed: the same sets are then laid onto all jumbos, where it leaves what does
    not fit as a butt.
    """
    found = best_running_order(run, cuts, run.budget.share(share))
    supply = run.supply
    even = replace(
        supply, stock=tuple(jumbo for jumbo in supply.stock if jumbo.usable_m not in run.odd_m)
    )
    if run.loose or even == supply or even.empty or not found.leaves_butts:
        return found
    plain = best_running_order(replace(run, supply=even), cuts, run.budget.share(share))
    if plain.loss_area is None or plain.laying.unlaid:
        return found
    laying = lay_lengths([(row.block, row.length_m) for row in plain.laying.sets], supply)
    if laying is None:
        return found
    more_m = laying.lost_m - plain.laying.lost_m
    loss_area = plain.loss_area + more_m * run.mill.jumbo.width_mm / run.making.unit_mm
    relaid = replace(plain, laying=laying, loss_area=loss_area)
    return min(found, relaid, key=lambda order: order.cost(run.objective))


def _known(run: ChosenRun, cuts: tuple[Cut, ...]) -> list[Content]:
    """Where the sets of these cuts are known to go, as (place of the cut, sets) on each jumbo."""
    place = {cut.pattern: number for number, cut in enumerate(cuts)}
    sets = Counter(cut.pattern for row in run.known for cut in row for _ in range(cut.sets))
    if sets != {cut.pattern: cut.sets for cut in cuts}:
        return []
    return [tuple((place[cut.pattern], cut.sets) for cut in row) for row in run.known]


def _arranged(
    run: ChosenRun, cuts: tuple[Cut, ...], lots: tuple[Lot, ...], prices: MovePrices, budget: Budget
) -> RunningOrder:
    winder, settings = run.mill.winder, run.settings
    problem = length_problem(run.making, run.mill, cuts, lots, run.supply, beside=run.beside)
    arrangement = arrange(
        lots,
        winder,
        run.mill.jumbo.width_mm,
        budget=budget.share(0.4, settings.effort.times * _KNIFE_WORK),
        seed=settings.seed,
        knives_at_mm=run.knives_at_mm,
        prices=prices,
    )
    place = {lot.number: at for at, lot in enumerate(lots)}
    order = tuple(place[block.lot] for block in arrangement.blocks)
    in_order = problem.in_order(order)
    balanced = balance(in_order, budget=budget.share(0.6))
    if run.loose:
        return _running(lots, order, arrangement, balanced)
    wound = schedule_run(
        lots,
        problem,
        winder,
        run.mill.jumbo.width_mm,
        first=arrangement,
        balanced=balanced,
        known=_known(run, cuts),
        knives_at_mm=run.knives_at_mm,
        prices=prices,
        move_m=run.objective.move_m,
        tries=round(settings.effort.times * min(_MAX_ORDER_TRIES, _ORDER_TRIES * len(lots))),
        work=round(settings.effort.times * _AGAIN_WORK),
        budget=budget,
        seed=settings.seed,
    )
    return _running(lots, wound.order, wound.arrangement, wound.balanced)


def _running(
    lots: Sequence[Lot], order: Sequence[int], arrangement: Arrangement, balanced: Balanced
) -> RunningOrder:
    """Lots in an order, laid out and balanced."""
    return RunningOrder(
        arrangement=arrangement,
        lots=tuple(lots[at] for at in order),
        laying=balanced.laying,
        loss_area=balanced.loss_paper,
    )
