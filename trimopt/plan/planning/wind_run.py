"""A run's patterns on the winder: running order, jumbos, clock, and the figures that follow.

Where the jumbos listed do not last for every set, sets are kept by priority, then due date, and
these are laid out anew. Which sets the shift has hours for is decided over all runs together
(`trimopt.plan.planning.within_shift`) and told here.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from trimopt.budget import Budget
from trimopt.cutting import Cut, Instance, Outcome, Pattern, loss_of, patterns_in
from trimopt.cutting.setups import ParetoPoint, TradeOff, fewest_patterns
from trimopt.making import Making, kg_of_area
from trimopt.mill.model import Mill
from trimopt.plan.model import RunPlan, Settings
from trimopt.plan.planning.instructed_run import Heeded
from trimopt.plan.planning.knife_lots import lots_of, merged
from trimopt.plan.planning.run_assembly import (
    Moments,
    balance_of,
    blocks_of,
    jumbos_of,
    order_lines,
)
from trimopt.plan.planning.run_costs import costs_for
from trimopt.plan.planning.run_proof import (
    proof_of,
    set_lengths,
    short_proof,
    trade_points,
    with_metres,
)
from trimopt.plan.planning.running_order import BUTTS_WORTH, Wound, best_running_order
from trimopt.plan.planning.split_blocks import Split, with_splits
from trimopt.winding import JumboSupply
from trimopt.winding.jumbos.clock import timetable
from trimopt.winding.jumbos.laying import lay_lengths

_EQUALS = 2  # plans of the chosen point's loss and patterns, tried beside it

__all__ = ["Solved", "WoundUp", "wind"]

_SHORT_OF_PAPER = (
    "The jumbos listed do not last for every order: sets were kept by priority, then due date; the "
    "orders that are short stand as such, with what they lack."
)
_SHORT_OF_HOURS = (
    "The shift ends before every order is made: sets were kept by priority, then due date, over "
    "all runs; the orders that are carried over stand as such, with what they lack."
)
_NO_PAPER, _NO_HOURS = "the paper listed did not last", "the shift has no hours for the rest"


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """A run with its patterns chosen, ready for the winder; it can be sent to another process."""

    making: Making
    mill: Mill  # as the run sees it
    settings: Settings
    charged: Instance  # as the search saw it: charged for butts, with the rules of the instructions
    outcome: Outcome
    trade: TradeOff
    point: ParetoPoint  # of the trade-off, the one that was chosen
    heeded: Heeded
    supply: JumboSupply
    usable_m: tuple[int, ...]
    odd_m: tuple[int, ...]  # of them, those that are not of most of the jumbos
    start: datetime
    budget: Budget

    def held(self, cuts: Sequence[Cut]) -> frozenset[Pattern]:
        """Patterns whose sets keep their length: all of them where a change of it is a set-up."""
        if self.mill.winder.length_change_is_set_up:
            return frozenset(cut.pattern for cut in cuts)
        return self.heeded.held


@dataclass(frozen=True, slots=True, kw_only=True)
class WoundUp:
    """A run's plan, the cuts in it, and how they were wound."""

    plan: RunPlan
    cuts: tuple[Cut, ...]
    wound: Wound

    @property
    def cut_of(self) -> tuple[int, ...]:
        """For each block the place of its cut."""
        return tuple(lot.number for lot in self.wound.lots)

    @property
    def leaves_butts(self) -> bool:
        """Whether more than a few metres are lost in butts, or the listed jumbos do not last."""
        lost_m = sum(jumbo.butt_m for jumbo in self.plan.jumbos)
        wound_m = sum(jumbo.wound_m for jumbo in self.plan.jumbos)
        return lost_m > BUTTS_WORTH * wound_m or _SHORT_OF_PAPER in self.plan.notes


def wind(
    solved: Solved,
    kept: tuple[Cut, ...] | None = None,
    *,
    laid: Wound | None = None,
    short: Collection[str] = (),
) -> WoundUp:
    """Wind a run whose patterns are chosen.

    Parameters
    ----------
    solved
        The run.
    kept
        The cuts that the shift has hours for; None: no hour is short.
    laid
        How these are wound, where that is known.
    short
        Orders that there was too little paper for before hours were counted.
    """
    making, mill = solved.making, solved.mill
    point, unlaid = solved.point, False
    if kept is None:
        point, wound = _best_point(solved)
        cuts = merged(point.cuts)
    else:
        cuts, wound = kept, laid or _in_order(solved, kept)
    while wound.laying.unlaid:
        # The jumbos listed do not last: what they have no paper for is taken out, laid out anew.
        unlaid = True
        cuts = _laid_cuts(cuts, wound)
        wound = _in_order(solved, cuts)
    split = Split(cuts=cuts, wound=wound)
    if solved.settings.split_blocks and laid is None:
        split = with_splits(
            making,
            mill,
            cuts,
            wound,
            solved.supply,
            settings=solved.settings,
            max_set_ups=solved.heeded.max_set_ups,
            budget=solved.budget.share(0.5),
            held=solved.held(cuts),
        )
        cuts, wound = split.cuts, split.wound
    arrangement, in_order, laying = wound.arrangement, wound.lots, wound.laying
    times = timetable(laying.sets, arrangement.blocks, mill.winder, solved.start)
    moments = [Moments(start=t.start, finish=t.finish) for t in times.sets]
    nominal_m = [(lot.core_mm, lot.length_m) for lot in in_order]
    blocks = blocks_of(
        making, mill, arrangement, nominal_m=nominal_m, sets=laying.sets, moments=moments
    )
    lines = order_lines(making, mill, blocks, carried_over=kept is not None, short_before=short)
    jumbos = jumbos_of(laying.butts, mill.winder)
    balance = balance_of(making, mill, blocks, jumbos, lines)
    why = [_NO_PAPER] * unlaid + [_NO_HOURS] * (kept is not None)
    plan = RunPlan(
        name=making.run.name,
        winder=mill.winder.name,
        grade=making.run.grade,
        grammage_gsm=making.run.grammage_gsm,
        wound_caliper_um=making.wound_caliper_um,
        cores=mill.winder.cores,
        jumbo_width_mm=mill.jumbo.width_mm,
        deckle_mm=mill.deckle_mm,
        set_lengths=set_lengths(making, mill),
        proof=with_metres(
            short_proof(making, solved.outcome, cuts, why=" and ".join(why))
            if why
            else proof_of(making, solved.outcome, cuts),
            making,
            mill,
            usable_m=solved.usable_m,
            used_m=sum(jumbo.wound_m + jumbo.butt_m for jumbo in jumbos),
            loss_area=None if why else wound.loss_area,
            budget=solved.budget,
        ),
        blocks=blocks,
        jumbos=jumbos,
        orders=lines,
        balance=balance,
        set_ups=arrangement.set_ups,
        set_ups_bound=None
        if why
        else max(0, fewest_patterns(making.instance, solved.budget, solved.heeded.fixed) - 1),
        knife_moves=arrangement.moves,
        knife_moves_bound=arrangement.moves_bound,
        minutes=times.minutes,
        start=times.start if times.sets else None,
        finish=times.finish if times.sets else None,
        notes=(
            *[_SHORT_OF_PAPER] * unlaid,
            *[_SHORT_OF_HOURS] * (kept is not None),
            *_split_notes(split, making, mill),
        ),
    )
    if not why:
        rows = trade_points(making, solved.trade, point, wound=plan, values=mill.values)
        plan = replace(plan, trade_off=rows)
    plan = solved.heeded.answered(plan, point, whole=not why)
    stopped = plan.proof.clock_stopped or solved.budget.stopped
    plan = replace(plan, proof=replace(plan.proof, clock_stopped=stopped))
    return WoundUp(plan=plan, cuts=cuts, wound=wound)


def _split_notes(split: Split, making: Making, mill: Mill) -> list[str]:
    if not split.saved:
        return []
    area = int(split.butt_m * mill.jumbo.width_mm / making.unit_mm)
    butt_kg = kg_of_area(area, making.run.grammage_gsm, making.unit_mm)
    more = "1 set-up" if split.set_ups == 1 else f"{split.set_ups} set-ups"
    said = (
        f"A pattern runs in two blocks where that pays: {more} more, butts {butt_kg:,.0f} kg less"
    )
    money = f"{split.saved:,.0f} {mill.values.currency}".rstrip()
    return [f"{said}, {money} saved in all at the mill's prices."]


def _in_order(solved: Solved, cuts: tuple[Cut, ...], share: float = 0.75) -> Wound:
    return best_running_order(
        solved.making,
        solved.mill,
        cuts,
        lots_of(solved.making, cuts, solved.held(cuts)),
        solved.supply,
        settings=solved.settings,
        max_set_ups=solved.heeded.max_set_ups,
        budget=solved.budget.share(share),
    )


def _on_jumbos(solved: Solved, cuts: tuple[Cut, ...], share: float = 0.75) -> Wound:
    """The cuts on the run's jumbos.

    Where one of an odd length makes that leave butts: no dearer than as if it were not listed, the
    same sets then laid onto all jumbos, where it leaves what does not fit as a butt.
    """
    wound = _in_order(solved, cuts, share)
    supply = solved.supply
    even = replace(
        supply, stock=tuple(one for one in supply.stock if one.usable_m not in solved.odd_m)
    )
    if even == supply or even.empty or not _leaves_butts(wound):
        return wound
    plain = _in_order(replace(solved, supply=even), cuts, share)
    if plain.loss_area is None or plain.laying.unlaid:
        return wound
    laying = lay_lengths([(row.block, row.length_m) for row in plain.laying.sets], supply)
    if laying is None:
        return wound
    more_m = laying.lost_m - plain.laying.lost_m
    loss_area = plain.loss_area + more_m * solved.mill.jumbo.width_mm / solved.making.unit_mm
    costs = costs_for(solved.making, solved.mill, solved.settings)
    return min(wound, replace(plain, laying=laying, loss_area=loss_area), key=costs.total)


def _leaves_butts(wound: Wound) -> bool:
    laying = wound.laying
    return bool(laying.unlaid) or laying.lost_m > BUTTS_WORTH * laying.wound_m


def _best_point(solved: Solved) -> tuple[ParetoPoint, Wound]:
    """The chosen point, or where it leaves butts one that costs less once it is wound.

    The trade-off weighs butts by shares, and blind to blocks: more patterns of the same loss may
    fill jumbos that fewer cannot. Those that the engine found first, and its equals, are tried.
    """
    most = solved.heeded.max_set_ups
    chosen = merged(solved.point.cuts)
    best = solved.point, _on_jumbos(solved, chosen)
    if not _leaves_butts(best[1]):
        return best
    costs = costs_for(solved.making, solved.mill, solved.settings)
    others = (solved.outcome.cuts, *solved.point.equal[:_EQUALS])
    for cuts in dict.fromkeys(merged(other) for other in others):
        if sorted(cuts) == sorted(chosen):
            continue
        if solved.budget.over():
            break
        wound = _on_jumbos(solved, cuts, 0.2)
        if most is not None and wound.arrangement.set_ups > most:
            continue
        if costs.total(wound) < costs.total(best[1]):
            loss = loss_of(solved.charged, cuts)
            patterns = patterns_in(solved.charged, cuts)
            best = ParetoPoint(patterns=patterns, loss=loss, cuts=cuts), wound
    return best


def _laid_cuts(cuts: tuple[Cut, ...], wound: Wound) -> tuple[Cut, ...]:
    """The cuts less the sets for which there is no paper."""
    missing = {wound.lots[row.block].number: row.sets for row in wound.laying.unlaid}
    left = (replace(cut, sets=cut.sets - missing.get(number, 0)) for number, cut in enumerate(cuts))
    return tuple(cut for cut in left if cut.sets > 0)
