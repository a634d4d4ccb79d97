"""The bound, proven again from the plan's whole-number prices with a plain table.

Loss is counted in 1/`SCALE` of an area unit (`Proof.width_unit_mm` × 1 m). For prices g (a unit of
gain) and w (a unit of worth) of each order, both over `Proof.scale`, the loss of every plan over
the listed set lengths is at least Σ floor, rounded up, when

(A) no set that the winder allows is worth more at these prices than it costs
    (`trimopt.check.max_set_value`);
(B) making more than an order's upper limit does not pay: for the least and the greatest worth a
    unit of gain, r, of its reels, g + w·r + (SCALE − over)·(surplus worth − r) >= 0.

The floor of an order is the least of g·made + w·worth + F(worth) inside its range, at the corners
and where worth meets the ordered paper; F is what the worth takes off the loss and what the values
of paper under and over the ordered quantity add.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import Order, Product
from trimopt.check.check_formulas import (
    JUDGED_MM,
    Gain,
    Need,
    deckle_mm,
    diameter_limits_mm,
    exact,
    kg_of,
    mass_limit_kg,
    need_of,
    ordered_units,
    piece_gain,
    same_core,
    sheeter_reel_mm,
    stations,
    web_diameter_mm,
)
from trimopt.check.findings import Findings
from trimopt.check.max_set_value import PricedReel, SetLimits, max_pattern_value
from trimopt.mill.model import Mill, Sheeter
from trimopt.plan.model import Block, RunPlan, SetRow
from trimopt.plan.proof_data import SetLength

SCALE = 1000
_SLIP = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedPiece:
    """A reel that may lie in a set of a class: for whom, how wide, and what it gives."""

    order: int  # position in `RunPlan.orders`
    winding_class: int  # position in `RunPlan.set_lengths`
    width_mm: Fraction
    gain: int
    worth: int
    no_edge: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedDemand:
    """An order as the loss sees it, in area units; prices in 1/SCALE."""

    need: Need
    ordered: int
    under_price: int
    over_price: int
    min_ratio: Fraction | None  # worth a unit of gain, over its pieces; None: no piece
    max_ratio: Fraction | None
    taken_back: int = 1  # times its worth, of what is beyond the limit: 10 of a stock width

    @property
    def surplus_worth(self) -> int:
        """Worth taken back for each unit of gain above the upper limit."""
        return 0 if self.max_ratio is None else self.taken_back * math.ceil(self.max_ratio)

    def loss(self, worth: Fraction | int) -> Fraction:
        """What a net worth gives to the loss."""
        short, beyond = max(0, self.ordered - worth), max(0, worth - self.ordered)
        return Fraction(-SCALE * worth + self.under_price * short + self.over_price * beyond)


def _fits(
    order: Order,
    mill: Mill,
    row: SetLength,
    width_mm: Fraction,
    sheeter: Sheeter | None,
) -> bool:
    """Whether a reel of the order may be wound to this length on the class's core or any core."""
    winder = mill.winder
    grade = mill.grade(order.grade)
    widest = min(winder.max_reel_width_mm, mill.deckle_mm)
    if grade is None or not winder.min_reel_width_mm <= width_mm <= widest:
        return False
    wanted = sheeter.core_inside_mm if sheeter is not None else order.core_mm
    limit = mass_limit_kg(order, winder)
    if limit is not None:
        mass = float(kg_of(width_mm, row.length_m, order.grammage_gsm))
        if mass > limit + _SLIP:
            return False
    min_mm, max_mm = diameter_limits_mm(order, winder, sheeter)
    caliper_um = grade.wound_caliper_um(order.grammage_gsm)
    for core in winder.cores:
        if row.core_mm is not None and not same_core(core.inside_mm, row.core_mm):
            continue
        if wanted is not None and not same_core(core.inside_mm, wanted):
            continue
        found = web_diameter_mm(core, row.length_m, caliper_um)
        if min_mm - JUDGED_MM - _SLIP <= found <= max_mm + JUDGED_MM + _SLIP:
            return True
    return False


def pieces_of(run: RunPlan, mill: Mill, orders: Sequence[Order]) -> tuple[PricedPiece, ...]:
    """Every reel that may be made in every class, for orders in the order of `run.orders`.

    Where two sheeters give one width for the same order, the one with more sheets counts.
    """
    unit_mm = run.proof.width_unit_mm
    found: dict[tuple[int, int, Fraction], PricedPiece] = {}
    widths = [_widths(order, mill) for order in orders]
    reels: dict[tuple[float | None, int], list[tuple[int, Fraction, Gain]]] = {}
    for c, row in enumerate(run.set_lengths):
        if row.length_m < 1:
            continue
        # Of the heaviest set. On other jumbos lies what lies on those of the run's width.
        web_mm = min(
            _set_limits(run, mill, each).width_mm
            for each in (row, replace(row, jumbo_width_mm=None))
        )
        length = row.core_mm, row.length_m
        if length not in reels:
            reels[length] = list(_reels_of(row, mill, orders, widths, unit_mm))
        for i, width_mm, gives in reels[length]:
            held = found.get((i, c, width_mm))
            if width_mm <= web_mm and (held is None or gives.gain > held.gain):
                found[i, c, width_mm] = PricedPiece(
                    order=i,
                    winding_class=c,
                    width_mm=width_mm,
                    gain=gives.gain,
                    worth=gives.worth,
                    no_edge=orders[i].no_edge,
                )
    return tuple(found.values())


def _reels_of(
    row: SetLength,
    mill: Mill,
    orders: Sequence[Order],
    widths: Sequence[Sequence[tuple[Fraction, int | None, Sheeter | None]]],
    unit_mm: Fraction,
) -> Iterator[tuple[int, Fraction, Gain]]:
    """Reels of this length on its core, on any jumbo: order, width, and what one gives."""
    for i, order in enumerate(orders):
        for width_mm, ups, sheeter in widths[i]:
            if _fits(order, mill, row, width_mm, sheeter):
                gives = piece_gain(
                    order,
                    width_mm=width_mm,
                    ups=ups,
                    sheeter=sheeter,
                    length_m=row.length_m,
                    unit_mm=unit_mm,
                )
                if gives.gain > 0:
                    yield i, width_mm, gives


def _widths(order: Order, mill: Mill) -> list[tuple[Fraction, int | None, Sheeter | None]]:
    if order.product is Product.REEL:
        return [(order.width_mm, None, None)]
    widths: list[tuple[Fraction, int | None, Sheeter | None]] = []
    for sheeter in mill.sheeters:
        if order.chop_mm is None:
            continue
        if not sheeter.min_chop_mm <= order.chop_mm <= sheeter.max_chop_mm:
            continue
        for ups in range(1, sheeter.max_ups + 1):
            width_mm = sheeter_reel_mm(order, ups, sheeter)
            if width_mm <= sheeter.max_web_mm:
                widths.append((width_mm, ups, sheeter))
    return widths


def demands_of(
    run: RunPlan, mill: Mill, orders: Sequence[Order], pieces: Sequence[PricedPiece]
) -> tuple[PricedDemand, ...]:
    """The orders in area units, with the span of worth a unit of gain over their pieces."""
    unit_mm = run.proof.width_unit_mm
    demands = []
    for i, order in enumerate(orders):
        ratios = [Fraction(piece.worth, piece.gain) for piece in pieces if piece.order == i]
        share = order.stock_share
        demands.append(
            PricedDemand(
                need=need_of(order, unit_mm),
                ordered=ordered_units(order, mill, unit_mm),
                under_price=0 if share is not None else round(mill.values.under * SCALE),
                over_price=math.ceil((mill.values.over if share is None else 1 - share) * SCALE),
                taken_back=1 if share is None else 10,
                min_ratio=min(ratios, default=None),
                max_ratio=max(ratios, default=None),
            )
        )
    return tuple(demands)


def loss_units(
    run: RunPlan, mill: Mill, orders: Sequence[Order], demands: Sequence[PricedDemand]
) -> Fraction:
    """The loss of the plan's patterns at their nominal set lengths, in 1/SCALE area units.

    Sets that were lengthened or shortened afterwards to save a butt do not change it: the bound is
    over the listed lengths, and so is the loss beside it. Spoiled reels take paper, give nothing.
    """
    loss, made, worth = _of_sets(run, mill, orders, lambda block: block.sets)
    for i, demand in enumerate(demands):
        surplus = max(0, made[i] - demand.need.high)
        loss += demand.loss(worth[i] - demand.surplus_worth * surplus)
    return loss


def ran_units(run: RunPlan, mill: Mill, orders: Sequence[Order]) -> int:
    """By how much sets that were run lose more than the prices say that any set does at the least.

    In 1/SCALE area units, at their nominal lengths. No plan that goes on from them is without it.
    Sets off jumbos of another width are left out: `price_bound_units` has them by the metre.
    """
    proof, count = run.proof, len(orders)

    def done(block: Block) -> list[SetRow]:
        return [row for row in block.sets if row.done and block.jumbo_width_mm is None]

    area, made, worth = _of_sets(run, mill, orders, done)
    gains, worths = proof.gain_price or (0,) * count, proof.worth_price or (0,) * count
    value = sum(gains[i] * made[i] + worths[i] * worth[i] for i in range(count))
    return math.floor(area - Fraction(value, proof.scale))


def _of_sets(
    run: RunPlan,
    mill: Mill,
    orders: Sequence[Order],
    rows_of: Callable[[Block], Sequence[SetRow]],
) -> tuple[Fraction, list[int], list[int]]:
    """Of some sets of each block: their area in 1/SCALE units, what each order gains, its worth."""
    unit_mm = run.proof.width_unit_mm
    place = {order.number: i for i, order in enumerate(orders)}
    area, made, worth = Fraction(0), [0] * len(orders), [0] * len(orders)
    for block in run.blocks:
        rows = rows_of(block)
        area += SCALE * run.web_mm(block) / unit_mm * block.length_m * len(rows)
        for position in block.positions if rows else ():
            i = place.get(position.order)
            if position.kind == "broke" or i is None:
                continue
            gives = piece_gain(
                orders[i],
                width_mm=position.width_mm,
                ups=position.ups,
                sheeter=mill.sheeter(position.sheeter),
                length_m=block.length_m,
                unit_mm=unit_mm,
            )
            good = sum(position.number not in row.spoiled for row in rows)
            made[i] += gives.gain * good
            worth[i] += gives.worth * good
    return area, made, worth


def price_bound_units(
    run: RunPlan,
    mill: Mill,
    demands: Sequence[PricedDemand],
    pieces: Sequence[PricedPiece],
    notes: Findings,
) -> int | None:
    """The bound that the exported prices prove, in 1/SCALE area units; None where they prove none.

    Without prices the bound is that of prices of 0.
    """
    proof = run.proof
    where = "proof"
    gains, worths = proof.gain_price, proof.worth_price
    if not gains and not worths:
        gains = worths = (0,) * len(demands)
    if len(gains) != len(demands) or len(worths) != len(demands) or proof.scale < 1:
        notes.add(
            where, "prices: one of each kind an order", (len(gains), len(worths)), len(demands)
        )
        return None
    least = _least_of_sets(run, mill, pieces, (gains, worths), notes)
    if least is None:
        return None
    total = Fraction(0)
    for i, demand in enumerate(demands):
        g, w = Fraction(gains[i], proof.scale), Fraction(worths[i], proof.scale)
        if not _surplus_does_not_pay(demand, g, w):
            notes.add(
                where, "prices: making too much does not pay", run.orders[i].number, "it would pay"
            )
            return None
        total += _floor(demand, g, w)
    return math.ceil(total) + _off_other_jumbos(run, least)


def _least_of_sets(
    run: RunPlan,
    mill: Mill,
    pieces: Sequence[PricedPiece],
    prices: tuple[Sequence[int], Sequence[int]],
    notes: Findings,
) -> Mapping[Fraction, Fraction] | None:
    """What a metre off jumbos of each other width adds to the loss at the least, by width.

    None where some set off the run's own is worth more than it costs: the prices prove nothing.
    """
    gains, worths = prices
    proof = run.proof
    least: dict[Fraction, Fraction] = {}
    for row_number, row in enumerate(run.set_lengths):
        if row.length_m < 1:
            return None  # noted with the set lengths
        priced = [
            PricedReel(
                width_mm=piece.width_mm,
                value=gains[piece.order] * piece.gain + worths[piece.order] * piece.worth,
                no_edge=piece.no_edge and row.jumbo_width_mm is None,
            )
            for piece in pieces
            if piece.winding_class == row_number
        ]
        web_mm = row.jumbo_width_mm or run.jumbo_width_mm
        cost = SCALE * web_mm / proof.width_unit_mm * row.length_m * proof.scale
        best = max_pattern_value(priced, _set_limits(run, mill, row))
        if row.jumbo_width_mm is not None:
            more = (cost - best) / proof.scale / row.length_m
            least[web_mm] = min(more, least.get(web_mm, more))
        elif best > cost:
            what = f"prices: no set of {row.length_m} m is worth more than it costs"
            notes.add("proof", what, float(cost), float(best))
            return None
    return least


def _off_other_jumbos(run: RunPlan, least: Mapping[Fraction, Fraction]) -> int:
    """What sets off jumbos of other widths add to the loss at the least, for the metres of these.

    Rounded down, it and the rest rounded up are no more than the two together rounded up.
    """
    more = Fraction(0)
    for block in run.blocks:
        if block.jumbo_width_mm is not None:
            metres = block.length_m * len(block.sets)
            more += metres * least.get(block.jumbo_width_mm, Fraction(0))
    return math.floor(more)


def _set_limits(run: RunPlan, mill: Mill, row: SetLength) -> SetLimits:
    """What a set of this length may hold: of the deckle, or of what the set mass allows."""
    winder = mill.winder
    web_mm = row.jumbo_width_mm or run.jumbo_width_mm
    width_mm = deckle_mm(web_mm, winder)
    if winder.max_set_mass_kg is not None:
        mass = exact(winder.max_set_mass_kg) * 1_000_000
        width_mm = min(width_mm, mass / (exact(run.grammage_gsm) * row.length_m))
    strip_mm = None
    # On other jumbos the bound takes every choice of reels that fits.
    if winder.max_edge_trim_mm is not None and row.jumbo_width_mm is None:
        min_mm = max(Fraction(0), run.jumbo_width_mm - 2 * winder.max_edge_trim_mm)
        strip_mm = max(Fraction(0), width_mm - min_mm)
    return SetLimits(
        width_mm=width_mm,
        strip_mm=strip_mm,
        min_broke_mm=winder.narrowest_broke_mm,
        max_broke_mm=winder.max_reel_width_mm,
        stations=stations(winder),
    )


def _surplus_does_not_pay(demand: PricedDemand, g: Fraction, w: Fraction) -> bool:
    if demand.min_ratio is None or demand.max_ratio is None:
        return True
    return all(
        g + w * r + (SCALE - demand.over_price) * (demand.surplus_worth - r) >= 0
        for r in (demand.min_ratio, demand.max_ratio)
    )


def _floor(demand: PricedDemand, g: Fraction, w: Fraction) -> Fraction:
    if demand.min_ratio is None or demand.max_ratio is None:
        return demand.loss(0)
    low, high = demand.need.low, demand.need.high
    ratios = (demand.min_ratio, demand.max_ratio)
    points = [(Fraction(made), r * made) for made in (low, high) for r in ratios]
    wanted = Fraction(demand.ordered)
    points += [
        (Fraction(made), wanted)
        for made in (low, high)
        if ratios[0] * made <= wanted <= ratios[1] * made
    ]
    points += [(wanted / r, wanted) for r in ratios if r > 0 and low <= wanted / r <= high]
    return min(g * made + w * worth + demand.loss(worth) for made, worth in points)
