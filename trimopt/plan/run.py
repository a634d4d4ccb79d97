"""One run, from its orders to its part of the plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction

from trimopt.book.model import JumboInStock, Order
from trimopt.cutting import (
    SCALE,
    Cut,
    Instance,
    Limits,
    Outcome,
    Progress,
    Status,
    loss_of,
    solve,
)
from trimopt.cutting.setups import Point, TradeOff, trade_off
from trimopt.errors import InfeasibleError, OutOfTimeError
from trimopt.making import Making, Run, kg_of_area, prepare
from trimopt.mill.model import Mill
from trimopt.plan.along import Along
from trimopt.plan.assemble import Moments, balance_of, blocks_of, jumbos_of, order_lines
from trimopt.plan.model import (
    LeftOut,
    RunPlan,
    Settings,
)
from trimopt.plan.order import Wound, best_running_order
from trimopt.plan.proof import (
    loss_kg,
    proof_of,
    set_lengths,
    short_proof,
    trade_points,
    with_metres,
)
from trimopt.winding import StockJumbo
from trimopt.winding.clock import timetable
from trimopt.winding.model import Lot, Strip

__all__ = ["RunObserver", "RunProgress", "RunTask", "plan_run"]


#: Work at effort 1, repeatable; about a second each on a laptop of 2024.
_TRADE_WORK = 2.4  # times the square of the orders: so the search grows


_SHORT_OF_PAPER = (
    "The jumbos listed do not last for every order: sets were kept by priority, then due date; the "
    "orders that are short stand as such, with what they lack."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunProgress:
    """What is known of a run at a moment of its planning."""

    run: str
    step: str
    seconds: float
    loss_kg: float | None
    bound_kg: float | None


RunObserver = Callable[[RunProgress], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTask:
    """All that one run's planning needs; it can be sent to another process.

    `place` counts the book's runs from 1; nominal jumbos are named by it.
    """

    place: int
    run: Run
    mill: Mill
    settings: Settings
    stock: tuple[JumboInStock, ...]
    only_listed_jumbos: bool
    start: datetime
    seconds: float | None


def plan_run(
    task: RunTask, observer: RunObserver | None = None
) -> tuple[RunPlan | None, tuple[LeftOut, ...]]:
    """Plan one run.

    Returns
    -------
    RunPlan or None
        None where no order of the run can be made.
    tuple of LeftOut
        Orders that cannot be made, with the limit that stops each.

    Raises
    ------
    InfeasibleError
        An order cannot be met together with the limits.
    OutOfTimeError
        The time limit came before any whole plan.
    """
    grade = task.mill.grade(task.run.grade)
    if grade is None:
        message = f"the mill file has no grade {task.run.grade}; add it or correct the order book"
        raise InfeasibleError(message)
    listed = _listed(task)
    mill = task.mill.for_paper(grade, task.run.grammage_gsm)
    if listed:
        # A run is cut to one deckle: that of the jumbos made for it.
        mill = replace(mill, jumbo=replace(mill.jumbo, width_mm=listed[0].width_mm))
    task = replace(task, mill=mill)
    stock = tuple(_in_stock(jumbo) for jumbo in listed if jumbo.width_mm == listed[0].width_mm)
    usable = tuple(dict.fromkeys([*(jumbo.usable_m for jumbo in stock), mill.jumbo.usable_m]))
    if stock and task.only_listed_jumbos:
        usable = tuple(dict.fromkeys(jumbo.usable_m for jumbo in stock))
    making = prepare(task.run, mill, usable_m=usable)
    left_out = tuple(LeftOut(order=order.number, why=why) for order, why in making.stopped)
    if not making.run.orders:
        return None, left_out

    def watch(progress: Progress) -> None:
        if observer is not None:
            observer(
                RunProgress(
                    run=task.run.name,
                    step=progress.step,
                    seconds=progress.seconds,
                    loss_kg=None if progress.loss is None else loss_kg(making, progress.loss),
                    bound_kg=None if progress.bound is None else loss_kg(making, progress.bound),
                )
            )

    outcome, steered = _solved(task, making, usable, watch)
    _require_plan(outcome, making)
    trade = trade_off(
        steered,
        outcome,
        limits=Limits(
            seconds=_share(task.seconds, 0.25),
            work=_trade_work(task, making),
        ),
        seed=task.settings.seed,
        observer=watch,
    )
    point = _chosen(trade, task.settings, making)
    return _wound(
        task,
        making,
        outcome=outcome,
        trade=trade,
        point=point,
        stock=stock,
        usable_m=usable,
    ), left_out


def _solved(
    task: RunTask,
    making: Making,
    usable_m: tuple[int, ...],
    watch: Callable[[Progress], None],
) -> tuple[Outcome, Instance]:
    """The bound of the run, and cuts that were sought with butts charged for.

    Returns
    -------
    Outcome
        Cuts, with the loss across the width that they have and the bound on it.
    Instance
        The run with its sets charged for their shares of the butts that they would leave. It
        steers the search; what is proven is proven without it.
    """
    lengths = [winding.length_m for winding in making.classes]
    charged = {m: _charged_m(m, usable_m) for m in lengths}
    paper_per_m = int(task.mill.jumbo.width_mm / making.unit_mm)
    steered = replace(
        making.instance,
        classes=tuple(
            replace(limits, cost=max(limits.cost, int(charged[m] * paper_per_m)))
            for limits, m in zip(making.instance.classes, lengths, strict=True)
        ),
    )
    seed = task.settings.seed
    if steered == making.instance:
        limits = Limits(seconds=_share(task.seconds, 0.6))
        return solve(making.instance, limits=limits, seed=seed, observer=watch), steered
    # As wide a gap as may be: the linear program proves, and no plan is sought.
    proof = solve(
        making.instance, limits=Limits(seconds=_share(task.seconds, 0.2), gap=1.0), seed=seed
    )
    sought = solve(
        steered,
        limits=Limits(seconds=_share(task.seconds, 0.4)),
        seed=seed,
        observer=watch,
    )
    if not sought.cuts:
        return proof, steered
    loss = loss_of(making.instance, sought.cuts)
    return replace(
        sought,
        status=Status.OPTIMAL if loss <= proof.bound else Status.FEASIBLE,
        loss=loss,
        bound=proof.bound,
        price_bound=proof.price_bound,
        certificate=proof.certificate,
        clock_stopped=proof.clock_stopped or sought.clock_stopped,
        seconds=proof.seconds + sought.seconds,
    ), steered


def _charged_m(length_m: int, usable_m: tuple[int, ...]) -> Fraction:
    """Metres of jumbo that a set takes with its share of the butt, were all sets like it."""
    return min(Fraction(m, m // length_m) for m in usable_m if m >= length_m)


def _trade_work(task: RunTask, making: Making) -> int:
    return round(task.settings.effort * _TRADE_WORK * max(9, len(making.run.orders)) ** 2)


def _share(seconds: float | None, share: float) -> float | None:
    return None if seconds is None else seconds * share


def _require_plan(outcome: Outcome, making: Making) -> None:
    if outcome.cuts or (outcome.loss is not None):
        return
    if outcome.status is Status.INFEASIBLE:
        names = ", ".join(making.run.orders[i].number for i in outcome.blocking) or "the run"
        message = f"{making.run.name}: {names} cannot be met: {outcome.text}"
        raise InfeasibleError(message)
    message = f"{making.run.name}: no whole plan within the time limit; give more --time-limit"
    raise OutOfTimeError(message)


def _listed(task: RunTask) -> tuple[JumboInStock, ...]:
    """The listed jumbos of the run's paper."""
    return tuple(
        jumbo
        for jumbo in task.stock
        if jumbo.grade.casefold() == task.run.grade.casefold()
        and jumbo.grammage_gsm == task.run.grammage_gsm
    )


def _in_stock(jumbo: JumboInStock) -> StockJumbo:
    return StockJumbo(
        name=jumbo.name,
        width_mm=jumbo.width_mm,
        usable_m=jumbo.usable_m,
        loss_start_m=jumbo.loss_start_m,
        loss_end_m=jumbo.loss_end_m,
        nominal=False,
    )


def _chosen(trade: TradeOff, settings: Settings, making: Making) -> Point:
    """The point of the trade-off that the settings ask for."""
    if settings.set_ups_most is not None:
        point = trade.at_most(settings.set_ups_most + 1)
        return point if point is not None else trade.points[-1]
    kg_a_unit = kg_of_area(1, making.run.grammage_gsm, making.unit_mm) / SCALE
    if settings.give_up_kg is not None:
        return trade.giving_up(settings.give_up_kg / kg_a_unit)
    if settings.trim_a_tonne is not None and settings.set_up is not None:
        return trade.cheapest(settings.trim_a_tonne / 1000 * kg_a_unit, settings.set_up)
    return trade.points[0]


def _lots(making: Making, cuts: Sequence[Cut]) -> tuple[Lot, ...]:
    return tuple(_lot(making, number, cut) for number, cut in enumerate(cuts))


def _lot(making: Making, number: int, cut: Cut) -> Lot:
    winding = making.classes[cut.pattern.winding_class]
    limits = making.instance.classes[cut.pattern.winding_class]
    strips: list[Strip] = []
    orders: dict[str, Order] = {}
    used = 0
    for k, count in cut.pattern.pieces:
        option = making.options[k]
        orders[option.order.number] = option.order
        strips += [
            Strip(key=str(k), width_mm=option.width_mm, no_edge=option.order.no_edge)
        ] * count
        used += making.instance.options[k].width * count
    return Lot(
        number=number,
        strips=tuple(strips),
        sets=cut.sets,
        length_m=winding.length_m,
        core_mm=winding.core_mm,
        broke_reels=limits.broke_reels(used) or 0,
        due=min((o.due for o in orders.values() if o.due is not None), default=None),
        priority=min((o.priority for o in orders.values() if o.priority is not None), default=None),
        orders=frozenset(orders),
    )


def _wound(
    task: RunTask,
    making: Making,
    *,
    outcome: Outcome,
    trade: TradeOff,
    point: Point,
    stock: tuple[StockJumbo, ...],
    usable_m: tuple[int, ...],
) -> RunPlan:
    mill = task.mill
    along = Along(
        stock=stock,
        nominal=None if stock and task.only_listed_jumbos else _nominal(mill, task.place),
    )
    cuts, unlaid = point.cuts, False
    while True:
        wound = best_running_order(
            making,
            mill,
            cuts,
            _lots(making, cuts),
            along,
            settings=task.settings,
            seconds=_share(task.seconds, 0.2),
        )
        if not wound.laying.unlaid:
            break
        # The jumbos listed do not last: what they have no paper for is taken out, laid out anew.
        unlaid = True
        cuts = _laid_cuts(cuts, wound)
    arrangement, in_order, laying = wound.arrangement, wound.lots, wound.laying
    times = timetable(laying.sets, arrangement.blocks, mill.winder, task.start)
    moments = [Moments(start=t.start, finish=t.finish) for t in times.sets]
    nominal_m = [(lot.core_mm, lot.length_m) for lot in in_order]
    blocks = blocks_of(
        making, mill, arrangement, nominal_m=nominal_m, sets=laying.sets, moments=moments
    )
    lines = order_lines(making, mill, blocks)
    jumbos = jumbos_of(laying.butts)
    balance = balance_of(making, mill, blocks, jumbos, lines)
    return RunPlan(
        name=making.run.name,
        grade=making.run.grade,
        grammage_gsm=making.run.grammage_gsm,
        wound_caliper_um=making.wound_caliper_um,
        jumbo_width_mm=mill.jumbo.width_mm,
        deckle_mm=mill.deckle_mm,
        set_lengths=set_lengths(making, mill),
        proof=with_metres(
            short_proof(making, outcome, cuts) if unlaid else proof_of(making, outcome, cuts),
            making,
            mill,
            usable_m=usable_m,
            used_m=sum(jumbo.wound_m + jumbo.butt_m for jumbo in jumbos),
            loss_area=None if unlaid else wound.loss_area,
            seconds=_share(task.seconds, 0.1),
        ),
        blocks=blocks,
        jumbos=jumbos,
        orders=lines,
        balance=balance,
        set_ups=arrangement.set_ups,
        set_ups_bound=_set_ups_bound(making, trade),
        knife_moves=arrangement.moves,
        knife_moves_bound=arrangement.moves_bound,
        minutes=times.minutes,
        start=times.start,
        finish=times.finish,
        trade_off=()
        if unlaid
        else trade_points(making, trade, point, moves=arrangement.moves, bound=outcome.bound),
        notes=(_SHORT_OF_PAPER,) if unlaid else (),
    )


def _set_ups_bound(making: Making, trade: TradeOff) -> int | None:
    """Fewest set-ups at any loss, where a pattern and its widths are the same thing.

    Set lengths or orders that share a width can make two patterns of one set-up; then no bound is
    stated.
    """
    widths = [option.width for option in making.instance.options]
    if len(making.classes) > 1 or len(set(widths)) < len(widths):
        return None
    return max(0, trade.patterns_bound_any - 1)


def _laid_cuts(cuts: tuple[Cut, ...], wound: Wound) -> tuple[Cut, ...]:
    """The cuts less the sets for which there is no paper."""
    missing = {wound.lots[row.block].number: row.sets for row in wound.laying.unlaid}
    left = (replace(cut, sets=cut.sets - missing.get(number, 0)) for number, cut in enumerate(cuts))
    return tuple(cut for cut in left if cut.sets > 0)


def _nominal(mill: Mill, place: int) -> StockJumbo:
    return StockJumbo(
        name=f"R{place}-J",
        width_mm=mill.jumbo.width_mm,
        usable_m=mill.jumbo.usable_m,
        loss_start_m=mill.jumbo.loss_start_m,
        loss_end_m=mill.jumbo.loss_end_m,
    )
