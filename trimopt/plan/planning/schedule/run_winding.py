"""A run's patterns on the winder: running order, jumbos, clock, and the figures that follow.

Where the jumbos listed do not last for every set, sets are kept by priority, then due date, and
these are laid out anew. Which sets the shift has hours for is decided over all runs together
(`shift.within_shift`).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.cutting import Cut, loss_of, patterns_in
from trimopt.cutting.setups import ParetoPoint, fewest_patterns
from trimopt.paper import Measured
from trimopt.plan.model import JumboUse, RunPlan
from trimopt.plan.planning.chosen_run import ChosenRun
from trimopt.plan.planning.odd_jumbos.odd_part import odd_metres
from trimopt.plan.planning.schedule.order_lines import order_lines
from trimopt.plan.planning.schedule.run_assembly import balance_of, blocks_of, jumbos_of
from trimopt.plan.planning.schedule.run_lots import merged
from trimopt.plan.planning.schedule.run_proof import (
    on_odd,
    proof_of,
    set_lengths,
    short_proof,
    trade_points,
    with_metres,
)
from trimopt.plan.planning.schedule.running_order import (
    RunningOrder,
    best_running_order,
    order_on_jumbos,
)
from trimopt.plan.planning.schedule.split_blocks import Split, with_splits
from trimopt.plan.proof_data import Proof
from trimopt.winding import Arrangement, Laying
from trimopt.winding.jumbos.clock import timetable
from trimopt.winding.model import set_up_where_needed

_EQUALS = 2  # plans of the chosen point's loss and patterns, tried beside it

# Of the time that is left of a run's: for the first running order, and for each one after it.
_ORDER, _ORDER_AGAIN, _SPLITS = 0.75, 0.2, 0.5

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
class WoundRun:
    """A run's plan, the cuts in it, and their running order."""

    chosen: ChosenRun
    plan: RunPlan
    cuts: tuple[Cut, ...]
    order: RunningOrder

    @property
    def cut_of(self) -> tuple[int, ...]:
        """For each block the place of its cut."""
        return tuple(lot.number for lot in self.order.lots)

    @property
    def leaves_butts(self) -> bool:
        """Whether more than a few metres are lost in butts, or the listed jumbos do not last."""
        return self.order.leaves_butts or _SHORT_OF_PAPER in self.plan.notes


def wind_run(
    run: ChosenRun,
    kept: tuple[Cut, ...] | None = None,
    *,
    laid: RunningOrder | None = None,
    short: Collection[str] = (),
) -> WoundRun:
    """Put a run whose patterns are chosen in order, onto jumbos and onto the clock.

    Parameters
    ----------
    kept
        The cuts that the shift has hours for; None: no hour is short.
    laid
        The running order of these, where it is known.
    short
        Orders that there was too little paper for before hours were counted.
    """
    point, no_paper = run.point, False
    begun = run
    if kept is None:
        point, order = _best_point(run)
        cuts = merged(point.cuts)
    else:
        run, cuts = _without_odd(run, kept) if laid is None else (run, kept)
        order = laid or best_running_order(run, cuts, run.budget.share(_ORDER))
    while order.laying.unlaid:
        # What the jumbos listed have no paper for is taken out, the rest laid out anew.
        no_paper = True
        cuts = _laid_cuts(cuts, order)
        order = best_running_order(run, cuts, run.budget.share(_ORDER))
    split = Split(cuts=cuts, order=order)
    if laid is None:
        if run.settings.split_blocks:
            split = with_splits(replace(run, budget=run.budget.share(_SPLITS)), cuts, order)
        split = with_odd_jumbos(run, split)
    no_hours = kept is not None
    plan = _run_plan(run, split, no_paper=no_paper, no_hours=no_hours, short=short)
    whole = not (no_paper or no_hours)
    if whole:
        rows = trade_points(run, point, planned=plan)
        plan = replace(plan, trade_off=rows)
    free = begun.odd is None or not begun.odd.asked
    plan = run.instructed.answered(plan, point, priced=whole and free)
    stopped = plan.proof.clock_stopped or run.budget.stopped
    plan = replace(plan, proof=replace(plan.proof, clock_stopped=stopped))
    return WoundRun(chosen=begun, plan=plan, cuts=split.cuts, order=split.order)


def _without_odd(run: ChosenRun, kept: tuple[Cut, ...]) -> tuple[ChosenRun, tuple[Cut, ...]]:
    """The run and the cuts off other jumbos, where its sets on odd ones are not all kept.

    Odd jumbos are wound with all of their sets or not at all: these were chosen to fill them.
    """
    if run.odd is None:
        return run, kept
    own = len(run.making.classes)
    odd = [cut for cut in kept if cut.pattern.winding_class >= own]
    rest = tuple(cut for cut in kept if cut.pattern.winding_class < own)
    if sorted(merged(odd)) != sorted(merged(run.odd_cuts)):
        run = replace(run, odd=None, making=run.odd.making)  # its orders whole again
    return run, rest


def _run_plan(
    run: ChosenRun, split: Split, *, no_paper: bool, no_hours: bool, short: Collection[str]
) -> RunPlan:
    """The figures of a run in its order, without trade-off and answers."""
    making, mill, cuts, order = run.whole, run.mill, split.cuts, split.order
    arrangement, laying = order.arrangement, order.laying
    laid = [(each.block, each.stretches) for each in laying.sets]
    changes = [(block.set_up, block.moves) for block in arrangement.blocks]
    times = timetable(laid, changes, mill.winder, run.start)
    blocks = blocks_of(
        making, mill, arrangement, lots=order.lots, sets=laying.sets, times=times.sets
    )
    lines = order_lines(making, mill, blocks, carried_over=no_hours, short_before=short)
    jumbos = jumbos_of(laying.butts, mill.winder)
    why = [_NO_PAPER] * no_paper + [_NO_HOURS] * no_hours
    set_ups_bound = None if why else _set_ups_bound(run)
    return RunPlan(
        name=making.run.name,
        winder=mill.winder.name,
        grade=making.run.grade,
        grammage_gsm=making.run.grammage_gsm,
        wound_caliper_um=making.wound_caliper_um,
        cores=mill.winder.cores,
        jumbo_width_mm=mill.jumbo.width_mm,
        deckle_mm=mill.deckle_mm,
        set_lengths=set_lengths(making, mill),
        proof=_proof(run, cuts, order, jumbos, why=" and ".join(why)),
        blocks=blocks,
        jumbos=jumbos,
        orders=lines,
        balance=balance_of(making, mill, blocks, jumbos, lines),
        set_ups=arrangement.set_ups,
        set_ups_bound=set_ups_bound,
        knife_moves=arrangement.moves,
        knife_moves_bound=None if run.odd else arrangement.moves_bound,
        minutes=times.minutes,
        start=times.start if times.sets else None,
        finish=times.finish if times.sets else None,
        notes=tuple(
            [_SHORT_OF_PAPER] * no_paper + [_SHORT_OF_HOURS] * no_hours + _split_notes(run, split)
        ),
    )


def _set_ups_bound(run: ChosenRun) -> int:
    return max(0, fewest_patterns(run.whole.instance, run.budget, run.instructed.fixed) - 1)


def _proof(
    run: ChosenRun,
    cuts: tuple[Cut, ...],
    order: RunningOrder,
    jumbos: tuple[JumboUse, ...],
    *,
    why: str,
) -> Proof:
    making, outcome = run.whole, run.outcome
    if run.odd is not None:
        outcome = run.odd.whole(outcome, cuts)
    proof = short_proof(making, outcome, cuts, why=why) if why else proof_of(making, outcome, cuts)
    if run.odd is not None:
        proof = replace(proof, bound_on=proof.bound_on + on_odd(making, odd_metres(making, cuts)))
    used_m = sum(jumbo.wound_m + jumbo.butt_m for jumbo in jumbos)
    min_loss = None
    once = None if why or run.odd or order.loss_area is None else run.proven
    if once is not None and not run.budget.over():
        min_loss = once.least_loss(making, run.mill, run.usable_m, run.budget)
    return with_metres(
        proof,
        making,
        run.mill,
        used_m=used_m,
        loss_area=order.loss_area,
        min_loss=min_loss,
    )


def _split_notes(run: ChosenRun, split: Split) -> list[str]:
    if not split.saved:
        return []
    butt_kg = run.making.kg(int(split.butt_m * run.mill.jumbo.width_mm / run.making.unit_mm))
    more = "1 set-up" if split.set_ups == 1 else f"{split.set_ups} set-ups"
    butts = run.making.run.written.text(Measured.MASS, butt_kg)
    said = f"A pattern runs in two blocks where that pays: {more} more, butts {butts} less"
    money = f"{split.saved:,.0f} {run.settings.currency}".rstrip()
    return [f"{said}, {money} saved in all at the mill's prices."]


def _best_point(run: ChosenRun) -> tuple[ParetoPoint, RunningOrder]:
    """The chosen point, or where it leaves butts one that costs less once it is wound.

    The trade-off weighs butts by shares, and blind to blocks: more patterns of the same loss may
    fill jumbos that fewer cannot. Those that the engine found first, and its equals, are tried.
    """
    chosen = merged(run.point.cuts)
    best = run.point, order_on_jumbos(run, chosen, _ORDER)
    if run.loose or not best[1].leaves_butts:
        return best
    others = (run.outcome.cuts, *run.point.equal[:_EQUALS])
    for cuts in dict.fromkeys(merged(other) for other in others):
        if sorted(cuts) == sorted(chosen):
            continue
        if run.budget.over():
            break
        order = order_on_jumbos(run, cuts, _ORDER_AGAIN)
        if run.max_set_ups is not None and order.arrangement.set_ups > run.max_set_ups:
            continue
        if order.cost(run.objective) < best[1].cost(run.objective):
            loss = loss_of(run.instance, cuts)
            patterns = patterns_in(run.instance, cuts)
            best = ParetoPoint(patterns=patterns, loss=loss, cuts=cuts), order
    return best


def _laid_cuts(cuts: tuple[Cut, ...], order: RunningOrder) -> tuple[Cut, ...]:
    """The cuts less the sets for which there is no paper."""
    missing = {order.lots[row.block].number: row.sets for row in order.laying.unlaid}
    left = (replace(cut, sets=cut.sets - missing.get(number, 0)) for number, cut in enumerate(cuts))
    return tuple(cut for cut in left if cut.sets > 0)


def with_odd_jumbos(run: ChosenRun, split: Split) -> Split:
    """The run's sets behind those on its odd jumbos; as they are where it has none."""
    if run.odd is None:
        return split
    stage, rest = run.odd.stage, split.order
    cuts, blocks = len(stage.cuts), len(stage.blocks)
    lots = (*stage.lots, *(replace(lot, number=lot.number + cuts) for lot in rest.lots))
    arranged = (
        *stage.blocks,
        *(replace(block, lot=block.lot + cuts) for block in rest.arrangement.blocks),
    )
    butts = stage.butts_before(others=bool(rest.laying.sets))
    lost_mm_m = sum(
        ((b.wound_m + b.left_m * (not b.carried_forward)) * b.jumbo.width_mm for b in butts),
        Fraction(0),
    )
    laying = Laying(
        sets=(
            *stage.sets,
            *(replace(laid, block=laid.block + blocks) for laid in rest.laying.sets),
        ),
        butts=(*butts, *rest.laying.butts),
        unlaid=tuple(replace(row, block=row.block + blocks) for row in rest.laying.unlaid),
    )
    loss = rest.loss_area
    order = RunningOrder(
        arrangement=Arrangement(blocks=set_up_where_needed(arranged, lots)),  # no bound holds
        lots=lots,
        laying=laying,
        loss_area=None if loss is None else loss + lost_mm_m / run.making.unit_mm,
    )
    return replace(split, cuts=(*stage.cuts, *split.cuts), order=order)
