"""The enquiry put into its run as planned, where sets stay as they are: the quick answer."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from trimopt.book.model import Order, Unit
from trimopt.budget import Budget
from trimopt.cutting import Cut, loss_of, patterns_in
from trimopt.cutting.insertion import Insertion, insert_demand
from trimopt.cutting.model.cuts import totals_of
from trimopt.cutting.model.loss import net_worth
from trimopt.fit.extra_paper import use_of
from trimopt.fit.planned_run import Basis, carried_over, with_order
from trimopt.making import CutOption, PreparedRun, kg_of_area


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedSet:
    """Sets in which the enquiry is made, and what lies across them."""

    sets: int
    core_mm: float | None
    length_m: int  # of the longest of them
    min_length_m: int
    diameter_mm: float  # of the enquiry's reels in the longest
    across: tuple[tuple[str, Fraction, int], ...]  # order, reel width, how many
    reels: int  # of the enquiry, in one set
    trim_mm: Fraction  # of the deckle


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """The enquiry in the run as planned, whose sets stay where they can: an estimate.

    Counted across the width at the listed set lengths, before winding. `use` is the extra paper
    (`trimopt.fit.extra_paper`) as far as that is known. `extra_m` are jumbo metres wound more, and
    `set_ups_more` set-ups.
    """

    extra_m: int
    sets_more: int
    set_ups_more: int
    delivered_kg: float
    surplus_kg: float  # of the enquiry, beyond what it may get
    companion_kg: float  # made for stock beside it
    others_kg: float  # that the other orders get more (less: below 0), inside their tolerances
    others_surplus: tuple[tuple[str, float], ...]  # order, kg made more beyond its tolerance
    use: float
    sets: tuple[PlacedSet, ...]
    sets_kept: int  # planned sets that stay as they are
    sets_planned: int
    lengths_more: tuple[tuple[int, int], ...]  # set length m, sets more of it (fewer: below 0)

    @property
    def reels(self) -> int:
        return sum(row.sets * row.reels for row in self.sets)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldSets:
    """What may be cut with the enquiry in the run, and cuts that hold the planned sets."""

    making: PreparedRun
    cuts: tuple[Cut, ...]
    bound: int | None  # on the loss over the listed set lengths

    def needs_sales(self, number: str) -> tuple[float, float] | None:
        """Kilograms of whole reels below and above an order that none meets; None: some do."""
        notes = (note for note in self.making.needs_sales if note.order == number)
        return next(((note.below_kg or 0.0, note.above_kg or 0.0) for note in notes), None)


def place_enquiry(
    basis: Basis,
    order: Order,
    *,
    budget: Budget,
    companions: tuple[Order, ...] = (),
) -> Placement | None:
    """Put the order into the plan: planned sets stay where they can.

    Parameters
    ----------
    companions
        What may be made for stock beside it, up to its quantity, and need not be.

    Returns
    -------
    Placement or None
        None where no plan with the order was found in time, or there is none.
    """
    held = hold_sets(basis, order, budget=budget, companions=companions)
    return None if held is None else placement_of(basis, held, order, companions)


def hold_sets(
    basis: Basis,
    order: Order,
    *,
    budget: Budget,
    seed: int = 0,
    companions: tuple[Order, ...] = (),
) -> HeldSets | None:
    """The cuts of `place_enquiry`."""
    making = basis.making
    after = _optional(
        with_order(basis, order, beside=companions), {companion.number for companion in companions}
    )
    place = {o.number: k for k, o in enumerate(after.run.orders)}
    if order.number not in place:
        return None
    joined = insert_demand(
        Insertion(
            instance=after.instance,
            demand=place[order.number],
            kept=carried_over(basis.cuts, making, after),
            charges=tuple(limits.cost for limits in basis.with_butt_costs(after).classes),
            set_up=float(after.loss_units(basis.objective.set_up_kg)),
            drawn_in=basis.drawn_in,
        ),
        budget=budget,
        seed=seed,
    )
    return HeldSets(making=after, cuts=joined.cuts, bound=joined.bound) if joined.cuts else None


def _optional(making: PreparedRun, numbers: set[str]) -> PreparedRun:
    """The making in which some orders need not be made: nothing is lost where they are not."""
    demands = tuple(
        replace(demand, low=0, ordered=None, under_price=0, over_price=0)
        if order.number in numbers
        else demand
        for order, demand in zip(making.run.orders, making.instance.demands, strict=True)
    )
    return replace(making, instance=replace(making.instance, demands=demands))


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


def placement_of(
    basis: Basis, held: HeldSets, order: Order, companions: tuple[Order, ...] = ()
) -> Placement:
    """What cuts that hold the planned sets come to."""
    after = held.making
    delivered_kg, surplus_kg = _net_kg(after, held.cuts, {order.number})
    companion_kg, _ = _net_kg(after, held.cuts, {other.number for other in companions})
    others = {order.number for order in basis.making.run.orders}
    others_then_kg, _ = _net_kg(basis.making, basis.cuts, others)
    others_now_kg, _ = _net_kg(after, held.cuts, others)
    # The engine takes back the heaviest reel for one too many; no less than the range is got.
    delivered_kg = max(delivered_kg, may_get_kg(after, order.number, wound=False)[0])
    more_kg = after.loss_kg(loss_of(after.instance, held.cuts)) - basis.making.loss_kg(
        loss_of(basis.making.instance, basis.cuts)
    )
    stays = {cut.pattern: cut.sets for cut in carried_over(basis.cuts, basis.making, after)}
    placed = tuple(_placed_set(basis, after, cut, order.number) for cut in held.cuts)
    lengths = _lengths(after, held.cuts), _lengths(basis.making, basis.cuts)
    return Placement(
        extra_m=_metres(lengths[0]) - _metres(lengths[1]),
        sets_more=lengths[0].total() - lengths[1].total(),
        set_ups_more=patterns_in(after.instance, held.cuts)
        - patterns_in(basis.making.instance, basis.cuts),
        delivered_kg=delivered_kg,
        surplus_kg=surplus_kg,
        companion_kg=companion_kg,
        others_kg=others_now_kg - others_then_kg,
        others_surplus=_surplus(basis, held),
        use=use_of(basis, more_kg, (delivered_kg,))[0],
        sets=tuple(row for row in placed if row.reels),
        sets_kept=sum(min(cut.sets, stays.get(cut.pattern, 0)) for cut in held.cuts),
        sets_planned=sum(cut.sets for cut in basis.cuts),
        lengths_more=_more(*lengths),
    )


def _surplus(basis: Basis, held: HeldSets) -> tuple[tuple[str, float], ...]:
    """Orders of the plan of which more lies beyond the tolerance than before, and kilograms."""
    found = []
    for order in basis.making.run.orders:
        _, then_kg = _net_kg(basis.making, basis.cuts, {order.number})
        _, now_kg = _net_kg(held.making, held.cuts, {order.number})
        if now_kg > then_kg:
            found.append((order.number, now_kg - then_kg))
    return tuple(found)


def may_get_kg(making: PreparedRun, number: str, *, wound: bool = True) -> tuple[float, float]:
    """Min. and max. kilograms of an order that its tolerance allows.

    Of counted reels they are of the lengths that these may be wound to, or not yet `wound`, of
    those that are listed.
    """
    place = next(k for k, order in enumerate(making.run.orders) if order.number == number)
    demand = making.instance.demands[place]
    areas = [
        Fraction(offered.worth, offered.gain) * share
        for offered, option in zip(making.instance.options, making.options, strict=True)
        if offered.demand == place
        for share in (_shares_of_area(option, making) if wound else (1,))
    ]
    high = demand.low if demand.high is None else max(demand.low, demand.high)
    gsm, unit_mm = making.run.grammage_gsm, making.unit_mm
    min_area, max_area = floor(demand.low * min(areas)), ceil(high * max(areas))
    return kg_of_area(min_area, gsm, unit_mm), kg_of_area(max_area, gsm, unit_mm)


def _shares_of_area(option: CutOption, making: PreparedRun) -> tuple[Fraction, ...]:
    """A reel's area at its shortest and longest, as shares of that at its listed length.

    Only of counted reels: by mass, metres or sheets an order gets the same at every length.
    """
    if option.order.unit is not Unit.REELS:
        return (Fraction(1),)
    listed_m = making.classes[option.winding_class].length_m
    return Fraction(option.min_m, listed_m), Fraction(option.max_m, listed_m)


def _metres(lengths: Counter[int]) -> int:
    return sum(metres * sets for metres, sets in lengths.items())


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
    own = (after.options[k] for k, _ in cut.pattern.pieces)
    cores_mm = [option.core_mm for option in own if option.order.number == number]
    return PlacedSet(
        sets=cut.sets,
        core_mm=winding.core_mm,
        length_m=winding.length_m,
        min_length_m=winding.length_m,
        diameter_mm=basis.mill.winder.reel_mm(winding.length_m, cores_mm, after.wound_caliper_um),
        across=across,
        reels=sum(n for name, _, n in across if name == number),
        trim_mm=basis.mill.deckle_mm - sum(width * n for _, width, n in across),
    )
