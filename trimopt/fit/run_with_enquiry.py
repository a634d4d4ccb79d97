"""With the book: the plan with the enquiry in it, before and after side by side."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from trimopt.book.model import Order
from trimopt.budget import Budget
from trimopt.cutting import Cut, loss_of, patterns_in
from trimopt.cutting.insertion import InsertedPlan, Insertion, insert_demand
from trimopt.cutting.model.cuts import totals_of
from trimopt.cutting.model.loss import net_worth
from trimopt.fit.carried_prices import carried_prices
from trimopt.fit.planned_run import Basis, carried_over, with_order
from trimopt.making import PreparedRun, kg_of_area
from trimopt.paper import reel_diameter_mm

__all__ = ["PlacedSet", "Placement", "RunCount", "place_enquiry"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedSet:
    """Sets in which the enquiry is made, and what lies across them."""

    sets: int
    core_mm: float | None
    length_m: int
    diameter_mm: float  # of the enquiry's reels
    across: tuple[tuple[str, Fraction, int], ...]  # order, reel width, how many
    reels: int  # of the enquiry, in one set
    trim_mm: Fraction  # of the deckle


@dataclass(frozen=True, slots=True, kw_only=True)
class RunCount:
    """What is counted of a plan, before and after in the same way.

    Before, an issued plan has its own figures; what changes after is counted over the set lengths
    listed. `loss_kg` is the loss across the width before winding, kg below and above the ordered
    quantities valued in it; no plan loses less than `bound_kg`, which is proven (None: the clock
    came first).
    """

    sets: int
    metres: int
    trim_loss: float  # (edge trim + pattern trim) / web wound
    loss_kg: float
    bound_kg: float | None
    set_ups: int  # the first counts apart
    set_ups_proven: bool  # no plan has fewer

    @property
    def proven(self) -> bool:
        """Whether no plan loses less; to a gram, since kilograms are rounded."""
        return self.bound_kg is not None and self.loss_kg <= self.bound_kg + 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """The run before and after.

    `marginal_use` is kg of paper used more for a kg delivered, across the width at the listed set
    lengths, with what other orders get more or less, inside their tolerances, taken off; here the
    planned sets stay where they can. Where run and run with the enquiry lose least, each, it lies
    between `min_marginal` and `max_marginal`, which the bounds of both prove, whatever the
    enquiry gets inside its tolerance (None: no bound in time). `extra_m` and `extra_kg` are jumbo
    metres wound and their paper.
    """

    before: RunCount
    after: RunCount
    extra_m: int
    extra_kg: float
    delivered_kg: float
    surplus_kg: float  # of the enquiry, beyond what it may get
    companion_kg: float  # made for stock beside it
    others_kg: float  # that the other orders get more (less: below 0), inside their tolerances
    marginal_use: float
    min_marginal: float | None
    max_marginal: float | None
    sets: tuple[PlacedSet, ...]
    sets_kept: int  # planned sets that stay as they are
    sets_more: tuple[tuple[int, int], ...]  # set length m, and how many more of it (fewer: below 0)

    @property
    def reels(self) -> int:
        """Reels of the enquiry in all its sets."""
        return sum(row.sets * row.reels for row in self.sets)


def place_enquiry(
    basis: Basis,
    order: Order,
    *,
    budget: Budget,
    seed: int = 0,
    companions: tuple[Order, ...] = (),
) -> Placement | None:
    """Put the order into the plan: planned sets stay where they can.

    Parameters
    ----------
    basis
        The run as planned.
    order
        The enquiry as an order.
    budget
        Of the search, which ends by work before.
    companions
        What may be made for stock beside it, up to its quantity, and need not be.

    Returns
    -------
    Placement or None
        None where no plan with the order was found in time, or there is none.
    """
    making = basis.making
    after = _optional(
        with_order(basis, order, *companions), {companion.number for companion in companions}
    )
    place = {o.number: k for k, o in enumerate(after.run.orders)}
    if order.number not in place:
        return None
    carried = carried_prices(basis, after)
    gains, worths = carried if carried is not None else ([0] * len(place), [0] * len(place))
    joined = insert_demand(
        Insertion(
            instance=after.instance,
            demand=place[order.number],
            kept=carried_over(basis.cuts, making, after),
            charges=tuple(limits.cost for limits in basis.with_butt_costs(after).classes),
            set_up=float(after.loss_units(basis.set_up_kg)),
            gain_price=tuple(float(price) for price in gains),
            worth_price=tuple(float(price) for price in worths),
            drawn_in=basis.drawn_in,
        ),
        budget=budget,
        seed=seed,
    )
    if not joined.cuts:
        return None
    return _compared(basis, after, joined, order, companions)


def _optional(making: PreparedRun, numbers: set[str]) -> PreparedRun:
    """The making in which some orders need not be made: nothing is lost where they are not."""
    demands = tuple(
        replace(demand, low=0, ordered=None, under_price=0, over_price=0)
        if order.number in numbers
        else demand
        for order, demand in zip(making.run.orders, making.instance.demands, strict=True)
    )
    return replace(making, instance=replace(making.instance, demands=demands))


@dataclass(frozen=True, slots=True, kw_only=True)
class _WoundTotals:
    """What a plan winds: metres, trim in kg (edge and pattern) and set-ups."""

    metres: int
    trim_kg: float
    set_ups: int

    def plus(self, more: _WoundTotals) -> _WoundTotals:
        return _WoundTotals(
            metres=self.metres + more.metres,
            trim_kg=self.trim_kg + more.trim_kg,
            set_ups=self.set_ups + more.set_ups,
        )

    def less(self, other: _WoundTotals) -> _WoundTotals:
        return self.plus(
            _WoundTotals(metres=-other.metres, trim_kg=-other.trim_kg, set_ups=-other.set_ups)
        )


def _listed(basis: Basis, making: PreparedRun, cuts: tuple[Cut, ...]) -> _WoundTotals:
    """Over the set lengths listed, before winding."""
    metres, trimmed = 0, Fraction(0)
    for cut in cuts:
        run_m = making.classes[cut.pattern.winding_class].length_m * cut.sets
        useful = sum(making.options[k].width_mm * n for k, n in cut.pattern.pieces)
        metres += run_m
        trimmed += (basis.mill.jumbo.width_mm - useful) * run_m
    return _WoundTotals(
        metres=metres,
        trim_kg=float(trimmed) * making.run.grammage_gsm / 1e6,
        set_ups=max(0, patterns_in(making.instance, cuts) - 1),
    )


def _as_issued(basis: Basis) -> _WoundTotals:
    """The plan before the enquiry: its own figures where it was issued, and so wound."""
    run = basis.planned
    if run is None:
        return _listed(basis, basis.making, basis.cuts)
    return _WoundTotals(
        metres=sum(row.length_m for block in run.blocks for row in block.sets),
        trim_kg=run.balance.edge_trim_kg + run.balance.pattern_trim_kg,
        set_ups=run.set_ups,
    )


def _run_count(
    basis: Basis,
    making: PreparedRun,
    cuts: tuple[Cut, ...],
    *,
    wound: _WoundTotals,
    bound: int | None,
    set_ups_bound: int,
) -> RunCount:
    wound_kg = float(basis.mill.jumbo.width_mm) * wound.metres * making.run.grammage_gsm / 1e6
    return RunCount(
        sets=sum(cut.sets for cut in cuts),
        metres=wound.metres,
        trim_loss=wound.trim_kg / wound_kg if wound_kg else 0.0,
        loss_kg=making.loss_kg(loss_of(making.instance, cuts)),
        bound_kg=None if bound is None else making.loss_kg(bound),
        set_ups=wound.set_ups,
        set_ups_proven=wound.set_ups <= set_ups_bound,
    )


def _net_kg(making: PreparedRun, cuts: tuple[Cut, ...], numbers: set[str]) -> tuple[float, float]:
    """Kilograms of some orders that are delivered, and that are surplus."""
    net = surplus = 0
    made, worth, _ = totals_of(making.instance, cuts)
    for i, (order, demand) in enumerate(
        zip(making.run.orders, making.instance.demands, strict=True)
    ):
        if order.number not in numbers:
            continue
        kept = net_worth(demand, made[i], worth[i])
        net += kept
        surplus += worth[i] - kept
    gsm = making.run.grammage_gsm
    return kg_of_area(net, gsm, making.unit_mm), kg_of_area(surplus, gsm, making.unit_mm)


def _compared(
    basis: Basis,
    after: PreparedRun,
    joined: InsertedPlan,
    order: Order,
    companions: tuple[Order, ...],
) -> Placement:
    delivered_kg, surplus_kg = _net_kg(after, joined.cuts, {order.number})
    companion_kg, _ = _net_kg(after, joined.cuts, {other.number for other in companions})
    others = {order.number for order in basis.making.run.orders}
    others_then_kg, _ = _net_kg(basis.making, basis.cuts, others)
    others_now_kg, _ = _net_kg(after, joined.cuts, others)
    issued = _as_issued(basis)
    more = _listed(basis, after, joined.cuts).less(_listed(basis, basis.making, basis.cuts))
    fewest = -1 if basis.set_ups_bound is None else basis.set_ups_bound
    then = _run_count(
        basis, basis.making, basis.cuts, wound=issued, bound=basis.bound, set_ups_bound=fewest
    )
    now = _run_count(
        basis, after, joined.cuts, wound=issued.plus(more), bound=joined.bound, set_ups_bound=0
    )

    may_get_kg = _may_get_kg(after, order.number)
    # The engine takes back the heaviest reel for one too many; no less than the range is got.
    delivered_kg = max(delivered_kg, may_get_kg[0])

    def uses(loss_more: float, delivered: tuple[float, ...]) -> list[float]:
        return [(loss_more + kg) / kg for kg in delivered]

    extra_m = now.metres - then.metres
    kept = carried_over(basis.cuts, basis.making, after)
    stays = {cut.pattern: cut.sets for cut in kept}
    placed = tuple(_placed_set(basis, after, cut, order.number) for cut in joined.cuts)
    return Placement(
        before=then,
        after=now,
        extra_m=extra_m,
        extra_kg=kg_of_area(
            int(basis.mill.jumbo.width_mm / after.unit_mm) * extra_m,
            after.run.grammage_gsm,
            after.unit_mm,
        ),
        delivered_kg=delivered_kg,
        surplus_kg=surplus_kg,
        companion_kg=companion_kg,
        others_kg=others_now_kg - others_then_kg,
        marginal_use=uses(now.loss_kg - then.loss_kg, (delivered_kg,))[0],
        min_marginal=None
        if now.bound_kg is None
        else min(uses(now.bound_kg - then.loss_kg, may_get_kg)),
        max_marginal=None
        if then.bound_kg is None
        else max(uses(now.loss_kg - then.bound_kg, may_get_kg)),
        sets=tuple(row for row in placed if row.reels),
        sets_kept=sum(min(cut.sets, stays.get(cut.pattern, 0)) for cut in joined.cuts),
        sets_more=_more(_lengths(after, joined.cuts), _lengths(basis.making, basis.cuts)),
    )


def _may_get_kg(making: PreparedRun, number: str) -> tuple[float, float]:
    """Min. and max. kilograms of an order that its tolerance allows."""
    place = next(k for k, order in enumerate(making.run.orders) if order.number == number)
    demand = making.instance.demands[place]
    ratios = [
        Fraction(option.worth, option.gain)
        for option in making.instance.options
        if option.demand == place
    ]
    high = demand.low if demand.high is None else max(demand.low, demand.high)
    gsm, unit_mm = making.run.grammage_gsm, making.unit_mm
    min_area, max_area = floor(demand.low * min(ratios)), ceil(high * max(ratios))
    return kg_of_area(min_area, gsm, unit_mm), kg_of_area(max_area, gsm, unit_mm)


def _lengths(making: PreparedRun, cuts: tuple[Cut, ...]) -> Counter[int]:
    counts: Counter[int] = Counter()
    for cut in cuts:
        counts[making.classes[cut.pattern.winding_class].length_m] += cut.sets
    return counts


def _more(now: Counter[int], then: Counter[int]) -> tuple[tuple[int, int], ...]:
    lengths = sorted(now.keys() | then.keys())
    return tuple((m, now[m] - then[m]) for m in lengths if now[m] != then[m])


def _placed_set(basis: Basis, after: PreparedRun, cut: Cut, number: str) -> PlacedSet:
    winding = after.classes[cut.pattern.winding_class]
    across = tuple(
        (after.options[k].order.number, after.options[k].width_mm, n) for k, n in cut.pattern.pieces
    )
    return PlacedSet(
        sets=cut.sets,
        core_mm=winding.core_mm,
        length_m=winding.length_m,
        diameter_mm=max(
            (
                reel_diameter_mm(
                    winding.length_m, _outside_mm(basis, option.core_mm), after.wound_caliper_um
                )
                for option in (after.options[k] for k, _ in cut.pattern.pieces)
                if option.order.number == number
            ),
            default=0.0,
        ),
        across=across,
        reels=sum(n for name, _, n in across if name == number),
        trim_mm=basis.mill.deckle_mm - sum(width * n for _, width, n in across),
    )


def _outside_mm(basis: Basis, core_mm: float) -> float:
    core = basis.mill.winder.core(core_mm)
    assert core is not None
    return core.outside_mm
