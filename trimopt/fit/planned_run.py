"""The run that an enquiry would join: what may be cut, the cuts planned, and the prices."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from math import floor

from trimopt.book.model import Instruction, Order
from trimopt.budget import Budget
from trimopt.cutting import Certificate, Cut, Instance, Pattern, faults_of, solve
from trimopt.errors import InfeasibleError, PlanError
from trimopt.making import PreparedRun, Run, prepare
from trimopt.making.reel_patterns import ReelPatterns
from trimopt.mill.model import Mill
from trimopt.plan.model import RunPlan, Settings
from trimopt.plan.planning.chosen_run import ProvenOnce
from trimopt.plan.planning.objective import Objective, with_butt_costs
from trimopt.plan.planning.run_jumbos import RunJumbos

_FAR_PERCENT = 2.0  # of paper: a plan so far from its bound may have poor prices too
_GAINED = 1e-4  # of the bound: what is less is rounding
_ODD_JUMBOS = (
    "the run winds sets off jumbos of other widths or with defects, and nothing is put into such a "
    "plan: plan the book with the enquiry as an order"
)
_OTHER_ORDERS = "not every order of the run can be made; trimopt check says which, and why"
_NO_PRICES = "nothing was proven of the run's plan in time; give more --time-limit"
_OTHER_SETS = "the plan has sets that this book and mill file do not give"


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """A run as it is planned.

    `bound` is proven, in units of `trimopt.cutting.loss_of`. `issued` says that `planned` is a part
    of an issued plan; else the run was planned for the enquiry. `whole` says that every order of
    the run is met: where the paper did not last, nothing can join.
    """

    mill: Mill
    usable_m: tuple[int, ...]
    max_m: tuple[int, ...]  # of most of its jumbos
    making: PreparedRun
    cuts: tuple[Cut, ...]
    prices: Certificate
    bound: int
    planned: RunPlan
    issued: bool
    settings: Settings
    objective: Objective
    whole: bool
    drawn_in: bool  # the bound gained by ranges drawn in to what whole pieces make

    def with_butt_costs(self, making: PreparedRun) -> Instance:
        """A run on this one's jumbos with the cost of each set's share of a butt."""
        return with_butt_costs(making, self.mill, self.max_m)


def basis_of_plan(
    planned: RunPlan,
    run: Run,
    jumbos: RunJumbos,
    settings: Settings,
    *,
    grid_mm: Fraction,
    budget: Budget,
) -> Basis:
    """The basis that a plan gives.

    Parameters
    ----------
    run
        The run's orders, as the book has them now.
    grid_mm
        Step of the widths that will be asked.
    budget
        For prices anew, where the plan's are poor.

    Raises
    ------
    PlanError
        Nothing can be put into the plan, or it does not fit the run as the book has it.
    """
    if any(block.jumbo_width_mm is not None for block in planned.blocks):
        raise PlanError(_ODD_JUMBOS)
    lengths = [(row.core_mm, row.length_m) for row in planned.set_lengths]
    making = prepare(run, jumbos.mill, usable_m=jumbos.usable_m, lengths=lengths, grid_mm=grid_mm)
    proof = planned.proof
    if [order.number for order in making.run.orders] != [line.number for line in planned.orders]:
        raise PlanError(_OTHER_ORDERS)
    if len(proof.gain_price) != len(planned.orders):
        raise PlanError(_NO_PRICES)
    cuts = _cuts(planned, making) if making.unit_mm == proof.width_unit_mm else None
    if cuts is None:
        raise PlanError(_OTHER_SETS)
    basis = Basis(
        mill=jumbos.mill,
        usable_m=jumbos.usable_m,
        max_m=jumbos.max_m,
        making=making,
        cuts=cuts,
        prices=Certificate(
            scale=proof.scale, gain_price=proof.gain_price, worth_price=proof.worth_price
        ),
        bound=making.loss_units(proof.bound_kg),
        planned=planned,
        issued=True,
        settings=settings,
        objective=Objective.of_run(making, jumbos.mill, settings),
        whole=not faults_of(making.instance, cuts),
        drawn_in=_drawn_in(proof.bound_kg, proof.price_bound_kg),
    )
    if proof.gap_percent > _FAR_PERCENT or not basis.whole:
        return _priced_anew(basis, budget)
    return basis


def _cuts(planned: RunPlan, making: PreparedRun) -> tuple[Cut, ...] | None:
    """The plan's sets as cuts of the making; None where a reel is none of its options."""
    run = ReelPatterns(making)
    sets: Counter[Pattern] = Counter()
    for block in planned.blocks:
        reels = Counter((reel.order, reel.width_mm) for reel in block.reels)
        pattern = run.pattern(run.winding_class(block.core_mm, block.length_m), reels)
        if pattern is None:
            return None
        sets[pattern] += len(block.sets)
    return tuple(Cut(pattern, n) for pattern, n in sorted(sets.items()))


def _priced_anew(basis: Basis, budget: Budget) -> Basis:
    """The basis with the prices and the bound of its linear program, where these prove more."""
    # As wide a gap as may be: the linear program proves, and no plan is sought.
    outcome = solve(basis.making.instance, budget=budget, gap=1.0)
    if outcome.certificate is None or (basis.whole and outcome.bound <= basis.bound):
        return basis
    return replace(
        basis,
        prices=outcome.certificate,
        bound=outcome.bound,
        drawn_in=_drawn_in(outcome.bound, outcome.price_bound),
    )


def _drawn_in(bound: float, price_bound: float) -> bool:
    return bound - price_bound > _GAINED * abs(bound)


def plan_now(
    run: Run,
    jumbos: RunJumbos,
    settings: Settings,
    *,
    budget: Budget,
    instructions: tuple[Instruction, ...] = (),
    jumbos_in_order: bool = False,
    proven: ProvenOnce | None = None,
) -> RunPlan:
    """A run planned as for a plan of the book.

    Its hours are counted from any moment: the run stands alone.

    Raises
    ------
    PlanError
        There is no plan of it, or none was found; the text says why.
    """
    # It brings the winding room, which a run that is planned does without.
    from trimopt.plan.planning.plan_run import plan_run  # noqa: PLC0415
    from trimopt.plan.planning.run_patterns import RunTask  # noqa: PLC0415

    task = RunTask(
        place=1,
        run=run,
        mill=jumbos.mill,
        settings=settings,
        stock=jumbos.listed,
        only_listed_jumbos=jumbos.only_listed,
        jumbos_in_order=jumbos_in_order,
        start=settings.start or datetime(2000, 1, 1),  # noqa: DTZ001  any
        budget=budget,
        instructions=instructions,
        proven=proven or ProvenOnce(),
    )
    wound = plan_run(task).wound
    if wound is None:
        raise InfeasibleError(f"no order of {run.name} can be made")
    return wound.plan


def with_order(
    basis: Basis, *orders: Order, beside: tuple[Order, ...] = (), grid_mm: Fraction | None = None
) -> PreparedRun:
    """The run with more orders, over its set lengths and those that they bring.

    Parameters
    ----------
    beside
        Orders behind them that bring none.
    grid_mm
        Step of the widths that will be asked.
    """
    making = basis.making
    own = prepare(replace(making.run, orders=orders), basis.mill, usable_m=basis.usable_m)
    lengths = [(c.core_mm, c.length_m) for c in (*making.classes, *own.classes)]
    return prepare(
        replace(making.run, orders=(*making.run.orders, *orders, *beside)),
        basis.mill,
        usable_m=basis.usable_m,
        lengths=dict.fromkeys(lengths),
        grid_mm=grid_mm,
    )


def carried_over(cuts: tuple[Cut, ...], before: PreparedRun, after: PreparedRun) -> tuple[Cut, ...]:
    """The cuts of one making in the options of another that has the same orders and more.

    Cuts of a set length that the other lacks are left out.
    """
    there = ReelPatterns(after)
    each = ((there.on(cut.pattern, None, of=before), cut.sets) for cut in cuts)
    return tuple(Cut(pattern, sets) for pattern, sets in each if pattern is not None)


def carried_prices(
    basis: Basis, after: PreparedRun
) -> tuple[list[Fraction], list[Fraction]] | None:
    """Gain and worth prices of the orders of `after`; 0 for an order that the basis lacks.

    A finer unit of width changes what a unit of loss, and of a yield in area, is; the prices are
    brought to it. None where an order of the basis is missing.
    """
    before = basis.making
    place = {order.number: k for k, order in enumerate(after.run.orders)}
    if any(order.number not in place for order in before.run.orders):
        return None
    finer = before.unit_mm / after.unit_mm
    there = ReelPatterns(after)
    gains = [Fraction(0)] * len(place)
    worths = [Fraction(0)] * len(place)
    scale = basis.prices.scale
    ratio: dict[str, Fraction] = {}
    for old in before.options:
        winding = before.classes[old.winding_class]
        c = there.winding_class(winding.core_mm, winding.length_m)
        new = there.option(c, old.order.number, old.width_mm)
        if new is not None and old.gain:
            ratio[old.order.number] = Fraction(after.options[new].gain, old.gain)
    for k, order in enumerate(before.run.orders):
        if order.number not in ratio:
            return None
        at = place[order.number]
        gains[at] = Fraction(basis.prices.gain_price[k], scale) * finer / ratio[order.number]
        worths[at] = Fraction(basis.prices.worth_price[k], scale)
    return gains, worths


def widened(basis: Basis, order: Order) -> Basis | None:
    """The basis with the set lengths that an order brings of its own; the order itself worth 0.

    For an order that no set length of the plan serves. None where it cannot be done.
    """
    making = basis.making
    after = with_order(basis, order, grid_mm=making.width_unit_mm)
    carried = carried_prices(basis, after)
    if carried is None:
        return None
    scale = basis.prices.scale
    gains, worths = carried
    prices = Certificate(
        scale=scale,
        gain_price=tuple(floor(price * scale) for price in gains),
        worth_price=tuple(floor(price * scale) for price in worths),
    )
    cuts = carried_over(basis.cuts, making, after)
    return replace(basis, making=after, cuts=cuts, prices=prices)
