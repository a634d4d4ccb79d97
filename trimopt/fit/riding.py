"""With the book: the run solved again with the enquiry in it, before and after side by side."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import Order
from trimopt.cutting import Cut, Limits, Outcome, faults_of, loss_of, solve
from trimopt.fit.basis import Basis, carried_over
from trimopt.fit.prices import enquiry_bound
from trimopt.making import Making, kg_of_area, prepare
from trimopt.plan.loss import loss_kg

__all__ = ["Riding", "RidingSet", "ride"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RidingSet:
    """Sets in which the enquiry rides: what lies across, and what was there before."""

    sets: int
    core_mm: float | None
    length_m: int
    across: tuple[tuple[str, Fraction, int], ...]  # order, reel width, how many
    reels: int  # of the enquiry, in one set
    trim_mm: Fraction  # of the deckle


@dataclass(frozen=True, slots=True, kw_only=True)
class Riding:
    """The run before and after.

    `marginal_use` is kg of paper used more for a kg delivered, with what other orders get more or
    less, inside their tolerances, taken off; `marginal_least` and `marginal_most` are what the
    proven bounds allow it to be. `extra_m` and `extra_kg` are jumbo metres and paper as planned.
    """

    extra_m: int
    extra_kg: float
    delivered_kg: float
    marginal_use: float
    marginal_least: float
    marginal_most: float
    trim_before: float
    trim_after: float
    set_ups_before: int
    set_ups_after: int
    proven_before: bool
    proven_after: bool
    sets: tuple[RidingSet, ...]
    in_planned_sets: int  # sets of the enquiry over and above none, that the run needed anyway


def ride(basis: Basis, order: Order, *, seconds: float | None, seed: int = 0) -> Riding | None:
    """Solve the run again with the order in it.

    Parameters
    ----------
    basis
        The run as planned.
    order
        The enquiry as an order.
    seconds
        The longest search.

    Returns
    -------
    Riding or None
        None where no plan with the order was found in time, or there is none.
    """
    making, cuts = basis.making, basis.cuts
    run = replace(making.run, orders=(*making.run.orders, order))
    listed = [(c.core_mm, c.length_m) for c in making.classes]
    own = prepare(replace(making.run, orders=(order,)), basis.mill)
    wanted = [(c.core_mm, c.length_m) for c in own.classes]
    after = prepare(run, basis.mill, lengths=dict.fromkeys([*listed, *wanted]))
    if order.number not in {o.number for o in after.run.orders}:
        return None
    outcome = solve(
        after.instance,
        limits=Limits(seconds=seconds),
        seed=seed,
        start=_start(basis, own, after),
    )
    if not outcome.cuts:
        return None
    return _compared(basis, after, outcome, cuts, order)


def _start(basis: Basis, own: Making, after: Making) -> tuple[Cut, ...]:
    """The run's cuts and sets of nothing but the enquiry: poor, but whole."""
    alone = solve(own.instance, limits=Limits(seconds=0.3))
    start = (
        *carried_over(basis.cuts, basis.making, after),
        *carried_over(alone.cuts, own, after),
    )
    return () if faults_of(after.instance, start) else start


def _metres(making: Making, cuts: tuple[Cut, ...]) -> int:
    return sum(making.classes[cut.pattern.winding_class].length_m * cut.sets for cut in cuts)


def _trim(basis: Basis, making: Making, cuts: tuple[Cut, ...]) -> float:
    """(edge trim + pattern trim) / web wound."""
    wound = useful = Fraction(0)
    for cut in cuts:
        metres = making.classes[cut.pattern.winding_class].length_m * cut.sets
        wound += basis.mill.jumbo.width_mm * metres
        useful += metres * sum(making.options[k].width_mm * n for k, n in cut.pattern.pieces)
    return float(1 - useful / wound) if wound else 0.0


def _compared(
    basis: Basis, after: Making, outcome: Outcome, cuts: tuple[Cut, ...], order: Order
) -> Riding:
    before = basis.making
    place = next(k for k, o in enumerate(after.run.orders) if o.number == order.number)
    area = sum(
        after.options[k].area * n * cut.sets
        for cut in outcome.cuts
        for k, n in cut.pattern.pieces
        if after.instance.options[k].demand == place
    )
    gsm = after.run.grammage_gsm
    delivered_kg = kg_of_area(area, gsm, after.unit_mm)
    loss_before = loss_kg(before, loss_of(before.instance, cuts))
    loss_after = loss_kg(after, loss_of(after.instance, outcome.cuts))
    bound_before = loss_kg(before, basis.bound)
    carried = enquiry_bound(basis, after, order.number)
    bound = outcome.bound if carried is None else max(outcome.bound, carried)
    bound_after = loss_kg(after, bound)
    extra_m = _metres(after, outcome.cuts) - _metres(before, cuts)
    width_mm = float(basis.mill.jumbo.width_mm)

    def use(loss_more: float) -> float:
        return (loss_more + delivered_kg) / delivered_kg if delivered_kg else 0.0

    rides = tuple(_riding_set(basis, after, cut, place) for cut in outcome.cuts)
    return Riding(
        extra_m=extra_m,
        extra_kg=width_mm * extra_m * gsm / 1e6,
        delivered_kg=delivered_kg,
        marginal_use=use(loss_after - loss_before),
        marginal_least=use(bound_after - loss_before),
        marginal_most=use(loss_after - bound_before),
        trim_before=_trim(basis, before, cuts),
        trim_after=_trim(basis, after, outcome.cuts),
        set_ups_before=max(0, len({cut.pattern for cut in cuts}) - 1),
        set_ups_after=max(0, len({cut.pattern for cut in outcome.cuts}) - 1),
        proven_before=loss_of(before.instance, cuts) <= basis.bound,
        proven_after=loss_of(after.instance, outcome.cuts) <= bound,
        sets=tuple(row for row in rides if row.reels),
        in_planned_sets=max(
            0,
            sum(row.sets for row in rides if row.reels)
            - max(0, sum(c.sets for c in outcome.cuts) - sum(c.sets for c in cuts)),
        ),
    )


def _riding_set(basis: Basis, after: Making, cut: Cut, place: int) -> RidingSet:
    winding = after.classes[cut.pattern.winding_class]
    across = tuple(
        (after.options[k].order.number, after.options[k].width_mm, n) for k, n in cut.pattern.pieces
    )
    return RidingSet(
        sets=cut.sets,
        core_mm=winding.core_mm,
        length_m=winding.length_m,
        across=across,
        reels=sum(n for k, n in cut.pattern.pieces if after.instance.options[k].demand == place),
        trim_mm=basis.mill.deckle_mm - sum(width * n for _, width, n in across),
    )
