"""The run planned again with the enquiry in it, every planned set free to change."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf

from trimopt.book.model import Instruction, Order
from trimopt.budget import Budget
from trimopt.cutting import Outcome, Status, loss_of, patterns_in
from trimopt.cutting.setups.model import ParetoPoint, TradeOff
from trimopt.errors import PlanError
from trimopt.fit.extra_paper import bound_of, use_of
from trimopt.fit.planned_run import Basis, plan_now, with_order
from trimopt.fit.run_with_enquiry import HeldSets, PlacedSet, may_get_kg
from trimopt.making import Run
from trimopt.plan.model import Block, Effort, OrderLine, RunPlan, Settings
from trimopt.plan.planning.chosen_run import ProvenOnce, supply_of
from trimopt.plan.planning.run_jumbos import RunJumbos
from trimopt.plan.reel_rows import diameter_on
from trimopt.plan.states import OrderState
from trimopt.winding import JumboSupply

#: From so many seconds on a search of that effort ends by its work, as a rule.
_EFFORTS = ((100.0, Effort.THOROUGH), (20.0, Effort.NORMAL))

_HELD = 0.4  # of the time, for winding the planned sets with the enquiry among them


@dataclass(frozen=True, slots=True, kw_only=True)
class RunWithEnquiry:
    """The run as planned with the enquiry in it, and what that proves.

    `use` and `min_use` are extra paper (`trimopt.fit.extra_paper`): what this plan needs, and less
    than any needs (None: nothing was proven in time).
    """

    before: RunPlan
    run: RunPlan
    line: OrderLine  # of the enquiry
    use: float
    min_use: float | None
    minutes_more: float  # on the winder
    clock_stopped: bool  # time ended the search for it, and not its work

    @property
    def short(self) -> bool:
        """Whether the listed jumbos do not last for all of its orders."""
        return any(OrderState.SHORT in line.states for line in self.run.orders)

    @property
    def needs_sales(self) -> bool:
        """Whether no whole number of reels meets the enquiry."""
        return OrderState.NEEDS_SALES in self.line.states

    @property
    def sets(self) -> tuple[PlacedSet, ...]:
        rows = (_placed(self.run, block, self.line.number) for block in self.run.blocks)
        return tuple(row for row in rows if row.reels)


def effort_for(seconds: float) -> Effort:
    """How hard to look in so many seconds, so that work ends the search, as a rule."""
    return next((effort for least, effort in _EFFORTS if seconds >= least), Effort.QUICK)


def replan_with(
    basis: Basis,
    run: Run,
    order: Order,
    jumbos: RunJumbos,
    *,
    held: HeldSets,
    proven: ProvenOnce,
    budget: Budget,
    effort: Effort,
    left_min: float = inf,
    instructions: tuple[Instruction, ...] = (),
    jumbos_in_order: bool = False,
) -> RunWithEnquiry | None:
    """Plan the run with an order more: first its sets as planned are wound, then all of it anew.

    Parameters
    ----------
    held
        The planned sets with the order among them.
    proven
        What is proven of the run with it already.
    left_min
        Minutes that are left for more.
    instructions
        The scheduler's for this run; only what is planned anew keeps them.

    Returns
    -------
    RunWithEnquiry or None
        The plan that needs less paper, of those that the minutes last for. None where the paper
        listed does not last for any of the enquiry.

    Raises
    ------
    PlanError
        There is no plan with it, or none was found; the text says why.
    """
    settings = replace(basis.settings, effort=effort)
    supply = supply_of(jumbos, 1, in_order=jumbos_in_order)
    wound = planned = None
    if not instructions:
        share = budget.share(_HELD)
        wound = wound_with(
            basis, held, jumbos, supply, settings=settings, budget=share, once=proven
        )
    try:
        planned = plan_now(
            replace(run, orders=(*run.orders, order)),
            jumbos,
            settings,
            budget=budget,
            instructions=instructions,
            jumbos_in_order=jumbos_in_order,
            proven=proven,
        )
    except PlanError:
        if wound is None:
            raise
    stopped = planned is None or planned.proof.clock_stopped
    found = [
        made
        for plan in (planned, wound)
        if plan is not None and (made := _with_enquiry(basis, plan, order, stopped=stopped))
    ]
    return min(
        found,
        key=lambda made: (made.short, made.minutes_more > left_min, made.use),
        default=None,
    )


def wound_with(
    basis: Basis,
    held: HeldSets,
    jumbos: RunJumbos,
    supply: JumboSupply,
    *,
    settings: Settings,
    budget: Budget,
    proven: Outcome | None = None,
    once: ProvenOnce | None = None,
) -> RunPlan | None:
    """The planned sets, with the enquiry among them, on the winder.

    `proven` has the prices and the bound that the plan carries; else it has no prices. `once` has
    joint bounds that are known.
    """
    # They bring the winding room, which the quick answer does without.
    from trimopt.plan.planning.chosen_run import ChosenRun  # noqa: PLC0415
    from trimopt.plan.planning.instructions.instructed_run import apply_instructions  # noqa: PLC0415
    from trimopt.plan.planning.schedule.run_winding import wind_run  # noqa: PLC0415

    making, cuts, bound = held.making, held.cuts, held.bound or 0
    instance, outcome = basis.with_butt_costs(making), _outcome(held, proven)
    point = ParetoPoint(
        patterns=patterns_in(making.instance, cuts), loss=loss_of(instance, cuts), cuts=cuts
    )
    chosen = ChosenRun(
        making=making,
        mill=jumbos.mill,
        settings=settings,
        objective=basis.objective,
        instance=instance,
        outcome=outcome,
        trade=TradeOff(points=(point,), patterns_bound=0, patterns_bound_any=0),
        point=point,
        instructed=apply_instructions(
            (),
            making.run,
            making,
            jumbos.mill,
            instance=instance,
            free=outcome,
            free_bound=bound,
            usable_m=max(jumbos.usable_m),
            budget=budget,
        ),
        supply=supply,
        usable_m=jumbos.usable_m,
        odd_m=tuple(m for m in jumbos.usable_m if m not in jumbos.max_m),
        start=settings.start or datetime(2000, 1, 1),  # noqa: DTZ001  any
        budget=budget,
        proven=once or ProvenOnce(),
    )
    try:
        return wind_run(chosen).plan
    except PlanError:
        return None


def _outcome(held: HeldSets, proven: Outcome | None) -> Outcome:
    """The planned sets as what a search found, with what is proven."""
    bound = held.bound or 0
    return Outcome(
        status=Status.FEASIBLE,
        cuts=held.cuts,
        loss=loss_of(held.making.instance, held.cuts),
        bound=bound if proven is None else proven.bound,
        price_bound=bound if proven is None else proven.price_bound,
        certificate=None if proven is None else proven.certificate,
    )


def _with_enquiry(
    basis: Basis, planned: RunPlan, order: Order, *, stopped: bool
) -> RunWithEnquiry | None:
    """What a plan of the run with the enquiry comes to; None where it makes nothing of it."""
    line = next((each for each in planned.orders if each.number == order.number), None)
    if line is None or not line.delivered_kg:
        return None
    lost_kg = basis.objective.loss_with_butts_kg
    before_kg, bound_kg = lost_kg(basis.planned.balance), bound_of(basis, planned)
    got_kg = may_get_kg(with_order(basis, order), order.number)
    more_kg = lost_kg(planned.balance) - before_kg
    return RunWithEnquiry(
        before=basis.planned,
        run=planned,
        line=line,
        use=use_of(basis, more_kg, (line.delivered_kg,))[0],
        min_use=None if bound_kg is None else min(use_of(basis, bound_kg - before_kg, got_kg)),
        minutes_more=planned.minutes - basis.planned.minutes,
        clock_stopped=stopped,
    )


def min_use(basis: Basis, order: Order, proven: ProvenOnce, budget: Budget) -> float | None:
    """No plan of the run with the order needs less paper; None where that is not proven in time.

    The joint bound on loss, over every pattern and every length, less the loss of the plan. It is
    kept in `proven`, for the plans that are made with the order.
    """
    after = with_order(basis, order)
    bound = proven.least_loss(after, basis.mill, basis.usable_m, budget)
    if bound is None:
        return None
    lost_kg = basis.objective.loss_with_butts_kg(basis.planned.balance)
    got_kg = may_get_kg(after, order.number)
    return min(use_of(basis, after.loss_kg(bound) - lost_kg, got_kg))


def _placed(run: RunPlan, block: Block, number: str) -> PlacedSet:
    """The sets of a block, with what lies across them."""
    across = Counter((reel.order, reel.width_mm) for reel in block.reels)
    cores_mm = {p.core_mm for p in block.reels if p.order == number and p.core_mm is not None}
    lengths = [row.length_m for row in block.sets]
    return PlacedSet(
        sets=len(block.sets),
        core_mm=block.core_mm,
        length_m=max(lengths),
        min_length_m=min(lengths),
        diameter_mm=max((diameter_on(run, core, max(lengths)) for core in cores_mm), default=0.0),
        across=tuple((order, width, count) for (order, width), count in across.items()),
        reels=sum(count for (order, _), count in across.items() if order == number),
        trim_mm=run.deckle_mm - sum(width * count for (_, width), count in across.items()),
    )
